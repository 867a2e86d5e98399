"""A scene file as text that can be changed in places: every other byte stays as the user wrote it.

Trees of TOML that keep comments exist, but they put sections into another order where the user
mixes ``[[piece]]`` and ``[[joint]]``. Here a change is a splice into the text.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from functools import cached_property
from typing import Any

from sim.scene.layout import Layout, Where, read_layout
from sim.scene.section import Section

Splice = tuple[int, int, str]  # from, to, what to put there


class Document:
    """The text of a scene file; read-only views of it are renewed after each change."""

    def __init__(self, text: str) -> None:
        self._text = text

    @property
    def text(self) -> str:
        """The text as it would be saved."""
        return self._text

    @cached_property
    def table(self) -> dict[str, Any]:
        """The values in the text."""
        return tomllib.loads(self._text)

    @cached_property
    def layout(self) -> Layout:
        """Where they stand."""
        return read_layout(self._text)

    @property
    def newline(self) -> str:
        return "\r\n" if "\r\n" in self._text else "\n"

    def entries(self, section: str) -> list[dict[str, Any]]:
        """The tables of a list such as ``piece``."""
        found = self.table.get(section, [])
        return [entry for entry in found if isinstance(entry, dict)] if isinstance(found, list) else []

    def replace(self, text: str) -> None:
        """Put another text in its place."""
        self._text = text
        self.__dict__.pop("table", None)
        self.__dict__.pop("layout", None)

    def splice(self, splices: list[Splice]) -> None:
        """Apply changes that were all worked out on the present text and do not overlap."""
        text = self._text
        for start, end, new in sorted(splices, key=lambda splice: splice[:2], reverse=True):
            text = text[:start] + new + text[end:]
        self.replace(text)

    def at(self, path: Where) -> Any:
        """The value at `path`, or None."""
        here: Any = self.table
        for part in path:
            if isinstance(part, str):
                here = here.get(part) if isinstance(here, dict) else None
            else:
                here = here[part] if isinstance(here, list) and part < len(here) else None
        return here


def assigning(document: Document, table: Where, key: str, value: Any, instead_of: str = "") -> list[Splice]:
    """The splices that set a key, and take `instead_of` out or over.

    A list that keeps its length keeps its line breaks and inner comments; a new key goes to the
    end of its table; a key that takes another's place takes its line and comment too.
    """
    path, other = (*table, key), (*table, instead_of)
    layout = document.layout
    old = document.at(path)
    if instead_of and other in layout.values:
        if old is None:
            return [(*layout.keys[other], key), (*layout.values[other], written(value))]
        return [*removing(document, table, instead_of), *assigning(document, table, key, value)]
    if old is None:
        return [_insertion(document, table, key, written(value))]
    if isinstance(old, list) and isinstance(value, list) and len(old) == len(value) and path in layout.values:
        pairs = enumerate(zip(old, value, strict=True))
        return [(*layout.values[(*path, number)], written(new)) for number, (was, new) in pairs if was != new]
    return [] if old == value else [(*layout.values[path], written(value))]


def removing(document: Document, table: Where, key: str) -> list[Splice]:
    """The splices that take a key out of its table, if it is there."""
    path = (*table, key)
    if path in document.layout.statements:
        return [_whole_lines(document.text, *document.layout.statements[path])]
    if path not in document.layout.values:
        return []
    start, end = document.layout.keys[path][0], document.layout.values[path][1]
    return [_with_comma(document.text, start, end)]


def appending(document: Document, section: str, values: Mapping[str, Any]) -> Splice:
    """The splice that appends a table to a list, in the form that the file uses for it."""
    text, line = document.text, document.newline
    if (section,) in document.layout.values:
        count = len(document.table[section])
        if count:
            end = document.layout.values[(section, count - 1)][1]
            return (end, end, f", {written(values)}")
        return (*document.layout.values[(section,)], f"[{written(values)}]")
    lines = [f"[[{section}]]", *(f"{key_written(key)} = {written(value)}" for key, value in values.items())]
    ends = [span[1] for path, span in document.layout.regions if path[:1] == (section,)]
    at = max(ends) if ends else len(text.rstrip())
    gap = "" if not at else line + line
    return (at, at if ends else len(text), gap + line.join(lines) + ("" if ends else line))


def discarding(document: Document, section: str, number: int) -> list[Splice]:
    """The splices that take one table out of a list; comments outside of it stay."""
    path: Where = (section, number)
    if path in document.layout.values:
        return [_with_comma(document.text, *document.layout.values[path])]
    spans = [span for place, span in document.layout.regions if place[:2] == path]
    return [_whole_lines(document.text, *span) for span in spans]


def written(value: Any) -> str:
    """A value as TOML on one line: numbers without needless zeros."""
    if isinstance(value, Section):
        value = value.model_dump(exclude_unset=True, exclude_none=True)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key_written(key)} = {written(item)}" for key, item in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(written(item) for item in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return str(value)


def key_written(key: str) -> str:
    """A key, in quotes where TOML needs them."""
    bare = key.isascii() and key.replace("_", "").replace("-", "").isalnum()
    return key if bare else written(key)


def _insertion(document: Document, table: Where, key: str, value: str) -> Splice:
    """Where a new key goes: behind the last one of its table."""
    text, layout, line = document.text, document.layout, document.newline
    if table in layout.values:  # { ... }
        ends = [
            span[1] for path, span in layout.values.items() if len(path) > len(table) and path[: len(table)] == table
        ]
        if ends:
            return (max(ends), max(ends), f", {key} = {value}")
        return (*layout.values[table], f"{{ {key} = {value} }}")
    for path, (start, end) in layout.regions:
        if path == table:
            indent = text[text.rfind("\n", 0, start) + 1 : start]
            return (end, end, f"{line}{indent}{key} = {value}")
    for path, (start, end) in reversed(layout.statements.items()):  # water.level_mm = ...
        if len(path) > len(table) and path[: len(table)] == table:
            before = text[start : layout.keys[path[: len(table) + 1]][0]]
            return (end, end, f"{line}{before}{key} = {value}")
    at = len(text.rstrip())
    return (at, len(text), f"{line}{line}[{'.'.join(str(part) for part in table)}]{line}{key} = {value}{line}")


def _whole_lines(text: str, start: int, end: int) -> Splice:
    """The lines of a span, with one empty line where two would be left."""
    first = text.rfind("\n", 0, start) + 1
    after = text.find("\n", end) + 1 or len(text)
    if text[:first].endswith(("\n\n", "\n\r\n")) or not first:
        rest = text[after:]
        after += len(rest) - len(rest.lstrip("\r\n"))
    return (first, after, "")


def _with_comma(text: str, start: int, end: int) -> Splice:
    """An item of a list or inline table, and the comma that goes with it."""
    follows = text[end:].lstrip()
    if follows.startswith(","):
        after = end + text[end:].index(",") + 1
        return (start, after + len(text[after:]) - len(text[after:].lstrip(" \t")), "")
    before = text[:start].rstrip()
    return (len(before) - 1 if before.endswith(",") else start, end, "")
