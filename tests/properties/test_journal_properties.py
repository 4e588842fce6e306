"""What holds of every print log: order, round trips, and what a success may do."""

import dataclasses
import random
import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from logs import attempt, day, done, failed, log_of

from buildplan.journal import (
    Outcome,
    check_log,
    factor_for,
    fail_frac,
    fit_failures,
    learn,
    read_log,
    take_csv,
    tally_log,
    write_csv,
)

text = st.text(
    st.characters(exclude_categories=("Cs",), exclude_characters="\0"), min_size=1, max_size=12
).filter(lambda words: words.strip())
number = st.floats(1e-3, 1e4)
outcomes = st.one_of(
    st.none(),
    st.builds(done, number, mass_g=st.one_of(st.none(), number), note=text),
    st.builds(failed, number),
    st.builds(lambda: Outcome(end="void", at_utc="2031-01-01")),
)


@st.composite
def prints(draw, names=text):
    count = draw(st.integers(0, 6))
    return [
        (
            attempt(
                f"u{k}",
                part=draw(names),
                printer=draw(names),
                feedstock=draw(names),
                predicted_h=draw(number),
                started_utc=day(draw(st.integers(0, 400))),
            ),
            draw(outcomes),
        )
        for k in range(count)
    ]


@settings(deadline=None, max_examples=30)
@given(prints())
def test_any_log_goes_through_a_table_and_a_file_unchanged(rows):
    log = log_of(rows)
    with tempfile.TemporaryDirectory() as folder:
        table = write_csv(log, Path(folder) / "a.csv")
        path = Path(folder) / "a.sqlite"
        take_csv(path, table)
        back = read_log(path)
        assert [(p.attempt, p.outcome) for p in back.prints] == rows
        assert write_csv(back, Path(folder) / "b.csv").read_bytes() == table.read_bytes()
        assert check_log(path).fault == ""


few_names = st.sampled_from(["a", "b"])


@settings(deadline=None, max_examples=30)
@given(prints(few_names), st.integers(0, 99))
def test_the_order_of_rows_changes_no_answer(rows, seed):
    mixed = list(rows)
    random.Random(seed).shuffle(mixed)
    one, other = log_of(rows), log_of(mixed)
    assert factor_for(learn(one).time, "a", "b") == factor_for(learn(other).time, "a", "b")
    assert tally_log(one) == tally_log(other)


@settings(deadline=None, max_examples=30)
@given(prints(few_names), st.floats(0.01, 100.0))
def test_a_success_never_makes_failing_more_likely_on_its_printer(rows, hours):
    more = [*rows, (attempt("new", printer="a", feedstock="b"), done(hours))]
    before, after = (fit_failures(tally_log(log_of(log))) for log in (rows, more))
    assert fail_frac(after, "a", "b", 20.0) <= fail_frac(before, "a", "b", 20.0) * (1 + 1e-12)


@settings(deadline=None, max_examples=30)
@given(prints(few_names), st.floats(0.5, 2.0))
def test_the_factor_lies_between_one_and_what_all_prints_showed(rows, by):
    rows = [(a, done(a.predicted_h)) for a, _ in rows]
    scaled = [(dataclasses.replace(a, predicted_h=a.predicted_h / by), o) for a, o in rows]
    one = factor_for(learn(log_of(rows)).time, "a", "b").likely_frac
    other = factor_for(learn(log_of(scaled)).time, "a", "b").likely_frac
    assert abs(one - 1.0) < 1e-12
    assert (other - 1.0) * (by - 1.0) >= -1e-12
    assert min(by, 1.0) - 1e-12 <= other <= max(by, 1.0) + 1e-12
