import io
from pathlib import Path

from logs import attempt, done, failed, log_of

from buildplan.journal import CsvTaken, LogCheck, fit_failures, learn, machine_change, tally_log
from buildplan.report.journal_text import (
    print_check,
    print_learned,
    print_log,
    print_recorded,
    print_taken,
)
from buildplan.report.terminal import console


def shown(write, *given, **more):
    out = io.StringIO()
    write(console(out, width=110), *given, **more)
    return out.getvalue()


LOG = log_of(
    [
        (attempt("a", started_utc="2031-01-05"), done(8.25, mass_g=140.0)),
        (attempt("b", started_utc="2031-01-02", part="lid", piece=2), failed(3.5, "no_adhesion")),
        (attempt("c", started_utc="2031-01-07"), None),
    ],
    [machine_change("nozzle", "north bench", "2031-01-06")],
)


def test_the_list_goes_by_date_and_names_ends_causes_and_changes():
    text = shown(print_log, LOG)
    assert text.index("lid (2)") < text.index("tub")
    assert "failed (no adhesion)" in text
    assert "8.2" in text
    assert "3 prints; 1 without an end yet." in text
    assert "2031-01-06  new nozzle on north bench" in text


def test_the_last_ones_can_be_asked_for():
    text = shown(print_log, LOG, last=1)
    assert "lid" not in text
    assert "the last 1 shown" in text
    assert "0 prints" in shown(print_log, log_of([]), last=5)


def test_what_was_learned_is_said_in_sentences_or_that_nothing_was():
    model = fit_failures(tally_log(LOG))
    text = " ".join(shown(print_learned, LOG, learn(LOG), model).split())
    assert "north bench, PETG" in text
    assert "from your 1 print on north bench; the range stays wide until 5 are logged" in text
    assert "1 failure in 11 h of PETG after the start" in text
    nothing = log_of([])
    assert "Nothing is logged" in shown(print_learned, nothing, learn(nothing), fit_failures(()))


def test_a_whole_file_and_a_damaged_one_read_differently():
    whole = LogCheck(rows=52, last_sha256="ab" * 32, fault="")
    assert "52 rows, each as it was written" in shown(print_check, Path("l.sqlite"), whole)
    bad = LogCheck(rows=3, last_sha256="ab" * 32, fault="row 4 is missing or doubled")
    text = shown(print_check, Path("l.sqlite"), bad)
    assert "row 4 is missing" in text
    assert "put a backup in its place" in text


def test_writing_and_reading_tables_is_confirmed():
    assert "print 4: started" in shown(print_recorded, Path("l.sqlite"), 4, "started")
    taken = CsvTaken(prints=26, outcomes=26, changes=1, known=0)
    assert "26 new prints" in shown(print_taken, Path("a.csv"), taken)
