"""Which tools the derived needs take, and which of them are not at hand."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from buildplan.bill.derived.cover import words_of
from buildplan.bill.derived.model import Need, exact, listed, mark_of_rows
from buildplan.tables.hardware import Screw


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """A tool and what it is for."""

    name: str
    used_for: str


def tools_for(
    threads: Iterable[str],
    *,
    screws: Mapping[str, Screw],
    inserts: Iterable[str] = (),
    tapped: Iterable[str] = (),
    nuts: Iterable[str] = (),
    wires: bool = False,
    vat: bool = False,
) -> tuple[Tool, ...]:
    """The tools that screws, inserts, threads, nuts, wires and vat parts take.

    Args:
        threads: Threads of the screws ("M3").
        screws: Rows, for the key and the drill of each.
        inserts: Threads of the inserts.
        tapped: Threads that are cut.
        nuts: Threads of the nuts.
        wires: Whether wires are cut and soldered.
        vat: Whether something is washed and cured.

    Source: widths of keys by ISO 4762, drills before a tap thread less pitch (screws.toml).
    """
    found = [
        *(
            Tool(name=f"hex key {screws[key].socket_mm:g} mm", used_for=f"{key} screws")
            for key in sorted(set(threads) & set(screws))
        ),
        *(
            Tool(name=f"spanner for nut {key}", used_for=f"{key} nuts")
            for key in sorted(set(nuts) & set(screws))
        ),
        *(
            Tool(name=f"soldering tip for insert {key}", used_for=f"{key} inserts")
            for key in sorted(set(inserts))
        ),
    ]
    for key in sorted(set(tapped) & set(screws)):
        found.append(Tool(name=f"tap {key}", used_for=f"{key} threads"))
        found.append(Tool(name=f"drill {screws[key].tap_hole_mm:g} mm", used_for=f"{key} threads"))
    if wires or inserts:
        found.append(Tool(name="soldering iron", used_for="wires and inserts"))
    if wires:
        found.append(Tool(name="wire stripper", used_for="wires"))
        found.append(Tool(name="multimeter", used_for="first power"))
    if vat:
        found.append(Tool(name="curing lamp", used_for="vat parts"))
    return tuple(found)


def missing_tools(tools: Iterable[Tool], at_hand: Iterable[str]) -> tuple[Tool, ...]:
    """The tools that none of those at hand names, however its words are turned."""
    known = [words_of(name) for name in at_hand]
    return tuple(tool for tool in tools if not any(words_of(tool.name) <= one for one in known))


def tool_needs(tools: Iterable[Tool]) -> tuple[Need, ...]:
    """One piece of each tool."""
    one = exact(1.0)
    return tuple(
        Need(
            kind="tool",
            item=tool.name,
            quantity=one,
            low=one,
            high=one,
            unit="piece",
            pack=one,
            used_in=tool.used_for,
            asked_by=mark_of_rows([tool]),
            why=f"for {tool.used_for}; not among the tools at hand",
            source="common practice, no source",
        )
        for tool in tools
    )


def tool_words(tools: Iterable[Tool]) -> str:
    """Tools in one line."""
    return listed((tool.name for tool in tools), 12)
