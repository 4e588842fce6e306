import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from logs import attempt, done, failed

from buildplan.errors import InputError
from buildplan.journal import (
    Outcome,
    back_up,
    check_log,
    machine_change,
    read_log,
    record_change,
    record_outcome,
    record_start,
)
from buildplan.journal.network import kind_in_mount_list, kind_in_mountinfo
from buildplan.journal.store import APPLICATION, VERSION, open_log

ROOT = Path(__file__).parents[3]
WRITER = Path(__file__).parents[2] / "log_writer.py"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "log.sqlite"


def writer(path, name):
    return subprocess.Popen(
        [sys.executable, str(WRITER), str(path), name],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def kill_while_writing(path, times):
    """uids acknowledged by writers that were each killed at a moment of their work."""
    said = set()
    rng = random.Random(5)
    for turn in range(times):
        process = writer(path, f"w{turn}")
        said.add(process.stdout.readline().strip())
        time.sleep(rng.uniform(0.0, 0.1))
        process.send_signal(signal.SIGKILL)
        rest, _ = process.communicate(timeout=20)
        # a line that the kill cut short was not said
        said |= {line.strip() for line in rest.splitlines(keepends=True) if line.endswith("\n")}
    return said


def assert_nothing_lost(path, said):
    found = {item.attempt.uid: item.outcome for item in read_log(path).prints}
    assert said <= found.keys()
    assert all(found[uid] is not None for uid in said)
    assert check_log(path).fault == ""


def test_a_killed_writer_loses_nothing_it_has_acknowledged(path):
    said = kill_while_writing(path, 3)
    assert len(said) >= 3
    assert_nothing_lost(path, said)


@pytest.mark.slow
def test_forty_kills_lose_nothing_acknowledged(path):
    said = kill_while_writing(path, 40)
    assert len(said) >= 100
    assert_nothing_lost(path, said)


def test_two_writers_at_once_both_get_through(path):
    both = [writer(path, name) for name in ("left", "right")]
    said = [process.stdout.readline().strip() for process in both]
    time.sleep(0.6)
    for process in both:
        process.kill()
        rest = process.communicate(timeout=20)[0].splitlines(keepends=True)
        said += [line.strip() for line in rest if line.endswith("\n")]
    found = {item.attempt.uid for item in read_log(path).prints}
    assert {uid.split("-")[0] for uid in found} == {"left", "right"}
    assert check_log(path).fault == ""
    assert set(said) <= found


def filled(path, count):
    for k in range(count):
        number = record_start(path, attempt(f"u{k}", predicted_h=0.1 + k))
        record_outcome(path, number, failed(1.25, "warp") if k % 5 == 0 else done(0.2 + k))
    record_change(path, machine_change("nozzle", "north bench", "2031-03-01"))


def all_rows(path):
    with open_log(path, read_only=True) as log:
        return [
            log.execute(f"SELECT * FROM {table} ORDER BY seq").fetchall()
            for table in ("attempt", "event")
        ]


def test_no_flipped_bit_of_four_hundred_goes_unseen(path, tmp_path):
    filled(path, 60)
    copy = tmp_path / "whole.sqlite"
    back_up(path, copy)
    whole, rows = copy.read_bytes(), all_rows(copy)
    rng = random.Random(1)
    counts = {"refused": 0, "found": 0, "harmless": 0, "silent": 0}
    for turn in range(400):
        place, bit = rng.randrange(len(whole)), rng.randrange(8)
        other = tmp_path / f"flip{turn}.sqlite"
        data = bytearray(whole)
        data[place] ^= 1 << bit
        other.write_bytes(data)
        try:
            fault = check_log(other).fault
            same = fault == "" and all_rows(other) == rows
        except InputError:
            counts["refused"] += 1
        else:
            counts["found" if fault else "harmless" if same else "silent"] += 1
        other.unlink()
    assert counts["silent"] == 0
    assert counts["found"] + counts["refused"] > 100


def test_the_chain_finds_every_value_that_is_changed_behind_the_triggers(path):
    filled(path, 5)
    for table, column, value in (
        ("attempt", "predicted_h", 99.0),
        ("attempt", "printer", "other"),
        ("event", "ran_h", 1.0),
        ("event", "note", "no"),
        ("event", "kind", "aborted"),
    ):
        with sqlite3.connect(path) as raw:
            raw.execute(f"DROP TRIGGER {table}_update_refused")
            old = raw.execute(f"SELECT seq, {column} FROM {table} WHERE seq > 2").fetchone()
            raw.execute(f"UPDATE {table} SET {column} = ? WHERE seq = ?", (value, old[0]))
            raw.commit()
            assert f"row {old[0]}" in check_log(path).fault
            raw.execute(f"UPDATE {table} SET {column} = ? WHERE seq = ?", (old[1], old[0]))
            raw.execute(
                f"CREATE TRIGGER {table}_update_refused BEFORE update ON {table} BEGIN "
                "SELECT RAISE(ABORT, 'no'); END"
            )
        raw.close()
        assert check_log(path).fault == ""


def test_a_row_taken_out_of_the_middle_is_missed(path):
    filled(path, 3)
    raw = sqlite3.connect(path)
    raw.execute("DROP TRIGGER event_delete_refused")
    raw.execute("DELETE FROM event WHERE seq = 4")
    raw.commit()
    raw.close()
    assert "row 4 is missing" in check_log(path).fault


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE attempt SET part = 'x'",
        "DELETE FROM attempt",
        "UPDATE event SET ran_h = 1",
        "DELETE FROM event",
        "INSERT INTO event SELECT 9, 'x', 77, '', 'done', 1, 1, '', '', '', '', ''",
        "INSERT INTO event SELECT 9, 'x', 1, '', 'failed', 1, 1, '', '', '', '', ''",
        "INSERT INTO event SELECT 9, 'x', 1, '', 'done', 'long', 1, '', '', '', '', ''",
        "INSERT INTO event SELECT 9, 'x', 1, '', 'burnt', 1, 1, '', '', '', '', ''",
        "INSERT INTO attempt SELECT 9, 'x', '', '', 1, '', '', '', -1, 1, 0, '', '', ''",
    ],
)
def test_the_file_itself_refuses_changes_and_impossible_rows(path, statement):
    filled(path, 2)
    with pytest.raises(InputError, match="refuses the row"), open_log(path) as log:
        log.execute(statement)


