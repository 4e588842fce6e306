"""Lines of the bill that write themselves: from holes, tables and what the parts are made of."""

from buildplan.bill.derived.consumables import (
    Bond,
    VatPart,
    bond_needs,
    vat_needs,
    wiring_needs,
)
from buildplan.bill.derived.cover import Covered, Item, Split, find_item, split_needs
from buildplan.bill.derived.electrics import cooling_needs, fuse_needs, part_needs, runs_of
from buildplan.bill.derived.fixings import Sized, fixing_findings, fixing_needs, size_fixings
from buildplan.bill.derived.lines import (
    Share,
    cover_findings,
    lines_of,
    price_finding,
    share_lines,
    spare_finding,
    spare_lines,
    tool_finding,
)
from buildplan.bill.derived.model import Need, mark_of_rows
from buildplan.bill.derived.screws import (
    Grip,
    ScrewChoice,
    choose_screw,
    lengths_named,
    screw_name,
)
from buildplan.bill.derived.shape import Hardware, read_hardware
from buildplan.bill.derived.spares import SpareAnswer, SpareCase, fail_frac_of, judge_spare, paying
from buildplan.bill.derived.stacks import Fixing, Hole, Seat, find_fixings
from buildplan.bill.derived.tools import (
    Tool,
    missing_tools,
    tool_needs,
    tool_words,
    tools_for,
)
from buildplan.bill.derived.wires import Run, cut_m, plug_needs, reel_m, wire_needs

__all__ = [
    "Bond",
    "Covered",
    "Fixing",
    "Grip",
    "Hardware",
    "Hole",
    "Item",
    "Need",
    "Run",
    "ScrewChoice",
    "Seat",
    "Share",
    "Sized",
    "SpareAnswer",
    "SpareCase",
    "Split",
    "Tool",
    "VatPart",
    "bond_needs",
    "choose_screw",
    "cooling_needs",
    "cover_findings",
    "cut_m",
    "fail_frac_of",
    "find_fixings",
    "find_item",
    "fixing_findings",
    "fixing_needs",
    "fuse_needs",
    "judge_spare",
    "lengths_named",
    "lines_of",
    "mark_of_rows",
    "missing_tools",
    "part_needs",
    "paying",
    "plug_needs",
    "price_finding",
    "read_hardware",
    "reel_m",
    "runs_of",
    "screw_name",
    "share_lines",
    "size_fixings",
    "spare_finding",
    "spare_lines",
    "split_needs",
    "tool_finding",
    "tool_needs",
    "tool_words",
    "tools_for",
    "vat_needs",
    "wire_needs",
    "wiring_needs",
]
