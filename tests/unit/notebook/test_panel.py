"""A panel by a clock of the test's own: what it shows, keeps, refuses, counts and stops."""

import pytest
from answer_builds import write_build
from clocks import FakeClock

from buildplan.notebook.controls import Control
from buildplan.notebook.hours.panel import Memory, answer_of
from buildplan.notebook.hours.subject import read_subject
from buildplan.notebook.kept import Kept
from buildplan.notebook.last_wins import WAIT_S
from buildplan.notebook.panel import LOOK_S, SLOW_S, Live, Panel

KEYS = ("energy_cost_kwh", "own_time_cost_h")


def work(build):
    if build.prices.own_time_cost_h == 13.0:
        raise RuntimeError("no answer at thirteen")
    return build.prices.energy_cost_kwh * 100.0


@pytest.fixture
def clock():
    return FakeClock()


@pytest.fixture
def panel(tmp_path, clock):
    live = Live(
        title="Prices",
        note=lambda build: build.name,
        controls=lambda build: [Control(key=key, label=key, kind="number") for key in KEYS],
        read=lambda build: {key: getattr(build.prices, key) for key in KEYS},
        keep=lambda build, values: ([(("build",), key, values[key]) for key in KEYS], []),
        work=work,
        draw=lambda answer, before: f"answer {answer:.0f}",
        says=lambda build, answer: {},
    )
    return Panel(live, Kept(write_build(tmp_path)), clock=clock)


def words(panel, key):
    return panel.rows[key]._words.value


def shown(panel):
    return panel._out.value


def type_in(panel, clock, key, text):
    panel.rows[key].input.value = text
    clock.move(WAIT_S)


def text_of(panel):
    return panel.kept.path.read_text("utf-8")


def test_many_keys_are_one_computation_of_the_last_and_all_is_counted(panel, clock):
    for text in ("0.31", "0.32", "0.33", "0.44"):
        panel.rows[KEYS[0]].input.value = text
        clock.move(WAIT_S / 2)
    clock.move(WAIT_S)
    clock.end_work()
    assert clock.works == []
    assert "answer 44" in shown(panel)
    assert "4 keys pressed, 1 computation;" in panel._foot.value.replace("\u202f", " ")
    assert "energy_cost_kwh = 0.44" in text_of(panel)


def test_a_refused_value_is_told_beside_its_control_and_the_file_stays(panel, clock):
    before = text_of(panel)
    type_in(panel, clock, KEYS[0], "2000")
    assert "energy_cost_kwh" in words(panel, KEYS[0])
    assert "wrong" in panel.rows[KEYS[0]].input._dom_classes
    assert words(panel, KEYS[1]) == '<div class="say"></div>' or "2000" not in words(panel, KEYS[1])
    assert "not saved" in panel._title.value
    assert text_of(panel) == before
    assert clock.works == []


def test_what_is_no_number_is_told_and_nothing_is_written(panel, clock):
    before = text_of(panel)
    type_in(panel, clock, KEYS[0], "0,4")
    assert "0.4" in words(panel, KEYS[0])
    assert text_of(panel) == before
    type_in(panel, clock, KEYS[0], "0.4")
    clock.end_work()
    assert "answer 40" in shown(panel)
    assert "wrong" not in panel.rows[KEYS[0]].input._dom_classes


def test_a_key_during_work_wins_and_the_answer_is_of_its_own_build(panel, clock):
    type_in(panel, clock, KEYS[0], "0.50")
    type_in(panel, clock, KEYS[0], "0.60")
    assert "energy_cost_kwh = 0.6" in text_of(panel)
    call, done = clock.works.pop(0)
    assert call() == pytest.approx(50.0)
    done(50.0, None)
    assert "answer 50" not in shown(panel)
    clock.end_work()
    assert "answer 60" in shown(panel)


def test_a_hand_edit_marks_the_panel_and_reading_again_takes_it_over(panel, clock):
    clock.move(LOOK_S)
    assert "isstale" not in panel.box._dom_classes
    edited = text_of(panel).replace("energy_cost_kwh = 0.30", "energy_cost_kwh = 0.77")
    panel.kept.path.write_text(edited, "utf-8")
    clock.move(LOOK_S)
    assert "isstale" in panel.box._dom_classes
    assert "changed outside" in panel._stale.value
    assert "answer 30" in shown(panel)
    panel._again.click()
    assert "isstale" not in panel.box._dom_classes
    assert "answer 77" in shown(panel)
    assert panel.rows[KEYS[0]].input.value == "0.77"


def test_long_work_shows_a_bar_and_stop_keeps_the_last_answer_and_says_so(panel, clock):
    type_in(panel, clock, KEYS[0], "0.50")
    assert panel._progress.layout.display == "none"
    clock.move(SLOW_S)
    assert panel._progress.layout.display == "flex"
    assert "pbar" in panel._bar.value
    panel._stop.click()
    assert panel._progress.layout.display == "none"
    assert "Stopped" in panel._stale.value
    clock.end_work()
    assert "answer 30" in shown(panel)
    assert "energy_cost_kwh = 0.5" in text_of(panel)
    panel._again.click()
    clock.end_work()
    assert "answer 50" in shown(panel)
    assert "isstale" not in panel.box._dom_classes


def test_work_that_fails_is_told_and_the_value_is_kept(panel, clock):
    type_in(panel, clock, KEYS[1], "13")
    clock.end_work()
    assert "no answer at thirteen" in words(panel, KEYS[1])
    assert "Saved, but not worked out" in words(panel, KEYS[1])
    assert "own_time_cost_h = 13.0" in text_of(panel)
    assert "answer 30" in shown(panel)


def test_the_hours_panels_memory_changes_no_number(tmp_path):
    kept = Kept(write_build(tmp_path))
    subject = read_subject(kept.build, "servo_arm")
    memory = Memory(subject)
    answer_of(kept.build, subject, memory)
    for change in (
        (("build",), "energy_cost_kwh", 0.91),
        (("part", "servo_arm"), "recipe", "quick"),
        (("build",), "own_time_cost_h", 3.0),
    ):
        build = kept.keep([change])
        quick, whole = answer_of(build, subject, memory), answer_of(build, subject)
        for name in ("time_h", "mass_g", "energy_cost", "own_time_cost", "total_cost"):
            assert getattr(quick.estimate, name) == getattr(whole.estimate, name), name
        assert quick.settings == whole.settings
        assert quick.basis == whole.basis