def test_a_newer_version_is_refused_and_left_alone(path):
    filled(path, 1)
    raw = sqlite3.connect(path)
    raw.execute(f"PRAGMA user_version={VERSION + 1}")
    raw.close()
    before = path.read_bytes()
    for call in (lambda: read_log(path), lambda: record_start(path, attempt("b"))):
        with pytest.raises(InputError, match=r"newer buildplan.*version 2.*knows 1.*update"):
            call()
    assert path.read_bytes() == before


def test_other_files_are_refused_by_name(path):
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE recipes(x)")
    raw.close()
    with pytest.raises(InputError, match="no print log"):
        record_start(path, attempt())
    path.write_text("hello " * 300)
    with pytest.raises(InputError, match="damaged or no print log"):
        read_log(path)
    with pytest.raises(InputError, match="there is no"):
        read_log(path.with_name("none.sqlite"))
    with pytest.raises(InputError, match="no folder"):
        record_start(path.parent / "none" / "log.sqlite", attempt())


def test_a_network_folder_is_refused_and_says_why(path, monkeypatch):
    monkeypatch.setattr("buildplan.journal.network.network_kind", lambda _: "nfs4")
    with pytest.raises(InputError, match=r"network file system \(nfs4\).*copy backups"):
        record_start(path, attempt())
    assert not path.exists()


