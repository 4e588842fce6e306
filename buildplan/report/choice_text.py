"""The choice as the calendar played it, on the terminal."""

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from rich.console import Console
from rich.text import Text

from buildplan.decide.choice import Simulated
from buildplan.plan import Plan, PlayedChoice
from buildplan.report import numbers
from buildplan.report.choice_section import choice_heading, choice_sentences, reason_lines
from buildplan.report.sections import words
from buildplan.report.terminal import hanging, table


def print_played(to: Console, plan: Plan, played: PlayedChoice) -> None:
    """Every part's way, its dates and money, and what the calendar changed."""
    assert plan.choice is not None  # without options nothing was played
    found = played.refined
    to.print(Text(numbers.plain(played_heading(played, plan.currency)), style="head"))
    to.print()
    made = table(("part", "", False), ("way", "", False), ("without the calendar", "", False))
    for part, pick, before in zip(played.case.parts, found.picks, found.first, strict=True):
        way = Text(words(part.options[pick].label))
        other = "" if pick == before else words(part.options[before].label)
        made.add_row(words(part.name), way, Text(other))
    to.print(made)
    to.print()
    for line in played_sentences(played, plan.currency):
        to.print(hanging(Text("-"), Text(numbers.plain(line))))
    to.print()
    to.print(Text("Without the calendar", style="head"))
    to.print(Text(numbers.plain(f"{choice_heading(plan.choice, plan.currency)}.")))
    for line in (
        *reason_lines(plan.choice, plan.currency),
        *choice_sentences(plan.choice, plan.currency),
    ):
        to.print(hanging(Text("-"), Text(numbers.plain(line))))


def print_kept(to: Console, file: Path, kept: Sequence[str], *, asked: bool) -> None:
    """Which ways were written into the build file, or how they are."""
    to.print()
    if kept:
        to.print(Text(f"Kept in {file}: {'; '.join(words(one) for one in kept)}."))
        to.print("`buildplan plan` counts bill, budget and calendar by it now.")
    elif asked:
        to.print(Text(f"{file} says so already: nothing was written."))
    else:
        to.print("`buildplan choose --take` keeps it in the build file as `way` of each part.")


def played_heading(played: PlayedChoice, currency: str) -> str:
    """Dates and money of the choice that was found."""
    said = played.refined.simulated
    return (
        f"Every second time done by {_day(played.first_day, said.p50_d)}, 9 times in 10 by "
        f"{_day(played.first_day, said.p90_d)}, for {numbers.money(said.cents / 100.0, currency)} "
        "of money, own time and expected failures"
    )


def played_sentences(played: PlayedChoice, currency: str) -> list[str]:
    """What the calendar changed, and how far it was searched."""
    found = played.refined
    said = []
    first = found.first_simulated
    if found.picks == found.first:
        said.append("The calendar changes nothing: it is the choice that was made without it.")
    elif first is not None:
        said.append(_against(first, found.simulated, currency))
    else:
        said.append("The choice that was made without the calendar does not come to an end in it.")
    plays = numbers.count(found.played, "choice")
    proposed = numbers.count(found.proposed, "proposal")
    end = (
        "the search was cut off there: more may still be found"
        if found.stopped
        else "no change of one part betters it"
    )
    said.append(f"{plays} played, {proposed} among them; {end}.")
    said.append(
        "Each part is a print by itself here; build cycles that share a platform save set-ups."
    )
    return said


def _against(first: Simulated, last: Simulated, currency: str) -> str:
    money = numbers.money(abs(last.cents - first.cents) / 100.0, currency)
    dearer = "more" if last.cents > first.cents else "less"
    days = first.p90_d - last.p90_d
    when = f"{numbers.num(abs(days), 1, 'days')} {'sooner' if days > 0.0 else 'later'}"
    return f"Against the choice made without the calendar: {money} {dearer}, 9 in 10 done {when}."


def _day(first: date, after_d: float) -> str:
    return f"{first + timedelta(days=int(after_d)):%a %d %b}"
