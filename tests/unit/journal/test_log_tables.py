import csv
import io
from pathlib import Path

import pytest
from logs import attempt, done, failed

from buildplan.errors import InputError
from buildplan.journal import (
    machine_change,
    read_csv,
    read_log,
    record_change,
    record_outcome,
    record_start,
    take_csv,
    write_csv,
)
from buildplan.journal.csv_io import FORMULA_STARTS, plain, shielded

NASTY = [
    "=1+2", "+1", "-1", "@x", " =x", "\u00a0=x", "\tx", "\rx", "\nx", "'x", "''x",
    "\uff1dx", "\uff20x",
    'say "hi"', "a,b", "two\nlines", "two\r\nlines", "", " ", "# no remark", "-", "\ufeff=x",
    "\u2028x", "12", "1e5",
]  # fmt: skip
DEMO = Path(__file__).parents[3] / "parts" / "sprout_house" / "print_log.csv"


def filled(path):
    for k, text in enumerate(NASTY):
        number = record_start(
            path,
            attempt(
                f"u{k}", part="p" + text, recipe=text, predicted_h=0.1 + k / 3, walls_frac=k / 70
            ),
        )
        if k % 4 != 3:
            outcome = done(1 / 3, mass_g=0.1, note=text) if k % 2 else failed(0.7)
            record_outcome(path, number, outcome)
    record_change(path, machine_change("nozzle", "north bench", "2031-02-04", note="=new"))
    record_change(
        path, machine_change("feedstock", "north bench", "2031-02-05T10:00:00Z", feedstock="PLA")
    )


def test_a_table_goes_out_and_in_without_loss(tmp_path):
    first, second = tmp_path / "a.sqlite", tmp_path / "b.sqlite"
    filled(first)
    table = write_csv(read_log(first), tmp_path / "a.csv")
    taken = take_csv(second, table)
    assert (taken.prints, taken.changes, taken.known) == (len(NASTY), 2, 0)
    again = write_csv(read_log(second), tmp_path / "b.csv")
    assert again.read_bytes() == table.read_bytes()
    one, other = read_log(first), read_log(second)
    assert [(p.attempt, p.outcome) for p in one.prints] == [
        (p.attempt, p.outcome) for p in other.prints
    ]


def test_reading_a_table_twice_is_reading_it_once(tmp_path):
    path = tmp_path / "a.sqlite"
    filled(path)
    before = read_log(path)
    taken = take_csv(path, write_csv(before, tmp_path / "a.csv"))
    assert (taken.prints, taken.outcomes, taken.changes) == (0, 0, 0)
    assert read_log(path) == before


def test_no_cell_of_text_is_a_formula_to_a_spreadsheet(tmp_path):
    path = tmp_path / "a.sqlite"
    filled(path)
    text = write_csv(read_log(path), tmp_path / "a.csv").read_bytes().decode("utf-8-sig")
    for row in csv.reader(io.StringIO(text, newline="")):
        for cell in row:
            first = cell.lstrip(" \u00a0\ufeff")[:1]
            assert not first or first == "'" or first not in FORMULA_STARTS
    assert all(plain(shielded(text)) == text for text in NASTY)


def test_the_demo_log_is_taken_whole_and_only_once(tmp_path):
    path = tmp_path / "a.sqlite"
    assert take_csv(path, DEMO).prints == 26
    assert take_csv(path, DEMO).known == 26
    assert len({p.attempt.uid for p in read_log(path).prints}) == 26


def test_another_end_in_the_table_is_a_correction_another_prediction_is_refused(tmp_path):
    path, table = tmp_path / "a.sqlite", tmp_path / "a.csv"
    number = record_start(path, attempt("u", predicted_h=4.0))
    record_outcome(path, number, done(4.5))
    write_csv(read_log(path), table)
    text = table.read_text("utf-8-sig")
    table.write_text(text.replace("4.5", "4.75"))
    assert take_csv(path, table).outcomes == 1
    assert read_log(path).prints[0].outcome.ran_h == 4.75
    table.write_text(text.replace("4.0", "9.0"))
    with pytest.raises(InputError, match="never changed"):
        take_csv(path, table)


HEAD = "started,part,printer,feedstock,predicted_h,end,ran_h,cause\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no header"),
        ("started,part\n", "missing: printer, feedstock"),
        (HEAD.replace("cause", "colour"), "not known: colour"),
        (HEAD + "2031-01-01,tub,n,P,4,done\n", "line 2: 6 cells found, 8 needed"),
        (HEAD + "2031-01-01,tub,n,P,four,done,4,\n", "line 2.*predicted_h: 'four'"),
        (HEAD + "2031-13-01,tub,n,P,4,done,4,\n", "line 2.*no date"),
        (HEAD + "# ok\n", "line 2"),
        ("# remark\n" + HEAD + "2031-01-01,tub,n,P,4,failed,4,\n", "line 3.*needs a cause"),
        (HEAD + '2031-01-01,"tub,n,P,4,failed,4,\n', "unexpected end"),
    ],
)
def test_a_wrong_table_is_refused_with_its_line_and_changes_nothing(tmp_path, text, words):
    table, path = tmp_path / "a.csv", tmp_path / "a.sqlite"
    table.write_text(text)
    with pytest.raises(InputError, match=words):
        take_csv(path, table)
    assert not path.exists()
    with pytest.raises(InputError):
        read_csv(table)


def test_one_wrong_row_keeps_all_rows_out(tmp_path):
    table, path = tmp_path / "a.csv", tmp_path / "a.sqlite"
    record_start(path, attempt("u"))
    table.write_text(
        "uid," + HEAD + "new,2031-01-01,tub,n,P,4,done,4,\nu,2031-01-01,other,n,P,4,done,4,\n"
    )
    with pytest.raises(InputError, match="another uid"):
        take_csv(path, table)
    assert len(read_log(path).prints) == 1
