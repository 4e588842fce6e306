"""Two revisions of a build on the terminal: what is printed anew, bought more, found now."""

from rich.console import Console
from rich.text import Text

from buildplan.bill import Changes, PartChange
from buildplan.report import numbers
from buildplan.report.terminal import sign, table

WHY = {"mesh": "another mesh", "quantity": "another count", "how": "printed in another way"}


def print_changes(to: Console, changes: Changes, currency: str, marks: tuple[str, str]) -> None:
    """One sentence, then the parts, the lines of the bill and the checks that differ."""
    to.print(
        Text.assemble(
            (changes.before, "head"),
            f" ({marks[0]}) -> ",
            (changes.after, "head"),
            f" ({marks[1]})",
        )
    )
    to.print(Text.assemble(sign(None), "  ", (changes_sentence(changes, currency), "head")))
    to.print()
    if changes.parts:
        _print_parts(to, changes, currency)
    if changes.lines:
        _print_lines(to, changes, currency)
    for check in changes.checks:
        before, after = check.before or "nothing to look at", check.after or "nothing to look at"
        to.print(
            Text.assemble((check.name.replace("_", " "), "head"), f"  was {before}; is {after}")
        )


def changes_sentence(changes: Changes, currency: str) -> str:
    """What the change costs, in hours printed anew and money."""
    if changes.same:
        renamed = [one for one in changes.parts if one.kind == "renamed"]
        more = f"; {numbers.count(len(renamed), 'part')} only got another name" if renamed else ""
        return f"Nothing changes{more}."
    anew = [
        one for one in changes.parts if one.kind == "added" or {"mesh", "how"} & set(one.differs)
    ]
    names = ", ".join(one.name.replace("_", " ") for one in anew)
    hours = numbers.plain(numbers.hours(changes.reprint_h))
    prints = f"Print anew: {names}, {hours}" if anew else "Nothing is printed anew"
    bill = signed(float(changes.lines_cost), 2)
    return f"{prints}; the bill changes by {bill} {currency}."


def signed(value: float, digits: int) -> str:
    """A difference with its sign; 0 without one."""
    text = numbers.plain(numbers.num(value, digits))
    return f"+{text}" if value > 0.0 and any(c in "123456789" for c in text) else text


def _print_parts(to: Console, changes: Changes, currency: str) -> None:
    made = table(
        ("part", "", False),
        ("what happened", "", False),
        ("hours", "h", True),
        ("mass", "g", True),
        ("printing", currency, True),
    )
    for one in changes.parts:
        made.add_row(
            Text(one.name.replace("_", " "), style="head"),
            _why(one),
            signed(one.time_h, 1),
            signed(one.mass_g, 0),
            signed(float(one.cost), 2),
        )
    to.print(made)
    to.print()


def _why(one: PartChange) -> str:
    if one.kind == "renamed":
        return f"was called {one.was.replace('_', ' ')}"
    if one.kind != "changed":
        return one.kind
    said = [WHY[key] for key in one.differs] or ["prices or speeds"]
    return ", ".join(said)


def _print_lines(to: Console, changes: Changes, currency: str) -> None:
    made = table(
        ("to buy", "", False),
        ("what happened", "", False),
        ("packs", "", True),
        ("cost", currency, True),
    )
    for line in changes.lines:
        made.add_row(line.item, line.kind, signed(line.packs, 0), signed(float(line.cost), 2))
    to.print(made)
    to.print()
