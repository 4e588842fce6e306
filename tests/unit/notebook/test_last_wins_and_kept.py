"""Controls that follow keys, by a clock of the test's own; inputs that are in the file at once."""

import pytest
from answer_builds import write_build
from clocks import FakeClock

from buildplan.build import keep_many
from buildplan.errors import BuildFileError
from buildplan.notebook.kept import Kept
from buildplan.notebook.last_wins import WAIT_S, LastWins


@pytest.fixture
def clock():
    return FakeClock()


def followed(clock, work=lambda value: value * 10, keep=None):
    shown, failed = [], []
    wins = LastWins(
        work,
        lambda value, result, counts: shown.append((value, result, counts)),
        lambda value, error: failed.append((value, str(error))),
        clock=clock,
        keep=keep,
    )
    return wins, shown, failed


def test_twenty_keys_in_a_row_are_one_computation_of_the_last(clock):
    wins, shown, _ = followed(clock)
    for value in range(20):
        wins.press(value)
        clock.move(WAIT_S / 2)
    clock.move(WAIT_S)
    assert len(clock.works) == 1
    clock.move(0.2)
    clock.end_work()
    [(value, result, counts)] = shown
    assert (value, result, counts.pressed, counts.computed) == (19, 190, 20, 1)
    assert counts.settle_s == pytest.approx(WAIT_S * 1.5 + 0.2)
    assert not wins.busy


def test_a_key_during_work_is_worked_on_next_and_the_older_answer_is_not_shown(clock):
    wins, shown, _ = followed(clock)
    wins.press(1)
    clock.move(WAIT_S)
    wins.press(2)
    clock.move(WAIT_S)
    assert len(clock.works) == 1
    clock.end_work()
    assert shown == []
    assert wins.busy
    clock.end_work()
    assert [(value, result) for value, result, _ in shown] == [(2, 20)]
    assert shown[0][2].computed == 2


def test_what_cannot_be_kept_is_not_worked_on(clock):
    def refuse(value):
        raise ValueError(f"{value} is not allowed")

    wins, shown, failed = followed(clock, keep=refuse)
    wins.press(7)
    clock.move(WAIT_S)
    assert clock.works == []
    assert shown == []
    assert failed == [(7, "7 is not allowed")]
    assert not wins.busy


def test_a_value_is_kept_while_older_work_goes_on(clock):
    kept = []
    wins, _, _ = followed(clock, keep=kept.append)
    wins.press(1)
    clock.move(WAIT_S)
    wins.press(2)
    clock.move(WAIT_S)
    assert kept == [1, 2]


def test_failed_work_is_told_and_the_next_key_works(clock):
    wins, shown, failed = followed(clock, work=lambda value: 10 // value if value else int("x"))
    wins.press(0)
    clock.move(WAIT_S)
    clock.end_work()
    assert len(failed) == 1
    wins.press(5)
    clock.move(WAIT_S)
    clock.end_work()
    assert [(value, result) for value, result, _ in shown] == [(5, 2)]


def test_a_value_is_in_the_file_with_its_comments_and_a_refused_one_is_not(tmp_path):
    path = write_build(tmp_path)
    kept = Kept(path)
    kept.keep([(("build",), "energy_cost_kwh", 0.41)])
    text = path.read_text("utf-8")
    assert "energy_cost_kwh = 0.41" in text
    assert "# the comment stays" in text
    with pytest.raises(BuildFileError):
        kept.keep([(("build",), "energy_cost_kwh", -1.0)])
    assert path.read_text("utf-8") == text
    assert Kept(path).build.prices.energy_cost_kwh == pytest.approx(0.41)


def test_two_views_of_a_file_lose_nothing_of_each_other(tmp_path):
    path = write_build(tmp_path)
    one, two = Kept(path), Kept(path)
    one.keep([(("build",), "energy_cost_kwh", 0.41)])
    assert two.changed_beneath()
    two.keep([(("build",), "own_time_cost_h", 19.0)])
    assert one.changed_beneath()
    prices = one.read_again().prices
    assert (prices.energy_cost_kwh, prices.own_time_cost_h) == (0.41, 19.0)
    assert not one.changed_beneath()


def test_a_file_written_again_with_the_same_bytes_is_not_changed(tmp_path):
    path = write_build(tmp_path)
    kept = Kept(path)
    path.write_bytes(path.read_bytes())
    assert not kept.changed_beneath()
    path.unlink()
    assert kept.changed_beneath()


def test_a_stopped_answer_is_not_shown_and_can_be_asked_for_again(clock):
    wins, shown, _ = followed(clock)
    wins.press(3)
    clock.move(WAIT_S)
    wins.stop()
    assert not wins.busy
    clock.end_work()
    assert shown == []
    wins.again()
    clock.end_work()
    assert [(value, result) for value, result, _ in shown] == [(3, 30)]


def test_work_is_given_what_was_frozen_as_it_began(clock):
    held, shown = {"value": 1}, []
    wins = LastWins(
        lambda given: given * 10,
        lambda value, result, counts: shown.append(result),
        lambda value, error: None,
        clock=clock,
        freeze=lambda _: held["value"],
    )
    wins.press("any")
    clock.move(WAIT_S)
    held["value"] = 2
    clock.end_work()
    assert shown == [10]


def test_a_hand_edit_between_reading_and_writing_is_not_lost(tmp_path, monkeypatch):
    path = write_build(tmp_path)
    kept = Kept(path)
    resolve, edits = keep_many.resolve_again, []

    def edited_meanwhile(*given, **more):
        if not edits:
            text = path.read_text("utf-8")
            path.write_text(text.replace("own_time_cost_h = 12.0", "own_time_cost_h = 21.0"))
            edits.append(1)
        return resolve(*given, **more)

    monkeypatch.setattr(keep_many, "resolve_again", edited_meanwhile)
    build = kept.keep([(("build",), "energy_cost_kwh", 0.41)])
    assert (build.prices.energy_cost_kwh, build.prices.own_time_cost_h) == (0.41, 21.0)
    assert "own_time_cost_h = 21.0" in path.read_text("utf-8")


def test_a_file_that_somebody_keeps_writing_is_left_to_them(tmp_path, monkeypatch):
    path = write_build(tmp_path)
    kept = Kept(path)
    resolve = keep_many.resolve_build

    def always_edited(*given, **more):
        path.write_text(path.read_text("utf-8") + "# another line\n")
        return resolve(*given, **more)

    monkeypatch.setattr(keep_many, "resolve_again", lambda *_, **more: None)
    monkeypatch.setattr(keep_many, "resolve_build", always_edited)
    with pytest.raises(BuildFileError, match="somebody else"):
        kept.keep([(("build",), "energy_cost_kwh", 0.41)])
    assert "energy_cost_kwh = 0.41" not in path.read_text("utf-8")
