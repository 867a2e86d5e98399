"""The reader of places agrees with the standard parser wherever it looks."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.scene.document import written
from sim.scene.layout import Where, read_layout

ODD = r'''
"quoted . key" = 1 # = [not] a "header"
'lit#eral' = 'c:\path\' # back slash
dotted . "two # words" . x = { y = 1, z = { w = [ { v = 2 }, { v = 3 } ] } }
long = """
[not a header]
key = "no key" \"""" # four quotes
raw = """"two quotes at the end"""""
raw_literal = §'one'§ # one more
dates = [1979-05-27T07:32:00Z, 1979-05-27 07:32:00, 07:32:00]
numbers = [ 1_000, 0xff, 1e6, -inf, # inner ] comment
  nan, [], [ [] ], {} ,
]
[ table . inner ] # spaced
k = true
[[list]]
a.b = 1
[[list]]
[list.sub]
c = "]"
[[list.nested]]
d = 1
[[list.nested]]
d = 2
[table]
last = 'x'
'''.replace("§", 3 * "'")


def everything_in(value: Any, path: Where = ()) -> list[tuple[Where, Any]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [(path, value), *(found for key, item in items for found in everything_in(item, (*path, key)))]


def check_places(text: str) -> int:
    """Each noted value, cut out and parsed alone, is the value that the parser found there."""
    layout = read_layout(text)
    seen = 0
    for path, value in everything_in(tomllib.loads(text)):
        assert not path or layout.line_of(path) is not None
        if path in layout.values:
            start, end = layout.values[path]
            assert repr(tomllib.loads(f"x = {text[start:end]}")["x"]) == repr(value)
            assert text.count("\n", 0, start) + 1 >= layout.lines[path]
            seen += 1
        else:
            assert isinstance(value, (dict, list))  # a table with a header, or with dotted keys
    assert seen == len(layout.values)
    return seen


@pytest.mark.parametrize(
    "text", [ODD, ODD.replace("\n", "\r\n"), ODD.strip()], ids=["unix", "windows", "no last line end"]
)
def test_odd_but_valid_toml(text: str) -> None:
    assert check_places(text) > 30


def test_lines_are_counted_from_one() -> None:
    layout = read_layout("# c\na = 1\n\n[[p]]\nb = [\n 1,\n 2]\n[[p]]\nb = 3\n")
    assert layout.lines[("a",)] == 2
    assert [layout.lines[("p", number)] for number in (0, 1)] == [4, 8]
    assert layout.lines[("p", 0, "b", 1)] == 7
    assert layout.line_of(("p", 1, "missing")) == 8


values = st.recursive(
    st.one_of(
        st.integers(-(10**9), 10**9), st.booleans(), st.floats(allow_nan=False), st.text(st.characters(codec="utf-8"))
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.text(st.characters(codec="utf-8")), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(st.dictionaries(st.text(st.characters(codec="utf-8")), values, max_size=5))
def test_whatever_is_written_is_read_back_and_found(table: dict[str, Any]) -> None:
    text = f"x = {written(table)}\n"
    back = tomllib.loads(text)["x"]
    assert back == table
    check_places(text)
