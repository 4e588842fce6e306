"""A process that writes to a print log and says aloud what is safely written; killed by tests."""

import sys
from pathlib import Path

from buildplan.journal import Attempt, Outcome, record_outcome, record_start


def main(path, name):
    for turn in range(100_000):
        uid = f"{name}-{turn}"
        number = record_start(
            path,
            Attempt(
                uid=uid,
                started_utc="2031-02-03",
                part="tub",
                printer="north bench",
                feedstock="PETG",
                predicted_h=4.0 + turn % 7,
            ),
        )
        record_outcome(path, number, Outcome(end="done", at_utc="2031-02-03", ran_h=4.5))
        sys.stdout.write(f"{uid}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
