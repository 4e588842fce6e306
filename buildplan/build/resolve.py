"""A build file's data -> Build: names looked up, contradictions found, all faults at once."""

import copy
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from buildplan.bill.derived.shape import read_hardware
from buildplan.build.buying import currency_fault, read_bought, read_rates, read_shops
from buildplan.build.decisions import read_decisions
from buildplan.build.faults import name_faults, names_in
from buildplan.build.model import Build
from buildplan.build.own_tables import read_tables
from buildplan.build.parts import Context, read_parts
from buildplan.build.shape import DEVICE_TABLES, LATER_TABLES, BuildTable
from buildplan.device.chain.shape import read_device
from buildplan.errors import BuildFileError
from buildplan.tables.loader import faults_text
from buildplan.tables.printer import Printer
from buildplan.tables.rows import KINDS, Kind, Table, find_row, is_spoilt
from buildplan.tables.strict import Fault, content_faults, read_record
from buildplan.tables.wording import not_known, show

DECISION_KEYS = ("attended", "unattended", "assembly", "claim", "service", "quote", "choice")
TOP_KEYS = (
    "build",
    *KINDS,
    "part",
    "bought",
    "supplier",
    *DECISION_KEYS,
    *LATER_TABLES,
)


def resolve_build(
    data: Mapping[str, Any], *, path: Path, text: str = "", sha256: str = ""
) -> Build:
    """The build that the data of a build file describe.

    Args:
        data: As tomllib gives it.
        path: The build file; files named in it are looked for from its folder.
        text: Its text, to name lines in messages.
        sha256: Of its bytes.

    Raises:
        BuildFileError: One line for every fault: file, line, table, key, value found, what is
            allowed, near name.
    """
    faults = [
        Fault(path=(key,), text=not_known("the key", key, TOP_KEYS))
        for key in data
        if key not in TOP_KEYS
    ]
    head, wrong = _head(data)
    faults.extend(wrong)
    tables, wrong_rows, wrong_files = read_tables(data, _own_files(data), path)
    faults.extend(wrong_rows)
    shop = _shop(data, tables, faults)
    context = Context(
        folder=path.parent,
        tables=tables,
        shop=shop,
        services=tuple(names_in(data, "service")),
        faults=faults,
    )
    parts = read_parts(data, context)
    shops = read_shops(data, faults)
    bought = read_bought(data, shops, faults)
    rates = read_rates(data, faults)
    decisions = read_decisions(data, tuple(row.name for row in shop or ()), faults)
    sections = _sections(data, faults)
    device, wrong_device = read_device(sections, _groups(data))
    faults.extend(wrong_device)
    faults.extend(_hardware_faults(sections, data))
    if faults or wrong_files or head is None or shop is None:
        said = faults_text(faults, data, text, path.name)
        raise BuildFileError("\n".join([*([said] if said else []), *wrong_files]))
    from buildplan.process.estimate import Prices

    return Build(
        path=path,
        sha256=sha256,
        name=head.name,
        about=head.about,
        revision=head.revision,
        currency=head.currency,
        data=head.data,
        prices=Prices(energy_cost_kwh=head.energy_cost_kwh, own_time_cost_h=head.own_time_cost_h),
        longest_print_h=head.longest_print_h,
        printers=shop,
        parts=parts,
        bought=bought,
        shops=shops,
        tax_frac=head.tax_frac,
        rates=rates,
        tables=tables,
        device=device,
        decisions=decisions,
        sections=sections,
    )


def _hardware_faults(sections: Mapping[str, Any], data: Mapping[str, Any]) -> tuple[Fault, ...]:
    """What is wrong in `[hardware]`; it is read again where the bill is made."""
    power = sections.get("power")
    power = power if isinstance(power, dict) else {}
    _, wrong = read_hardware(
        sections,
        bought=names_in(data, "bought"),
        loads=[*names_in(power, "load"), *names_in(power, "converter")],
        parts=names_in(data, "part"),
    )
    return wrong


def _head(data: Mapping[str, Any]) -> tuple[BuildTable | None, list[Fault]]:
    """The `[build]` table."""
    raw = data.get("build")
    if raw is None:
        return None, [Fault(path=(), text="the table [build] is missing")]
    if not isinstance(raw, dict):
        return None, [Fault(path=("build",), text=f"build must be a table, found {show(raw)}")]
    head, found = read_record(BuildTable, raw, ("build",))
    faults = list(found)
    faults.extend(name_faults(raw.get("name"), ("build", "name")))
    faults.extend(currency_fault(raw.get("currency"), ("build", "currency")))
    return head, faults


def _own_files(data: Mapping[str, Any]) -> list[str]:
    """Table files that `[build]` names, also where something else in it is wrong."""
    head = data.get("build")
    names = head.get("tables", []) if isinstance(head, dict) else []
    return [name for name in names if isinstance(name, str)] if isinstance(names, list) else []


def _shop(
    data: Mapping[str, Any], tables: Mapping[Kind, Table[Any]], faults: list[Fault]
) -> tuple[Printer, ...] | None:
    """The machines at hand, or None where one of them is not known."""
    rows = tables["printer"].rows
    head = data.get("build")
    asked = head.get("printers", []) if isinstance(head, dict) else None
    if not isinstance(asked, list):
        return None
    names = list(asked)
    if not names:
        own = data.get("printer", [])
        own = own if isinstance(own, list) else []
        names = [_label(raw) for raw in own if isinstance(raw, dict)]
    if not names:
        text = f"printers is empty. Name at least one of: {', '.join(rows)}"
        faults.append(Fault(path=("build",), text=text))
        return None
    found = [find_row(rows, name) if isinstance(name, str) else None for name in names]
    for position, (name, row) in enumerate(zip(asked, found, strict=False)):
        if row is None and isinstance(name, str) and not is_spoilt(tables["printer"], name):
            where = ("build", "printers", position)
            faults.append(Fault(path=where, text=not_known("printers", name, rows)))
    known = tuple(row for row in found if row is not None)
    return tuple(dict.fromkeys(known)) if len(known) == len(names) else None


def _label(raw: Mapping[str, Any]) -> str:
    """What a row is called: its key, else its name, else the row that it changes."""
    return str(raw.get("key", raw.get("name", raw.get("like", ""))))


def _groups(data: Mapping[str, Any]) -> dict[str, str]:
    """Moving group of every part that has a name, also of a part with other faults."""
    raws = data.get("part")
    rows = [raw for raw in raws if isinstance(raw, dict)] if isinstance(raws, list) else []
    return {str(raw.get("name")): str(raw.get("moves_with", "")) for raw in rows}


def _sections(data: Mapping[str, Any], faults: list[Fault]) -> dict[str, Any]:
    """Further sections as they stand; they must be tables and hold finite numbers only."""
    kept: dict[str, Any] = {}
    for key in LATER_TABLES:
        if key not in data:
            continue
        if not isinstance(data[key], dict):
            text = f"{key} must be a table, found {show(data[key])}. Write [{key}]"
            faults.append(Fault(path=(key,), text=text))
        if key not in DEVICE_TABLES:  # those are read, and so looked through, by read_device
            faults.extend(content_faults(data[key], (key,)))
        kept[key] = copy.deepcopy(data[key])
    return kept
