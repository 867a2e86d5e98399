"""What every section of a scene file has in common.

Glossary
--------
section : one table of the file, such as ``[tank]`` or one ``[[piece]]``; a frozen pydantic model
disagreement : two keys that are each fine but do not go together

pydantic stops at the first validator that complains about a whole table. A builder wants
every fault in one go, so `Section` gathers the field errors and all disagreements together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ModelWrapValidatorHandler,
    ValidationError,
    model_validator,
)
from pydantic_core import InitErrorDetails, PydanticCustomError

DISAGREEMENT = "bedjoint"

Real = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Flag = Annotated[bool, Field(strict=True)]
Text = Annotated[str, Field(strict=True, max_length=2000)]
Pair = tuple[Real, Real]
Triple = tuple[Real, Real, Real]
Name = Annotated[str, Field(strict=True, min_length=1, max_length=64, pattern=r"^[A-Za-z0-9_-]+$")]
FilePath = Annotated[str, Field(strict=True, min_length=1, max_length=1000, pattern=r"^[^\x00-\x1f]+$")]
Colour = Annotated[str, Field(strict=True, pattern=r"^#[0-9A-Fa-f]{6}$")]
Coordinate = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-20_000, le=20_000)]
Place = tuple[Coordinate, Coordinate, Coordinate]


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Keys that do not go together: `at` is the key (or path of keys) to look at."""

    at: tuple[str | int, ...]
    problem: str
    remedy: str


def refusal(problem: str, remedy: str) -> PydanticCustomError:
    """A complaint in our own words, for use inside validators."""
    return PydanticCustomError(DISAGREEMENT, "{problem}", {"problem": problem, "remedy": remedy})


class Raw:
    """A table as it came, valid or not: each question answers None where the value is no use."""

    def __init__(self, table: object) -> None:
        if isinstance(table, BaseModel):
            table = {name: getattr(table, name) for name in table.model_fields_set}
        self.table: Mapping[str, object] = table if isinstance(table, Mapping) else {}

    def has(self, *keys: str) -> list[str]:
        """Those of `keys` that are present."""
        return [key for key in keys if self.table.get(key) is not None]

    def number(self, key: str) -> float | None:
        return _number(self.table.get(key))

    def numbers(self, key: str) -> list[float] | None:
        """A list of numbers, or None when any of them is not one."""
        found = [_number(value) for value in self.items(key)]
        return [value for value in found if value is not None] if found and None not in found else None

    def text(self, key: str) -> str | None:
        value = self.table.get(key)
        return value if isinstance(value, str) else None

    def texts(self, key: str) -> list[str]:
        return [value for value in self.items(key) if isinstance(value, str)]

    def items(self, key: str) -> list[object]:
        value = self.table.get(key)
        return list(value) if isinstance(value, (list, tuple)) else []

    def part(self, key: str) -> Raw:
        return Raw(self.table.get(key))

    def parts(self, key: str) -> list[Raw]:
        """The tables of a list, in its order; what is no table is an empty one."""
        return [Raw(item) for item in self.items(key)]


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    try:
        return float(value)
    except OverflowError:
        return None


class Section(BaseModel):
    """A table of a scene file: frozen, and no keys but its own."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:  # noqa: ARG003 -- for subclasses
        """Everything in this table that does not go together, however invalid the rest is."""
        yield from ()

    @model_validator(mode="wrap")
    @classmethod
    def _gather(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if isinstance(data, cls):
            return data
        made: Self | None = None
        errors: list[InitErrorDetails] = []
        try:
            made = handler(data)
        except ValidationError as error:
            errors = [_again(details) for details in error.errors(include_url=False)]
        errors += [
            InitErrorDetails(type=refusal(found.problem, found.remedy), loc=found.at, input=None)
            for found in cls.disagreements(Raw(data))
        ]
        if errors or made is None:
            raise ValidationError.from_exception_data(cls.__name__, errors)
        return made


def _again(details: Any) -> InitErrorDetails:
    """An error as pydantic reported it, in the form in which it can be raised once more."""
    context = details.get("ctx", {})
    kind = details["type"]
    if kind == DISAGREEMENT:
        kind = refusal(context["problem"], context["remedy"])
    return InitErrorDetails(type=kind, loc=details["loc"], input=details["input"], ctx=context)
