"""A piece of stone or wood: where its body comes from, what it weighs and where it lies."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from sim.scene.names import Rock, Wood
from sim.scene.section import Disagreement, FilePath, Flag, Name, Place, Raw, Real, Section, Triple

PLAIN_SHAPES = ("cobble", "root")  # without layers
MESH_ENDINGS = (".stl", ".ply", ".obj", ".glb", ".gltf", ".3mf")

Size = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=5000)]
Mass = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=5000)]
Density = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=25_000)]
Friction = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=100)]
MadeSize = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=10, le=1000)]
Seed = Annotated[int, Field(strict=True, ge=0, le=2**32 - 1)]


class Generate(Section):
    """A body from one of our own generators."""

    shape: Literal["slab", "block", "cobble", "shard", "lintel", "root"] = Field(description="Which generator.")
    seed: Seed = Field(default=1, description="Seed: the same seed gives the same body. Default 1.")
    size_mm: tuple[MadeSize, MadeSize, MadeSize] | None = Field(
        default=None, description="Length, width and height, mm; 10 to 1000 each. Default: drawn from the seed."
    )
    rock: Literal["sandstone", "limestone", "slate"] | None = Field(
        default=None, description="Colours of the layers (slab, block, lintel, shard). Default: the generator's."
    )
    limbs: Annotated[int, Field(strict=True, ge=1, le=20)] | None = Field(
        default=None, description="Number of limbs of a root. Default: the generator's."
    )
    faces: Annotated[int, Field(strict=True, ge=500, le=150_000)] | None = Field(
        default=None, description="Triangles to keep, about. Default: the generator's."
    )

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        shape = raw.text("shape")
        if shape in PLAIN_SHAPES and raw.has("rock"):
            yield Disagreement(("rock",), f"a {shape} has no layers of rock", "Leave it out.")
        if shape != "root" and raw.has("shape", "limbs") == ["shape", "limbs"]:
            yield Disagreement(("limbs",), f"a {shape} has no limbs", "Leave it out.")


class StandIn(Section):
    """A body from three caliper sizes and a weight, for a stone that nobody scanned."""

    size_mm: tuple[Size, Size, Size] = Field(description="Length, width and height by calipers, mm.")
    mass_kg: Mass = Field(description="Mass of the dry piece, kg.")
    habit: Literal["slab", "block", "cobble", "shard"] = Field(
        default="block", description="What the piece looks most like. Default block."
    )
    seed: Seed = Field(default=1, description="Seed: the same seed gives the same body. Default 1.")


class PieceEntry(Section):
    """One piece in the tank. Exactly one of mesh, generate and stand_in says what it looks like."""

    id: Name = Field(description="Name of the piece: letters, digits, _ and -; each only once.")
    mesh: FilePath | None = Field(
        default=None, description="Scan or mesh, a path from the scene file's folder: STL, PLY, OBJ, GLB, GLTF or 3MF."
    )
    generate: Generate | None = Field(default=None, description="A body from a generator, instead of mesh.")
    stand_in: StandIn | None = Field(default=None, description="A body from caliper sizes, instead of mesh.")
    units: Literal["mm", "cm", "m", "in"] = Field(default="mm", description="Units of the mesh. Default mm.")
    scale: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=1e-4, le=1e4)] = Field(
        default=1.0, description="Factor on all sizes of a mesh. Default 1."
    )
    rock: Rock | None = Field(default=None, description="Kind of rock, a row of the table of rocks.")
    wood: Wood | None = Field(default=None, description="Kind of wood, a row of the table of woods.")
    density_kg_m3: Density | None = Field(default=None, description="Density, kg/m3, instead of the table's.")
    mass_kg: Mass | None = Field(default=None, description="Mass of the dry piece on the scales, kg.")
    mass_in_water_kg: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-5000, le=5000)] | None = Field(
        default=None, description="What the scales show with the piece hung under water, kg. Needs mass_kg."
    )
    at_mm: Place = Field(
        description="x, y: centre of the turned piece's bounding box; z: its lowest point above the base glass; mm."
    )
    turn_deg: Triple = Field(
        default=(0.0, 0.0, 0.0), description="Turns about the fixed axes x, then y, then z, degrees. Default none."
    )
    quaternion: tuple[Real, Real, Real, Real] | None = Field(
        default=None, description="The turn as a unit quaternion [w, x, y, z], instead of turn_deg."
    )
    fixed: Flag = Field(default=False, description="true: an immovable support. Default false.")
    friction: Friction | None = Field(
        default=None, description="Friction coefficient of its surface, instead of the table's."
    )

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        yield from _one_source(raw)
        yield from _one_density(raw)
        if len(raw.has("turn_deg", "quaternion")) == 2:
            yield Disagreement(("quaternion",), "given beside turn_deg", "Keep one of the two.")
        turn = raw.numbers("quaternion")
        if turn is not None and len(turn) == 4 and not 0.99 <= math.hypot(*turn) <= 1.01:
            yield Disagreement(
                ("quaternion",),
                f"its length is {math.hypot(*turn):.3g}",
                "Give a quaternion [w, x, y, z] of length 1, or turn_deg.",
            )

    def mesh_path(self, folder: str | os.PathLike[str]) -> Path | None:
        """The mesh file, found from the scene's own folder; None when there is no mesh."""
        return None if self.mesh is None else Path(os.path.normpath(Path(folder) / self.mesh))

    @property
    def unit_quaternion(self) -> tuple[float, float, float, float]:
        """The turn (w, x, y, z) of length 1, whichever way the file gives it."""
        if self.quaternion is not None:
            w, x, y, z = (value / math.hypot(*self.quaternion) for value in self.quaternion)
            return (w, x, y, z)
        (cx, sx), (cy, sy), (cz, sz) = (
            (math.cos(a), math.sin(a)) for a in (math.radians(t) / 2 for t in self.turn_deg)
        )
        # about fixed axes x, y, z in turn: q = qz qy qx
        return (
            cz * cy * cx + sz * sy * sx,
            cz * cy * sx - sz * sy * cx,
            cz * sy * cx + sz * cy * sx,
            sz * cy * cx - cz * sy * sx,
        )


