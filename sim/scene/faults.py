"""From pydantic's findings to faults in words that a builder understands."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from sim.errors import Fault
from sim.scene.layout import Layout, Where
from sim.scene.names import listed
from sim.scene.section import DISAGREEMENT, Raw

MOST_FAULTS = 200

_KINDS = {
    "float_type": "a number",
    "int_type": "a whole number",
    "string_type": 'text in quotes, such as "slate"',
    "bool_type": "true or false",
    "tuple_type": "a list in square brackets",
    "list_type": "a list in square brackets",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
}
_PATTERNS = {
    r"^[A-Za-z0-9_-]+$": "Use letters, digits, _ and - only.",
    r"^#[0-9A-Fa-f]{6}$": 'Give a colour such as "#dfeaf0".',
    r"^[^\x00-\x1f]+$": "Give a path without line breaks or control signs.",
}


def translate(error: ValidationError, table: Mapping[str, Any], model: type[BaseModel], layout: Layout) -> list[Fault]:
    """Every finding as a `Fault`, in the order of the file's lines."""
    found: dict[Fault, tuple[int, int]] = {}
    for number, details in enumerate(error.errors(include_url=False)):
        place = tuple(part for part in details["loc"] if part != "[key]")
        problem, remedy = _words(details, place, model)
        line = layout.line_of(place)
        where = spoken(place, table) + (f" (line {line})" if line else "")
        found.setdefault(Fault(where, problem, remedy), (line or 0, number))
    faults = sorted(found, key=lambda fault: found[fault])
    more = len(faults) - MOST_FAULTS
    return faults if more <= 0 else [*faults[:MOST_FAULTS], Fault("", f"and {more} more", "Correct these first.")]


def spoken(place: Where, table: Mapping[str, Any]) -> str:
    """``piece[3] "ledge_4".at_mm[2]``: counted from 1, with the id where there is one."""
    words = ""
    here: Any = table
    for part in place:
        if isinstance(part, int):
            here = here[part] if isinstance(here, (list, tuple)) and part < len(here) else None
            words += f"[{part + 1}]"
            name = Raw(here).text("id")
            if name:
                words += f' "{name[:64]}"'
        else:
            here = here.get(part) if isinstance(here, Mapping) else None
            shown = part if part.replace("_", "").replace("-", "").isalnum() else f'"{part[:64]}"'
            words += f".{shown}" if words else shown
    return words


def _words(details: Any, place: Where, model: type[BaseModel]) -> tuple[str, str]:
    """Problem and remedy of one finding."""
    kind, context, given = details["type"], details.get("ctx", {}), details["input"]
    if kind == DISAGREEMENT:
        return context["problem"], context["remedy"]
    if kind == "missing":
        text = _description(model, place)
        return "missing", f"It is needed: {text}" if text else "Add it."
    if kind == "extra_forbidden":
        return _unknown_key(place, model)
    if kind in _KINDS:
        return f"{_shown(given)} is not {_KINDS[kind]}", f"Give {_KINDS[kind]}."
    if kind == "finite_number":
        return f"{_shown(given)} is no number to count with", "Give a plain number."
    if kind == "literal_error":
        return _choice(given, model, place)
    key = next((part for part in reversed(place) if isinstance(part, str)), "")
    return _limits(kind, context, given, _field(model, place), key)


def _limits(kind: str, context: Mapping[str, Any], given: object, field: Any, key: object) -> tuple[str, str]:
    """Words for a value that is of the right kind but outside what is allowed."""
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        return f"{_shown(given)} is out of range", f"Give {_range(field)}{_unit(key)}."
    if kind in ("too_short", "too_long"):
        limit, words = ("min_length", "at least") if kind == "too_short" else ("max_length", "at most")
        return f"{context['actual_length'] or 'too many'} given", f"Give {words} {context[limit]}."
    if kind == "string_too_short":
        return "empty", "Give a name."
    if kind == "string_too_long":
        return f"{_shown(given)} is too long", f"At most {context['max_length']} letters."
    if kind == "string_pattern_mismatch":
        return f"{_shown(given)} cannot be used here", _PATTERNS.get(context["pattern"], "Use plain letters.")
    return f"{_shown(given)} cannot be used here", "See bedjoint schema for what is allowed."


