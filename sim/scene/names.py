"""Names that must stand in a table of materials."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from sim.materials import ADHESIVES, GLASSES, GROUNDS, MATS, ROCKS, SURFACES, WOODS
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
        if word not in choices:
            problem = f'"{word[:60]}" is no {kind} that the tables know'
            raise refusal(problem, f"{suggestion(word, choices)}Allowed: {listed(choices)}.")
        return word

    return check


def _named(kind: str, choices: Collection[str]) -> Any:
    return Annotated[
        str, Field(strict=True, json_schema_extra={"enum": list(choices)}), AfterValidator(one_of(kind, choices))
    ]


Rock = _named("rock", ROCKS)
Wood = _named("wood", WOODS)
Glass = _named("glass", GLASSES)
MatMaterial = _named("mat", MATS)
Glue = _named("glue", ADHESIVES)
GroundMaterial = _named("ground", GROUNDS)

# what a [[friction]] pair may speak of beside pieces, and what has a price per kg
SURFACE_NAMES = tuple(dict.fromkeys([*SURFACES, *ROCKS, *WOODS, *MATS, *GROUNDS]))
PRICED_NAMES = (*ROCKS, *WOODS, *GROUNDS)
