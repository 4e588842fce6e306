"""Finding the line of a key in a TOML text."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildplan.tables.lines import line_of, lines_of

TEXT = '''# a comment with [brackets] and = signs
[build]
name = "a # b"   # not a comment start
"quoted key" = 1
a.b."c d" = 2
list = [
  [1.0],
  ["]", 2],   # ]
]
block = """
[not.a.table]
key = 3
\\""" still in it
"""
other = \'\'\'
[[part]]
\'\'\'
after = 1
[[part]]
name = "one"
[[part.feature]]
name = "f0"
[[part.feature]]
name = "f1"
[part.feature.deep]
x = 1
[[part]]
name = "two"
[[part.feature]]
name = "g0"
[power."my load"]
volt = 5
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("build",), 2),
        (("build", "name"), 3),
        (("build", "quoted key"), 4),
        (("build", "a", "b", "c d"), 5),
        (("build", "list"), 6),
        (("build", "list", 1, 0), 6),
        (("build", "block"), 10),
        (("build", "other"), 15),
        (("build", "after"), 18),
        (("part", 0), 19),
        (("part", 0, "name"), 20),
        (("part", 0, "feature", 0, "name"), 22),
        (("part", 0, "feature", 1, "name"), 24),
        (("part", 0, "feature", 1, "deep", "x"), 26),
        (("part", 1), 27),
        (("part", 1, "feature", 0, "name"), 30),
        (("power", "my load", "volt"), 32),
        (("part", 1, "missing"), 27),
        (("part",), 19),
        (("power",), 31),
    ],
)
def test_a_key_is_found_on_its_line(path, line):
    assert line_of(lines_of(TEXT), path) == line


def test_what_is_not_in_the_text_has_no_line():
    assert line_of(lines_of(TEXT), ("nothing",)) is None
    assert line_of({}, ()) is None


PIECES = st.sampled_from(
    [
        "plain = 1",
        "'lit key' = 'x # y'",
        'text = "[a] = \\" \\\\"',
        'long = """\nkey = 1\n[x]\n"""',
        'tight = """a"b""c"""""',
        "lit = '''\n[[part]]\n'' = '''",
        "rows = [\n  [1, 2],\n\n  # note ] \n  [3],\n]",
        'inline = { a = 1, b = "}" }',
        "# only a comment",
        "",
    ]
)


@given(st.lists(st.tuples(st.booleans(), st.lists(PIECES, unique=True, max_size=5)), max_size=6))
def test_every_key_of_a_random_text_is_found_on_a_line_that_holds_it(blocks):
    text, counts = "", {"part": -1, "note": -1}
    expected = {}
    for is_part, pieces in blocks:
        head = "part" if is_part else "note"
        counts[head] += 1
        text += f"[[{head}]]\n"
        for piece in pieces:
            if "=" in piece:
                key = piece.split("=")[0].strip().strip("'\"")
                expected[head, counts[head], key] = text.count("\n") + 1
            text += piece + "\n"
    tomllib.loads(text)
    found = lines_of(text)
    for path, line in expected.items():
        assert found[path] == line
    keys = {path for path in found if len(path) == 3}
    assert keys == set(expected)