def _one_source(raw: Raw) -> Iterator[Disagreement]:
    sources = raw.has("mesh", "generate", "stand_in")
    if len(sources) != 1:
        problem = f"{' and '.join(sources)} together" if sources else "nothing says what it looks like"
        yield Disagreement((), problem, "Give exactly one of mesh, generate and stand_in.")
    if "mesh" not in sources and sources:
        for key in raw.has("units", "scale"):
            yield Disagreement((key,), f"belongs to a mesh, and this piece has {sources[0]}", "Leave it out.")
    mesh = raw.text("mesh")
    if mesh and not mesh.lower().endswith(MESH_ENDINGS):
        yield Disagreement(
            ("mesh",), f'"{mesh[:80]}" is no kind of mesh file that can be read', f"Allowed: {', '.join(MESH_ENDINGS)}."
        )


def _one_density(raw: Raw) -> Iterator[Disagreement]:
    """Rock or wood, and at most one of density, mass and two weighings to overrule its density."""
    kinds = raw.has("rock", "wood")
    if len(kinds) == 2:
        yield Disagreement(("wood",), "given beside rock", "Keep one of the two.")
    weights = raw.has("mass_kg", "mass_in_water_kg")
    if weights and raw.has("density_kg_m3"):
        yield Disagreement(
            (weights[0],), "given beside density_kg_m3", "Keep one: the mass and the volume give the density."
        )
    mass_kg, in_water_kg = raw.number("mass_kg"), raw.number("mass_in_water_kg")
    if weights == ["mass_in_water_kg"]:
        yield Disagreement(("mass_in_water_kg",), "given without mass_kg", "Give both weighings.")
    if mass_kg is not None and in_water_kg is not None and in_water_kg >= mass_kg:
        yield Disagreement(
            ("mass_in_water_kg",),
            f"{in_water_kg:g} kg under water is not less than {mass_kg:g} kg in air",
            "Weigh the piece again, hung clear of the bottom.",
        )
    if raw.has("stand_in"):
        for key in weights:
            yield Disagreement((key,), "the weight of a stand-in belongs into stand_in", "Leave it out here.")
        weights = []
    if not kinds and not weights and not raw.has("density_kg_m3"):
        remedy = "Give rock or wood, or density_kg_m3" + ("." if raw.has("stand_in") else " or mass_kg.")
        yield Disagreement((), "nothing says how heavy it is", remedy)
