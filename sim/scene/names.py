"""Names that must stand in a table of materials."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from sim import materials
from sim.scene.section import refusal


def suggestion(word: str, choices: Collection[str]) -> str:
    """'Did you mean "slate"? ' for a near miss, otherwise nothing."""
    near = difflib.get_close_matches(word.lower()[:100], {choice.lower(): choice for choice in choices}, n=1)
    if not near:
        return ""
    return f'Did you mean "{next(choice for choice in choices if choice.lower() == near[0])}"? '


def listed(choices: Collection[str]) -> str:
    """Choices as a reader wants them: "a", "b" or "c"."""
    quoted = [f'"{choice}"' for choice in choices]
    return "".join(quoted) if len(quoted) < 2 else ", ".join(quoted[:-1]) + f" or {quoted[-1]}"


def one_of(kind: str, choices: Collection[str]) -> Callable[[str], str]:
    """A validator that lets through the names in `choices` and explains any other."""

    def check(word: str) -> str:
        if choices and word not in choices:
            problem = f'"{word[:60]}" is no {kind} that the tables know'
            raise refusal(problem, f"{suggestion(word, choices)}Allowed: {listed(choices)}.")
        return word

    return check


def _table(name: str) -> tuple[str, ...]:
    return tuple(getattr(materials, name, ()))


def _named(kind: str, choices: Collection[str]) -> Any:
    return Annotated[
        str, Field(strict=True, json_schema_extra={"enum": list(choices)}), AfterValidator(one_of(kind, choices))
    ]


Rock = _named("rock", _table("ROCKS"))
Wood = _named("wood", _table("WOODS"))
Glass = _named("glass", _table("GLASSES") and tuple(dict.fromkeys((*_table("GLASSES"), "unknown"))))
MatMaterial = _named("mat", _table("MATS"))
Glue = _named("glue", _table("ADHESIVES"))
GroundMaterial = _named("ground", _table("GROUNDS"))
