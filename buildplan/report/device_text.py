"""The device on the terminal: what it needs, then what to look at."""

from collections.abc import Iterable
from pathlib import Path

from rich.console import Console
from rich.text import Text

from buildplan.device.chain.model import DeviceStudy
from buildplan.report import numbers
from buildplan.report.device_section import device_heading, severity_of
from buildplan.report.gather import written
from buildplan.report.sections import words
from buildplan.report.terminal import hanging, print_findings, sign


def print_device(to: Console, study: DeviceStudy, files: Iterable[Path] = ()) -> None:
    """The answer, the needs, the other drives, the findings, the cautions, the files."""
    to.print(Text.assemble(sign(study.verdict), "  ", (device_heading(study), "head")))
    to.print()
    print_needs(to, study)
    _print_drives(to, study)
    print_findings(to, study.findings)
    to.print()
    for one in study.cautions:
        to.print(hanging(Text(f"{one.head} ", style="head"), one.text))
    for path in files:
        to.print(Text(str(path), style="quiet"), soft_wrap=True)


def print_needs(to: Console, study: DeviceStudy) -> None:
    """One block a question: what it takes and what there is."""
    names = [one.part_name for one in study.placed]
    for need in study.needs:
        body = Text.assemble((written(need.question, names), "head"))
        body.append(f"\nneeds {written(need.needs, names)}")
        body.append(f"\nhas   {written(need.has, names)}")
        to.print(hanging(_short(sign(severity_of(need))), body))
    to.print()


def _short(mark: Text) -> Text:
    """A sign in a column of one width."""
    mark.append(" " * max(0, 9 - len(mark.plain)))
    return mark


def _print_drives(to: Console, study: DeviceStudy) -> None:
    """The drives that are only compared, one line each."""
    others = [one for one in study.drives if one.name != study.linkage]
    for one in others:
        first = one.findings[0] if one.findings else None
        said = written(first.what) if first else "nothing to look at"
        severity = first.severity if first else None
        line = f"{words(one.name)}, only compared: {said}"
        to.print(hanging(_short(sign(severity)), numbers.plain(line)))
    if others:
        to.print()
