from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from bandwright.documents.lines import line_of, toml_lines

TEXT = '''# a comment with [[link]] in it
title = """two
lines = 1
"""

[place]
"odd key" = 'x'   # ] }
dotted.inner = 1

[[radio]]
id = "a"
tuning = [
  # a comment, with a comma
  { low_mhz = 470.1, high_mhz = 1 },
  { low_mhz = 2,
    high_mhz = 3 },
]
  [[radio.variant]]
  id = "n"
  [[radio.variant]]
  id = "m"
[[radio]]
id = "b"
when = 2027-05-14 10:00:00
last = ["x#y", 'z]', [1, [2,
3]]]
'''


def test_every_key_of_a_text_full_of_traps_has_its_own_line():
    # TOML 1.0 has no line breaks in inline tables (1.1 has); the first part checks what both accept.
    text = TEXT.replace("{ low_mhz = 2,\n    high_mhz", "{ low_mhz = 2, high_mhz")
    tomllib.loads(text)
    lines = toml_lines(text)
    wanted = {
        ("title",): "title =",
        ("place", "odd key"): '"odd key"',
        ("place", "dotted"): "dotted.inner",
        ("place", "dotted", "inner"): "dotted.inner",
        ("radio", 0, "id"): 'id = "a"',
        ("radio", 0, "tuning", 0, "high_mhz"): "{ low_mhz = 470.1",
        ("radio", 0, "tuning", 1, "low_mhz"): "{ low_mhz = 2",
        ("radio", 0, "variant", 0, "id"): 'id = "n"',
        ("radio", 0, "variant", 1, "id"): 'id = "m"',
        ("radio", 1, "id"): 'id = "b"',
        ("radio", 1, "last", 2, 1, 1): "3]]]",
    }
    rows = text.split("\n")
    for path, start in wanted.items():
        assert rows[lines[path] - 1].lstrip().startswith(start), (path, lines[path])


def test_inline_tables_over_several_lines_are_followed():
    lines = toml_lines(TEXT)
    assert lines["radio", 0, "tuning", 1, "high_mhz"] == lines["radio", 0, "tuning", 1, "low_mhz"] + 1


def test_a_missing_key_is_sought_in_its_table():
    lines = toml_lines("a = 1\n[[link]]\nid = 'x'\n")
    assert line_of(lines, ("link", 0, "radio", 3)) == 2
    assert line_of(lines, ("nothing",)) is None


def test_windows_line_ends_count_once():
    assert toml_lines("a = 1\r\nb = 2\r\n\r\nc = '''x\r\ny'''\r\nd = 4")[("d",)] == 6


def paths(value, path=()):
    yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in items:
        yield from paths(item, (*path, key))


@given(st.text(alphabet="ab=[]{}\"'.,#\n1 \\", max_size=60))
def test_any_text_that_is_toml_is_located_completely(text):
    try:
        data = tomllib.loads(text)
    except ValueError:
        return
    lines = toml_lines(text)
    assert all(line_of(lines, path) is not None for path in paths(data) if path)