def test_the_longest_mount_point_tells_the_kind_of_file_system():
    info = (
        "22 1 8:1 / / rw shared:1 - ext4 /dev/root rw\n"
        "30 22 0:30 / /home/me/far\\040away rw - nfs4 host:/x rw\n"
        "31 30 0:31 / /home/me/far\\040away/near rw - tmpfs none rw\n"
    )
    kinds = [
        kind_in_mountinfo(info, Path(place))
        for place in ("/home/me", "/home/me/far away/a", "/home/me/far away/near/b", "/home/me/far")
    ]
    assert kinds == ["ext4", "nfs4", "tmpfs", "ext4"]
    listed = "/dev/disk1 on / (apfs, local)\n//me@host/s on /Volumes/s (smbfs, nodev)\n"
    assert kind_in_mount_list(listed, Path("/Volumes/s/a")) == "smbfs"
    assert kind_in_mount_list(listed, Path("/Users")) == "apfs"


def test_reading_cannot_write(path):
    filled(path, 1)
    with pytest.raises(InputError, match="readonly"), open_log(path, read_only=True) as log:
        log.execute("INSERT INTO attempt DEFAULT VALUES")


def test_a_log_is_kept_safe_by_full_writes_ahead(path):
    filled(path, 1)
    with open_log(path) as log:
        assert log.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert log.execute("PRAGMA synchronous").fetchone() == (2,)
        assert log.execute("PRAGMA application_id").fetchone() == (APPLICATION,)


def test_a_second_outcome_corrects_the_first_and_both_stay(path):
    number = record_start(path, attempt())
    record_outcome(path, number, done(8.0))
    record_outcome(path, number, failed(7.5))
    assert read_log(path).prints[0].outcome == failed(7.5)
    assert check_log(path).rows == 3
    assert record_start(path, attempt()) == number
    assert check_log(path).rows == 3


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (Outcome(end="failed", at_utc="2031-01-01", ran_h=1.0), "needs a cause"),
        (Outcome(end="done", at_utc="2031-01-01"), "needs the hours"),
        (Outcome(end="done", at_utc="2031-01-01", ran_h=0.0), "above 0"),
        (Outcome(end="burnt", at_utc="2031-01-01", ran_h=1.0), "allowed: done"),
        (Outcome(end="done", at_utc="yesterday", ran_h=1.0), "no date"),
        (Outcome(end="done", at_utc="2031-01-01", ran_h=float("nan")), "finite"),
        (Outcome(end="failed", at_utc="2031-01-01", ran_h=1.0, cause="ghost"), "no_adhesion"),
        (Outcome(end="done", at_utc="2031-01-01", ran_h=1.0, note="\0"), "retype"),
    ],
)
def test_impossible_outcomes_are_refused_in_words(path, outcome, words):
    record_start(path, attempt())
    with pytest.raises(InputError, match=words):
        record_outcome(path, 1, outcome)


def test_impossible_starts_and_changes_are_refused_in_words(path):
    with pytest.raises(InputError, match="part is empty"):
        record_start(path, attempt(part=" "))
    with pytest.raises(InputError, match="predicted_h"):
        record_start(path, attempt(predicted_h=0.0))
    with pytest.raises(InputError, match="has no print 3"):
        record_outcome(path, 3, done(1.0))
    with pytest.raises(InputError, match="needs its name"):
        record_change(path, machine_change("feedstock", "north bench", "2031-01-01"))


def test_a_backup_is_whole_while_the_log_is_open_and_replaces_only_when_whole(path, tmp_path):
    filled(path, 4)
    to = tmp_path / "copies.sqlite"
    with open_log(path) as log:
        log.execute("BEGIN IMMEDIATE")
        assert back_up(path, to) == check_log(path)
        log.execute("ROLLBACK")
    assert read_log(to) == read_log(path)
    kept = to.read_bytes()
    raw = sqlite3.connect(path)
    raw.execute("DROP TRIGGER event_update_refused")
    raw.execute("UPDATE event SET note = 'x' WHERE seq = 2")
    raw.commit()
    raw.close()
    with pytest.raises(InputError, match="row 2"):
        back_up(path, to)
    assert to.read_bytes() == kept
    with pytest.raises(InputError, match="the log itself"):
        back_up(path, path)
