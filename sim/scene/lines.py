"""On which line of a TOML text each key stands.

The standard parser gives values without their place. This reader walks a text that the parser
has already found valid, so it may trust the grammar and only keeps count of lines.
"""

from __future__ import annotations

import tomllib

Where = tuple[str | int, ...]


def line_numbers(text: str) -> dict[Where, int]:
    """Line (from 1) of every table, key and list item in valid TOML `text`, by its path."""
    return _Reader(text.replace("\r\n", "\n")).read()


def line_of(place: Where, lines: dict[Where, int]) -> int | None:
    """The line of the longest known beginning of `place`."""
    for length in range(len(place), 0, -1):
        if place[:length] in lines:
            return lines[place[:length]]
    return None


class _Reader:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[Where, int] = {}
        self.counts: dict[Where, int] = {}

    def read(self) -> dict[Where, int]:
        table: Where = ()
        self.skip_blank()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.skip_blank()
        return self.lines

    def step(self, count: int = 1) -> None:
        self.line += self.text.count("\n", self.at, self.at + count)
        self.at += count

    def skip_blank(self) -> None:
        """Over white space, line ends and comments."""
        while self.at < len(self.text) and self.text[self.at] in " \t\n#":
            if self.text[self.at] == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            else:
                self.step()

    def header(self) -> Where:
        """`[a.b]` or `[[a.b]]`: the path that the following keys belong to."""
        line, array = self.line, self.text.startswith("[[", self.at)
        self.step(2 if array else 1)
        keys = self.keys("]")
        self.step(2 if array else 1)
        path: Where = ()
        for depth, key in enumerate(keys):
            path = (*path, key)
            if array and depth == len(keys) - 1:
                self.counts[path] = self.counts.get(path, 0) + 1
            if path in self.counts:
                self.lines.setdefault(path, line)
                path = (*path, self.counts[path] - 1)
        self.lines.setdefault(path, line)
        return path

    def keys(self, end: str) -> list[str]:
        """A dotted key up to the sign `end`, on which the reader stops."""
        found: list[str] = []
        while self.text[self.at] != end:
            sign = self.text[self.at]
            start = self.at
            if sign in "\"'":
                self.string()
                found.append(tomllib.loads(f"x = {self.text[start : self.at]}")["x"])
            elif sign in " \t.":
                self.step()
            else:
                while self.text[self.at] not in f" \t.{end}":
                    self.step()
                found.append(self.text[start : self.at])
        return found

    def pair(self, table: Where) -> None:
        line = self.line
        path = table
        for key in self.keys("="):
            path = (*path, key)
            self.lines.setdefault(path, line)
        self.step()
        self.value(path)

    def value(self, path: Where) -> None:
        self.skip_blank()
        sign = self.text[self.at]
        if sign == "[":
            self.list(path)
        elif sign == "{":
            self.inline_table(path)
        elif sign in "\"'":
            self.string()
        else:
            while self.at < len(self.text) and self.text[self.at] not in ",]}#\n":
                self.step()

    def list(self, path: Where) -> None:
        self.step()
        index = 0
        self.skip_blank()
        while self.text[self.at] != "]":
            if self.text[self.at] == ",":
                self.step()
            else:
                self.lines[(*path, index)] = self.line
                self.value((*path, index))
                index += 1
            self.skip_blank()
        self.step()

    def inline_table(self, path: Where) -> None:
        self.step()
        self.skip_blank()
        while self.text[self.at] != "}":
            if self.text[self.at] == ",":
                self.step()
            else:
                self.pair(path)
            self.skip_blank()
        self.step()

    def string(self) -> None:
        quote = self.text[self.at]
        fence = quote * 3 if self.text.startswith(quote * 3, self.at) else quote
        self.step(len(fence))
        while not self.text.startswith(fence, self.at):
            self.step(2 if quote == '"' and self.text[self.at] == "\\" else 1)
        self.step(len(fence))
        while len(fence) == 3 and self.text.startswith(quote, self.at):
            self.step()  # a long string may end in up to two quotes of its own
