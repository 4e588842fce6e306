"""What must be true before a long print, on the terminal: verdict, bands, hours."""

from rich.console import Console
from rich.text import Text

from buildplan.decide.readiness import Readiness
from buildplan.findings import Severity
from buildplan.report import numbers
from buildplan.report.terminal import sign, table

SIGN_OF: dict[str, Severity | None] = {
    "no-go": "stop",
    "go with these open": "caution",
    "go": None,
}


def print_readiness(to: Console, ready: Readiness, *, brief: bool = False) -> None:
    """Verdict with its reason, what is wrong for sure, the tests by band, and the hours.

    Args:
        to: Where it goes.
        ready: Of one long print.
        brief: Leave out the tests that cost more than they save.
    """
    shape = sign(SIGN_OF[ready.verdict]).plain.split()[0]
    to.print(
        Text.assemble(f"{shape} ", (ready.verdict, "head"), f"   {numbers.plain(ready.reason)}")
    )
    for claim in ready.stops:
        said = f"mend first: {claim.name}: {claim.because}. {claim.remedy}"
        to.print(Text.assemble(sign("stop"), f"  {numbers.plain(said)}"))
    to.print()
    shown = table(
        ("do it", "", False),
        ("what must be true", "", False),
        ("rests on", "", False),
        ("wrong", "%", True),
        ("test", "", False),
        ("worth it?", "", False),
    )
    for line in ready.lines:
        if brief and line.band == "skip":
            continue
        claim = line.claim
        shown.add_row(
            line.band,
            Text(numbers.plain(claim.name)),
            claim.evidence,
            f"{100.0 * claim.p_wrong_frac:.1f}",
            Text(numbers.plain(claim.test.what)),
            line.text,
        )
    to.print(shown)
    mended = ", once the above is mended" if ready.stops else ""
    to.print(
        f"Expected hours lost on a print of {ready.long_print_h:.1f} h{mended}: "
        f"{ready.untested_h:.1f} h untested; {ready.tested_h:.1f} h with the list, "
        f"{ready.tests_h:.1f} h of it tests."
    )
    to.print(
        Text(
            "The chances are assumed starting values unless you set your own under [[claim]].",
            style="quiet",
        )
    )
