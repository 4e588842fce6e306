"""Refuse to time with more than one thread: on shared cores the result is noise."""

import os

import pytest
from benchmarks.ratio import ROWS

THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "NUMBA_NUM_THREADS")


def pytest_collection_modifyitems(items):
    unset = [name for name in THREADS if os.environ.get(name) != "1"]
    if unset:
        skip = pytest.mark.skip(reason=f"set {', '.join(unset)} to 1 before Python starts")
        for item in items:
            if "benchmarks" in item.path.parts:
                item.add_marker(skip)


def pytest_terminal_summary(terminalreporter):
    if not ROWS:
        return
    terminalreporter.section("times faster than the reference, one thread")
    for row in ROWS:
        terminalreporter.write_line(
            f"{row.what:58s} {row.measured:8.1f} x  (required {row.required:g})  {row.reference}"
        )
