"""A power cut, at any moment, loses nothing that the print log has acknowledged."""

import os
import random
import shutil
import sqlite3
from contextlib import ExitStack, closing

import pytest
from logs import attempt, done
from power_cut import KEPT, after_cut, library, recorded

from buildplan.journal import check_log, read_log, record_outcome, record_start
from buildplan.journal.store import open_log


@pytest.fixture
def folder(tmp_path):
    if library() is None:
        reason = "no access to the SQLite library of this Python: power cuts are untested here"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    made = tmp_path / "disk"
    made.mkdir()
    return made


def logged(folder, prints, *, watched=False):
    """A recorded disk on which a log was written, each print acknowledged twice.

    Args:
        watched: Another program holds the log open, so that the write-ahead file grows.
    """
    path = folder / "log.sqlite"
    with recorded(folder) as disk, ExitStack() as stack:
        for k in range(prints):
            number = record_start(path, attempt(f"u{k}"))
            disk.say(("started", f"u{k}"))
            record_outcome(path, number, done(4.5 + k))
            disk.say(("ended", f"u{k}"))
            if watched and k == 0:
                stack.enter_context(open_log(path))
    return disk


def rows_said(path):
    prints = [one for one in read_log(path).prints if one.attempt.uid != "after"]
    ended = [("ended", one.attempt.uid) for one in prints if one.outcome is not None]
    return {("started", one.attempt.uid) for one in prints} | set(ended)


def assert_good_after(disk, moment, folder, kept, rng):
    """The log after a cut holds all that was said, at most one row more, and takes new rows."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    said = set(after_cut(disk, moment, folder, kept, rng))
    left = sorted(file.name for file in folder.iterdir())
    where = f"cut before step {moment} of {len(disk.done)}, {kept} kept: {left}"
    path = folder / "log.sqlite"
    if said:  # to read the log first must work too
        assert check_log(path).fault == "", where
        assert said <= rows_said(path), where
    number = record_start(path, attempt("after"))
    record_outcome(path, number, done(1.0))
    assert check_log(path).fault == "", where
    assert said <= rows_said(path), where
    assert len(rows_said(path)) <= len(said) + 1, where


@pytest.mark.parametrize("watched", [False, True])
def test_power_cuts_lose_nothing_acknowledged(watched, folder, tmp_path):
    disk, rng = logged(folder, 3, watched=watched), random.Random(3)
    for k in range(18):
        moment = rng.randrange(len(disk.done) + 1)
        assert_good_after(disk, moment, tmp_path / "cut", KEPT[k % 3], rng)


@pytest.mark.slow
@pytest.mark.parametrize("watched", [False, True])
def test_a_cut_before_any_step_loses_nothing_acknowledged(watched, folder, tmp_path):
    disk, rng = logged(folder, 4, watched=watched), random.Random(4)
    for moment in range(len(disk.done) + 1):
        for kept in KEPT:
            assert_good_after(disk, moment, tmp_path / "cut", kept, rng)


@pytest.mark.parametrize(("care", "lost"), [("OFF", True), ("NORMAL", True), ("FULL", False)])
def test_the_recorded_disk_does_forget_what_was_not_synced(care, lost, folder, tmp_path):
    """Without the log's own setting a cut loses rows, so the tests above can fail."""
    with recorded(folder) as disk, closing(sqlite3.connect(folder / "any.sqlite")) as any_log:
        any_log.execute("PRAGMA journal_mode=WAL")
        any_log.execute("CREATE TABLE row(number)")
        any_log.execute(f"PRAGMA synchronous={care}")
        with any_log:
            any_log.execute("INSERT INTO row VALUES(7)")
        moment = len(disk.done)
    cut = tmp_path / "cut"
    cut.mkdir()
    after_cut(disk, moment, cut, "nothing", random.Random(1))
    with closing(sqlite3.connect(cut / "any.sqlite")) as any_log:
        assert any_log.execute("SELECT count(*) FROM row").fetchone() == (0 if lost else 1,)