def _range(field: Any) -> str:
    """The range of a number in words, from the limits of its field."""
    limits: dict[str, float] = {}
    for item in _constraints(field.metadata, field.annotation) if field is not None else ():
        limits |= {name: getattr(item, name) for name in ("gt", "ge", "lt", "le") if hasattr(item, name)}
    if "ge" in limits and "le" in limits:
        return f"{limits['ge']:g} to {limits['le']:g}"
    words = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}
    return ", ".join(f"{word} {limits[name]:g}" for name, word in words.items() if name in limits)


def _constraints(metadata: Iterable[Any], annotation: Any) -> Iterator[Any]:
    """The limits that are written beside a type, through tuples and unions."""
    for item in metadata:
        yield from item.metadata if isinstance(item, FieldInfo) else (item,)
    for argument in get_args(annotation):
        yield from _constraints(getattr(argument, "__metadata__", ()), argument)


def _unit(key: object) -> str:
    endings = {"_mm": " mm", "_kg": " kg", "_kg_m3": " kg/m3", "_deg": " degrees", "_n": " N", "_mm2": " mm2"}
    return next((unit for ending, unit in endings.items() if isinstance(key, str) and key.endswith(ending)), "")


def _choice(given: object, model: type[BaseModel], place: Where) -> tuple[str, str]:
    field = _field(model, place)
    choices = _literals(field.annotation) if field is not None else []
    hint = ""
    if isinstance(given, str):
        near = difflib.get_close_matches(given[:60], [str(choice) for choice in choices], n=1)
        hint = f'Did you mean "{near[0]}"? ' if near else ""
    if place == ("format",):
        return f"format {_shown(given)} is not known", "Give format = 1."
    return f"{_shown(given)} is not known here", f"{hint}Allowed: {listed([str(choice) for choice in choices])}."


def _unknown_key(place: Where, model: type[BaseModel]) -> tuple[str, str]:
    key = str(place[-1])
    home = _model_at(model, place[:-1])
    keys = list(home.model_fields) if home else []
    near = difflib.get_close_matches(key[:60], keys, n=1, cutoff=0.7)
    if near:
        return "unknown key", f'Did you mean "{near[0]}"?'
    elsewhere = [section for section, owner in sections(model) if key in owner.model_fields]
    if elsewhere:
        return "unknown key here", f"It belongs to {' or '.join(elsewhere[:3])}."
    near = difflib.get_close_matches(key[:60], keys, n=1, cutoff=0.5)
    hint = f'Did you mean "{near[0]}"? ' if near else ""
    return "unknown key", f"{hint}Allowed here: {', '.join(keys)}."


def sections(model: type[BaseModel], before: str = "") -> Iterator[tuple[str, type[BaseModel]]]:
    """Every section below `model` with the name that a reader gives it."""
    for name, field in model.model_fields.items():
        for inner in _models(field.annotation):
            path = f"{before}{name}"
            yield (f"[[{path}]]" if not before and "tuple" in str(field.annotation) else f"[{path}]"), inner
            yield from sections(inner, f"{path}.")


def _models(annotation: Any) -> list[type[BaseModel]]:
    """The sections that an annotation speaks of, through tuples, dicts and unions."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for argument in get_args(annotation) for model in _models(argument)]


def _literals(annotation: Any) -> list[object]:
    values: list[object] = []
    for argument in get_args(annotation):
        values += _literals(argument) if get_args(argument) else [argument]
    return [value for value in values if isinstance(value, (str, int))]


def _model_at(model: type[BaseModel], place: Where) -> type[BaseModel] | None:
    here: type[BaseModel] | None = model
    for part in place:
        if here is not None and isinstance(part, str) and part in here.model_fields:
            found = _models(here.model_fields[part].annotation)
            here = found[0] if found else None
    return here


def _field(model: type[BaseModel], place: Where) -> Any:
    """The field of the last key in `place`."""
    for length in range(len(place), 0, -1):
        key, home = place[length - 1], _model_at(model, place[: length - 1])
        if isinstance(key, str) and home is not None and key in home.model_fields:
            return home.model_fields[key]
    return None


def _description(model: type[BaseModel], place: Where) -> str:
    if isinstance(place[-1], int):
        return ""
    field = _field(model, place)
    text: str = (field.description if field is not None else None) or ""
    return text[:1].lower() + text[1:]


def _shown(value: object) -> str:
    """A value as the file has it, short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, (list, tuple)):
        return "a list"
    text = repr(value) if not isinstance(value, str) else f'"{value}"'
    return text if len(text) <= 60 else f"{text[:56]} ..."
