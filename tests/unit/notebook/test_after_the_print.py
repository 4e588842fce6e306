"""The print log in a notebook: the same print is never written twice, and nothing unasked."""

import pytest
from answer_builds import write_build

from buildplan.errors import InputError
from buildplan.journal import read_log
from buildplan.notebook.answers import end_print, open_build, show_learned, show_log, start_print
from buildplan.notebook.answers.after import utc_of
from buildplan.plan import log_path

START = "2031-03-22 08:30"


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    """A build whose one print was begun, as bytes of its log."""
    build = open_build(write_build(tmp_path_factory.mktemp("after"), whole=False))
    answer = start_print(build, "servo_arm", at=START, write=True)
    assert "Print 1" in answer.heading
    return build, log_path(build).read_bytes()


@pytest.fixture
def build(begun):
    made, log = begun
    log_path(made).write_bytes(log)
    return made


def prints(build):
    return read_log(log_path(build)).prints


def test_a_preview_promises_and_writes_nothing(tmp_path):
    build = open_build(write_build(tmp_path, whole=False))
    assert start_print(build).severity == "note"
    shown = start_print(build, "servo_arm")
    assert "write=True" in str(shown)
    assert "Promised" in shown.heading
    assert start_print(build, "servo_arm", write=True).severity == "caution"
    assert end_print(build).severity == "note"
    assert show_log(build).severity == "note"
    assert show_learned(build).severity == "note"
    assert not log_path(build).exists()


def test_the_same_start_twice_is_one_print(build):
    again = start_print(build, "servo_arm", at=START, write=True)
    assert "was written down before" in again.heading
    assert len(prints(build)) == 1


def test_a_printer_runs_one_print_at_a_time(build):
    refused = start_print(build, "servo_arm", at="2031-03-22 09:30", write=True)
    assert refused.severity == "stop"
    assert "print 1 still runs" in refused.heading
    assert len(prints(build)) == 1


def test_an_end_is_held_against_the_promise_and_written_once(build):
    asked = {"hours": 3.0, "grams": 2.0}
    shown = end_print(build, **asked)
    assert shown.severity == "caution"
    assert prints(build)[0].outcome is None
    written = end_print(build, **asked, write=True)
    assert "Written down" in str(written)
    assert prints(build)[0].outcome.ran_h == 3.0
    before = log_path(build).read_bytes()
    again = end_print(build, 1, **asked, write=True)
    assert "was in the log before" in str(again)
    assert log_path(build).read_bytes() == before


def test_a_print_does_not_teach_its_own_promise(build):
    first = end_print(build, hours=3.0, write=True)
    later = end_print(build, 1, hours=3.0, write=True)
    table = [str(one).splitlines()[2] for one in (first, later)]
    assert table[0] == table[1]
    assert later.severity == "caution"


def test_a_second_end_corrects_the_first(build):
    end_print(build, hours=0.2, write=True)
    corrected = end_print(build, 1, "failed", hours=0.1, cause="warp", write=True)
    assert "corrects" in str(corrected)
    assert prints(build)[0].outcome.end == "failed"


def test_a_failure_needs_a_cause_that_the_log_knows(build):
    asked = end_print(build, end="failed", hours=0.1, write=True)
    assert '"no_adhesion"' in str(asked)
    assert prints(build)[0].outcome is None


def test_where_nothing_runs_the_last_print_is_shown(build):
    end_print(build, hours=0.2, write=True)
    assert "No print runs. The last one done was print 1" in end_print(build).heading


def test_sizes_are_held_against_the_mesh(build):
    shown = end_print(build, hours=0.2, size_mm=(1.0, 1.0, 1.0))
    assert "width" in str(shown)
    assert shown.severity == "caution"


@pytest.mark.parametrize(
    "asked", [{"number": 9}, {"end": "lost"}, {"hours": -1.0, "write": True}, {"at": "soon"}]
)
def test_what_cannot_be_is_refused(build, asked):
    with pytest.raises(InputError):
        end_print(build, **asked)
    assert prints(build)[0].outcome is None


def test_a_moment_is_the_makers_own_clock_and_a_day_stays_a_day(monkeypatch):
    import time

    monkeypatch.setenv("TZ", "UTC-2")
    time.tzset()
    try:
        assert utc_of("2031-03-22 08:30", "start") == "2031-03-22T06:30:00Z"
        assert utc_of("2031-03-22T08:30:00Z", "start") == "2031-03-22T08:30:00Z"
        assert utc_of("2031-03-22", "start") == "2031-03-22"
    finally:
        monkeypatch.undo()
        time.tzset()
