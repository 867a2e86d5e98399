"""Where everything stands in a TOML text: lines for messages, spans for changes.

The standard parser gives values without their place. This reader walks a text that the parser
has already found valid, so it may trust the grammar and only takes notes.

Glossary
--------
path : keys and list numbers from the top, such as ``("piece", 2, "at_mm", 0)``
span : first and last-plus-one character of something in the text
statement : ``key = value`` and the comment behind it, up to the end of the line
region : a header such as ``[[piece]]`` and the statements under it
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field

Where = tuple[str | int, ...]
Span = tuple[int, int]

_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_REST_OF_LINE = re.compile(r"[ \t]*(?:#[^\r\n]*)?")
_BARE_KEY = re.compile(r"[^\s.=\]\"']+")
_BARE_VALUE = re.compile(r"[^,\]}#\r\n]*[^,\]}#\s]")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{1,2}(?!"))?|\'\'\'.*?\'\'\'(?:\'{1,2}(?!\'))?|"(?:\\.|[^"\\])*"|\'[^\']*\'', re.DOTALL
)


@dataclass(slots=True)
class Layout:
    """Places by path."""

    lines: dict[Where, int] = field(default_factory=dict)  # from 1
    keys: dict[Where, Span] = field(default_factory=dict)
    values: dict[Where, Span] = field(default_factory=dict)
    statements: dict[Where, Span] = field(default_factory=dict)
    regions: list[tuple[Where, Span]] = field(default_factory=list)

    def line_of(self, place: Where) -> int | None:
        """The line of the longest known beginning of `place`."""
        for length in range(len(place), 0, -1):
            if place[:length] in self.lines:
                return self.lines[place[:length]]
        return None


def read_layout(text: str) -> Layout:
    """Walk through valid TOML `text`."""
    reader = _Reader(text)
    reader.read()
    return reader.layout


class _Reader:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.counted = 0
        self.line = 1
        self.layout = Layout()
        self.counts: dict[Where, int] = {}

    def read(self) -> None:
        table: Where = ()
        region = 0
        self.skip(_BLANK)
        while self.at < len(self.text):
            start = self.at
            if self.text[start] == "[":
                table, region = self.header(), start
                self.skip(_REST_OF_LINE)
                self.layout.regions.append((table, (region, self.at)))
            else:
                path = self.pair(table)
                self.skip(_REST_OF_LINE)
                self.layout.statements[path] = (start, self.at)
                if self.layout.regions:
                    self.layout.regions[-1] = (table, (region, self.at))
            self.skip(_BLANK)

    def skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def note(self, path: Where) -> None:
        """Remember the line of a path that begins here, unless it began earlier."""
        self.line += self.text.count("\n", self.counted, self.at)
        self.counted = self.at
        self.layout.lines.setdefault(path, self.line)

    def header(self) -> Where:
        """`[a.b]` or `[[a.b]]`: the path that the following keys belong to."""
        array = self.text.startswith("[[", self.at)
        path: Where = ()
        self.at += 2 if array else 1
        keys = self.dotted("]")
        for depth, (key, _) in enumerate(keys):
            path = (*path, key)
            if array and depth == len(keys) - 1:
                self.counts[path] = self.counts.get(path, 0) + 1
            if path in self.counts:
                self.note(path)
                path = (*path, self.counts[path] - 1)
            self.note(path)
        self.at += 2 if array else 1
        return path

    def dotted(self, end: str) -> list[tuple[str, Span]]:
        """The parts of a dotted key up to the sign `end`, on which the reader stops."""
        found: list[tuple[str, Span]] = []
        while self.text[self.at] != end:
            start = self.at
            if self.text[start] in " \t.":
                self.at += 1
                continue
            quoted = self.text[start] in "\"'"
            self.skip(_STRING if quoted else _BARE_KEY)
            word = self.text[start : self.at]
            found.append((tomllib.loads(f"x = {word}")["x"] if quoted else word, (start, self.at)))
        return found

    def pair(self, table: Where) -> Where:
        path = table
        for key, span in self.dotted("="):
            path = (*path, key)
            self.note(path)
            self.layout.keys[path] = span
        self.at += 1
        self.value(path)
        return path

    def value(self, path: Where) -> None:
        self.skip(_BLANK)
        start, sign = self.at, self.text[self.at]
        if sign in "[{":
            self.at += 1
            self.items(path, "]" if sign == "[" else "}")
        else:
            self.skip(_STRING if sign in "\"'" else _BARE_VALUE)
        self.layout.values[path] = (start, self.at)

    def items(self, path: Where, end: str) -> None:
        """What stands between the brackets of a list or an inline table."""
        index = 0
        self.skip(_BLANK)
        while self.text[self.at] != end:
            if self.text[self.at] == ",":
                self.at += 1
            elif end == "}":
                self.pair(path)
            else:
                self.note((*path, index))
                self.value((*path, index))
                index += 1
            self.skip(_BLANK)
        self.at += 1
