"""A number with its range, its source and what that source is worth; and looking up names.

`status` of a value:

- read in a published copy: the cited text, or a copy of its table, was read
- computed: follows from other values here by a stated formula
- from memory: the source is named but was not opened; consult it before relying on it
- judgement: ours, from the evidence named
- common practice, no source: what builders say
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar

from sim.errors import MaterialError

Status = Literal["read in a published copy", "computed", "from memory", "judgement", "common practice, no source"]

PUBLISHED: Status = "read in a published copy"
COMPUTED: Status = "computed"
MEMORY: Status = "from memory"
JUDGEMENT: Status = "judgement"
PRACTICE: Status = "common practice, no source"

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class Value:
    """A number of a table.

    Attributes
    ----------
    default : float
        What the tool uses where the user gives nothing: our choice inside the range, its middle
        unless a comment in the table says why not.
    low, high : float
        Range within which the cited source, of the given status, puts it.
    unit : str
        Unit of all three; "1" for pure numbers.
    source : str
        Author, year, title and place, or the grounds of a judgement.
    status : str
        What the source is worth, see the module's list.
    """

    default: float
    low: float
    high: float
    unit: str
    source: str
    status: Status

    def holds(self, number: float) -> bool:
        """Whether `number` lies in the range, ends included."""
        return self.low <= number <= self.high


def middle(low: float, high: float, unit: str, source: str, status: Status) -> Value:
    """A range with its middle as default, four significant digits."""
    return Value(float(f"{(low + high) / 2:.4g}"), low, high, unit, source, status)


def exactly(number: float, unit: str, source: str, status: Status) -> Value:
    """A value without a range."""
    return Value(number, number, number, unit, source, status)


def look_up(kind: str, name: str, table: Mapping[str, Row]) -> Row:
    """The row of `table` under `name`, upper and lower case alike.

    Raises
    ------
    MaterialError
        For an unknown name, with the nearest one or all of them.
    """
    row = table.get(name)
    if row is not None:
        return row
    by_plain = {_plain(key): key for key in table}
    key = by_plain.get(_plain(name))
    if key is None:
        raise MaterialError(unknown(kind, name, table))
    return table[key]


def unknown(kind: str, name: str, choices: Iterable[str]) -> str:
    """One sentence for a name that no table holds: the nearest one, then all."""
    by_plain = {_plain(key): key for key in choices}
    near = difflib.get_close_matches(_plain(name)[:100], by_plain, n=1)
    hint = f'Did you mean "{by_plain[near[0]]}"? ' if near else ""
    known = ", ".join(by_plain.values())
    return f'"{name[:60]}" is no {kind} that the tables know. {hint}Known: {known}.'


def _plain(name: str) -> str:
    return " ".join(name.lower().split())
