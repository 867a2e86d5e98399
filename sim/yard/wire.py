"""Messages as JSON: commands read strictly from what a page sent, tellings written for it."""

from __future__ import annotations

import json
import math
import types
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from sim.errors import BedjointError
from sim.yard.protocol import COMMANDS, TELLINGS

LONGEST = 5000  # entries of a list, signs of a text
LARGEST_MESSAGE = 1_000_000  # signs of a command
LARGEST_NUMBER = 1.0e9


class WireError(BedjointError):
    """A message that is no command."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A command as it came."""

    id: int
    on: int | None  # version that the window shows; None: whatever is there
    do: str
    command: Any  # one of the classes of `COMMANDS`


def read_command(text: str) -> Asked:
    """Read one command.

    Raises
    ------
    WireError
        Saying which field is wrong and what it may be.
    """
    if len(text) > LARGEST_MESSAGE:
        raise WireError("the message is too long.")
    try:
        table = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise WireError("the message is no JSON.") from None
    if not isinstance(table, dict):
        raise WireError("the message is no JSON object.")
    do = table.pop("do", None)
    if not isinstance(do, str) or do not in COMMANDS:
        raise WireError(f"do: {str(do)[:40]!r} is no command. Commands: {', '.join(COMMANDS)}.")
    number = _value(int, table.pop("id", 0), "id")
    on = _value(int | None, table.pop("on", None), "on")
    return Asked(number, on, do, _table(COMMANDS[do], table, do))


def written(telling: Any) -> str:
    """A telling as the JSON text that goes to a page."""
    return json.dumps({"tell": TELLINGS[type(telling)], **plain(telling)}, allow_nan=False, separators=(",", ":"))


def plain(value: Any) -> Any:
    """Dataclasses, tuples and numbers as JSON has them; what is no number becomes null."""
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name.rstrip("_"): plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value


def _no_constant(word: str) -> None:
    raise ValueError(word)


@cache
def _types(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _table(kind: type, table: Any, where: str) -> Any:
    if not isinstance(table, dict):
        raise WireError(f"{where}: is no object.")
    hints, given = _types(kind), dict(table)
    values = {}
    for one in fields(kind):
        key = one.name.rstrip("_")
        if key in given:
            values[one.name] = _value(hints[one.name], given.pop(key), f"{where}.{key}")
        elif one.default is MISSING and one.default_factory is MISSING:
            raise WireError(f"{where}.{key}: is missing.")
    if given:
        raise WireError(f"{where}: has no {str(next(iter(given)))[:40]!r}.")
    return kind(**values)


def _value(kind: Any, value: Any, where: str) -> Any:
    """A value of the type that the field has, or a WireError."""
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        return None if value is None else _value(next(k for k in get_args(kind) if k is not type(None)), value, where)
    if origin is Literal:
        if value not in get_args(kind):
            raise WireError(f"{where}: may be {', '.join(map(str, get_args(kind)))}.")
        return value
    if origin is tuple:
        return _list(get_args(kind), value, where)
    if is_dataclass(kind):
        return _table(kind, value, where)  # type: ignore[arg-type]  # no instance: a field's type
    return _single(kind, value, where)


def _list(kinds: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list) or len(value) > LONGEST:
        raise WireError(f"{where}: is no list, or one of over {LONGEST} entries.")
    if kinds[-1] is Ellipsis:
        return tuple(_value(kinds[0], item, f"{where}[{k}]") for k, item in enumerate(value))
    if len(value) != len(kinds):
        raise WireError(f"{where}: needs {len(kinds)} values.")
    return tuple(_value(one, item, f"{where}[{k}]") for k, (one, item) in enumerate(zip(kinds, value, strict=True)))


def _single(kind: Any, value: Any, where: str) -> Any:
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if kind is float and is_number:
        if not abs(value) <= LARGEST_NUMBER:
            raise WireError(f"{where}: too large a number.")
        return float(value)
    if kind is int and is_number and isinstance(value, int) and abs(value) <= LARGEST_NUMBER:
        return value
    if kind is bool and isinstance(value, bool):
        return value
    if kind is str and isinstance(value, str) and len(value) <= LONGEST:
        return value
    words = {float: "a number", int: "a whole number", bool: "true or false", str: "a text"}
    raise WireError(f"{where}: is not {words.get(kind, 'what belongs there')}.")
