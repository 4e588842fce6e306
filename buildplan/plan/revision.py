"""A plan as one revision that another can be held against, and its short mark."""

from buildplan.bill import LineRow, PartRow, Revision, cents, revision_mark
from buildplan.findings import Finding, Severity, worst
from buildplan.plan.model import Plan, chosen_option
from buildplan.plan.takes import pieces_of, takes_of


def revision_of(plan: Plan) -> Revision:
    """Parts, lines and gravest findings of a plan, all copies of a part together."""
    parts = []
    for item in plan.parts:
        takes = takes_of(item, plan.splits)
        pieces = pieces_of(item, plan.splits)
        whole = "whole" if pieces is None else f"in {len(pieces.pieces)} pieces"
        option = chosen_option(item)
        how = f"{option.printer}, {item.feedstock.key}, {item.recipe.key}, {whole}"
        if item.sent is not None:
            how = f"made by {item.sent.service}, {item.feedstock.key}"
        parts.append(
            PartRow(
                name=item.name,
                mesh=item.part.key,
                quantity=item.quantity,
                how=how,
                time_h=item.quantity * takes.time_h.likely,
                mass_g=item.quantity * takes.mass_g.likely,
                cost=cents(item.quantity * takes.cost),
            )
        )
    lines: dict[str, LineRow] = {}
    for line in plan.bill:
        item_name = line.wanted.item
        if item_name in lines:
            item_name = f"{item_name} ({line.wanted.used_in})"
        lines[item_name] = LineRow(item=item_name, packs=line.packs, cost=line.cost)
    name = f"{plan.name} {plan.revision}".strip()
    return Revision(
        name=name, parts=tuple(parts), lines=tuple(lines.values()), checks=_checks(plan)
    )


def mark_of(plan: Plan, letters: int = 4) -> str:
    """A short mark of what is printed: the same meshes and settings give the same letters.

    Raises:
        InputError: Fewer than 2 or more than 12 letters.
    """
    return revision_mark(
        [f"{row.mesh} {row.quantity} {row.how}" for row in revision_of(plan).parts], letters
    )


def _checks(plan: Plan) -> dict[str, str]:
    """The gravest finding of every part and of the device, notes left out."""
    found = {item.name: _gravest(item.findings) for item in plan.parts}
    if plan.device is not None:
        found["device"] = _gravest(plan.device.findings)
    return {name: text for name, text in found.items() if text}


def _gravest(findings: tuple[Finding, ...]) -> str:
    severity: Severity | None = worst(findings)
    if severity is None or severity == "note":
        return ""
    first = next(finding for finding in findings if finding.severity == severity)
    return f"{severity}: {first.what}"
