"""Print logs for the tests."""

from buildplan.journal import Attempt, LoggedPrint, Outcome, PrintLog


def attempt(uid="a", **other):
    known = {
        "started_utc": "2031-02-03",
        "part": "tub",
        "printer": "north bench",
        "feedstock": "PETG",
        "predicted_h": 8.0,
    }
    return Attempt(uid=uid, **(known | other))


def done(hours, **other):
    return Outcome(end="done", at_utc="2031-02-03", ran_h=hours, **other)


def failed(hours, cause="jam"):
    return Outcome(end="failed", at_utc="2031-02-03", ran_h=hours, cause=cause)


def day(number):
    """A moment: the first is day 0."""
    return f"20{31 + number // 336:02d}-{number // 28 % 12 + 1:02d}-{number % 28 + 1:02d}"


def log_of(rows, changes=()):
    """A log from (attempt, outcome) pairs."""
    return PrintLog(
        prints=tuple(
            LoggedPrint(number=number, attempt=item, outcome=outcome)
            for number, (item, outcome) in enumerate(rows, 1)
        ),
        changes=tuple(changes),
    )
