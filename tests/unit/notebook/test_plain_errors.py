"""What a maker sees in a cell where the input is wrong, and where a program is."""

import pytest
from IPython.core.interactiveshell import InteractiveShell

from buildplan.errors import InputError
from buildplan.notebook.answers.plain_errors import error_answer, say_errors_plainly


@pytest.fixture
def shell():
    made = InteractiveShell.instance()
    say_errors_plainly()
    yield made
    InteractiveShell.clear_instance()


def test_wrong_input_is_told_in_plain_words_and_the_cell_fails(shell, capsys):
    done = shell.run_cell("from buildplan import printer; printer('larg_moving_bed')")
    said = capsys.readouterr().out
    assert isinstance(done.error_in_exec, InputError)
    assert "larg_moving_bed" in said
    assert "Traceback" not in said
    assert "Custom TB" not in said


def test_a_fault_of_the_program_keeps_its_traceback(shell, capsys):
    done = shell.run_cell("1 / 0")
    assert isinstance(done.error_in_exec, ZeroDivisionError)
    assert "Traceback" in capsys.readouterr().out


def test_all_lines_of_an_error_are_shown_and_escaped():
    answer = error_answer(InputError("build.toml is wrong:\n  line 3: <b> is no part\n\n  line 9"))
    assert answer.severity == "stop"
    assert answer.heading == "build.toml is wrong:"
    assert "&lt;b&gt;" in answer.html
    assert answer.html.count("<p>") == 2
