"""What ties pieces together: joints, modules, rules of order and friction pairs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from sim.scene.names import Glue
from sim.scene.piece import Friction
from sim.scene.section import Disagreement, Name, Place, Raw, Section

Positive = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=1e6)]
Surface = Annotated[str, Field(strict=True, min_length=1, max_length=64)]


class JointEntry(Section):
    """One glued, tied or screwed joint between two pieces."""

    between: tuple[Name, Name] = Field(description="The two pieces, by id.")
    kind: Literal["glue", "tie", "screw"] = Field(default="glue", description="glue (default), tie or screw.")
    glue: Glue | None = Field(
        default=None, description="Chemistry, a row of the table of glues; only with kind = glue."
    )
    fit: Literal["rough", "fitted", "sawn"] = Field(
        default="rough", description="How well the faces meet: rough (default), fitted or sawn. Only with glue."
    )
    gap_mm: Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=100)] | None = Field(
        default=None, description="Mean thickness of the glue, mm. Default: measured between the meshes."
    )
    fillet_mm: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=50)] = Field(
        default=0.0, description="Leg of the bead around the joint, mm. Default 0."
    )
    area_mm2: Positive | None = Field(
        default=None, description="Area that the glue covers, mm2. Default: found between the meshes."
    )
    at_mm: Place | None = Field(
        default=None, description="Middle of the joint, tank frame, mm. Default: found between the meshes."
    )
    capacity_n: Positive | None = Field(
        default=None, description="Force that the tie or screw may carry for good, N. Default: not known."
    )

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        ends = raw.texts("between")
        if len(ends) == 2 and ends[0] == ends[1]:
            yield Disagreement(("between",), f'"{ends[0][:64]}" joined to itself', "Name two different pieces.")
        kind = raw.text("kind") or "glue"
        if kind == "glue":
            if not raw.has("glue"):
                yield Disagreement(("glue",), "missing", 'Name the glue, or give kind = "tie" or kind = "screw".')
            for key in raw.has("capacity_n"):
                yield Disagreement((key,), "belongs to a tie or a screw", "Leave it out: the glue's strength counts.")
        elif kind in ("tie", "screw"):
            for key in raw.has("glue", "fit", "gap_mm", "fillet_mm", "area_mm2"):
                yield Disagreement((key,), f"a {kind} has none", 'Leave it out, or give kind = "glue".')


class ModuleEntry(Section):
    """Pieces that are glued outside the tank and lifted in as one."""

    id: Name = Field(description="Name of the module; no piece may have the same.")
    pieces: tuple[Name, ...] = Field(min_length=2, max_length=500, description="The pieces in it, by id.")
    lift_at_mm: tuple[Place, ...] = Field(
        default=(), max_length=8, description="Points it hangs from, tank frame, mm. Default: chosen by the order."
    )

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        named = raw.texts("pieces")
        for index, name in enumerate(named):
            if name in named[:index]:
                yield Disagreement(("pieces", index), f'"{name[:64]}" named twice', "Name each piece once.")


class RuleEntry(Section):
    """A wish of the builder's about the order of setting."""

    before: tuple[Name, Name] | None = Field(
        default=None, description="[a, b]: a is set before b; pieces or modules, by id."
    )
    after: tuple[Name, Name] | None = Field(
        default=None, description="[a, b]: a is set after b; pieces or modules, by id."
    )

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        given = raw.has("before", "after")
        if len(given) != 1:
            yield Disagreement(
                (), "both before and after" if given else "empty", "Give exactly one of before and after."
            )
        for key in given:
            ends = raw.texts(key)
            if len(ends) == 2 and ends[0] == ends[1]:
                yield Disagreement((key,), f'"{ends[0][:64]}" against itself', "Name two different pieces.")

    @property
    def first_then(self) -> tuple[str, str]:
        """The two names, the one to be set first first."""
        if self.before is not None:
            return self.before
        assert self.after is not None, "one of the two is given"
        return (self.after[1], self.after[0])


class FrictionPair(Section):
    """Friction between two pieces or materials; it beats a piece's own value."""

    between: tuple[Surface, Surface] = Field(
        description="Two of: a piece's id (which comes first), a rock, wood, mat, ground or a surface of the tables."
    )
    dry: Friction = Field(description="Friction coefficient in air.")
    wet: Friction | None = Field(
        default=None,
        description="Friction coefficient under water. Default: the lower of dry and the table's wet value.",
    )
