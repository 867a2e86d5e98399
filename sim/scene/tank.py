"""The tank: its glass, what it stands on, its water and the ground in it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from sim.scene.names import Glass, GroundMaterial, MatMaterial
from sim.scene.section import Coordinate, Disagreement, Raw, Section

Inner = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=50, le=5000)]
PaneThickness = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=2, le=60)]
LayerThickness = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=200)]
Depth = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=5000)]


class Mat(Section):
    """The foam between tank and stand."""

    material: MatMaterial = Field(description="Foam of the mat, a row of the table of mats.")
    thickness_mm: LayerThickness = Field(description="Thickness of the mat, mm.")


class Stand(Section):
    """What carries the tank."""

    feet_mm: tuple[tuple[Coordinate, Coordinate], ...] = Field(
        default=(),
        max_length=64,
        description="Feet of the stand, [x, y] each in the tank's frame, mm. Default: not known.",
    )
    floor: Literal["timber", "concrete", "unknown"] = Field(
        default="unknown",
        description="Floor under the stand: timber joists, concrete on the ground, or unknown (default).",
    )
    height_mm: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=2500)] | None = Field(
        default=None, description="Height of the tank's underside above the floor, mm. Default: not known."
    )
    mass_kg: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=5000)] = Field(
        default=0.0, description="Mass of the stand itself, kg. Default 0."
    )


class UnderStones(Section):
    """What lies between the stones and the base glass."""

    kind: Literal["grid", "sheet", "none"] = Field(
        default="none", description="A plastic grid, a sheet, or none (default): then stones touch bare glass."
    )
    thickness_mm: LayerThickness | None = Field(default=None, description="Thickness of the grid or sheet, mm.")

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        if raw.text("kind") in ("grid", "sheet") and not raw.has("thickness_mm"):
            yield Disagreement(("thickness_mm",), "missing", "Give the thickness of the grid or sheet in mm.")


class Tank(Section):
    """The glass tank."""

    inner_mm: tuple[Inner, Inner, Inner] = Field(
        description="Inner length (x), depth from front to back (y) and height (z), mm; 50 to 5000 each."
    )
    base_mm: PaneThickness = Field(description="Thickness of the base pane, mm; 2 to 60.")
    side_mm: PaneThickness = Field(description="Thickness of the front, back and side panes, mm; 2 to 60.")
    glass: Glass = Field(
        default="unknown", description="Glass of the base. unknown (default) is judged as annealed glass."
    )
    support: Literal["rim", "mat", "unknown"] = Field(
        default="unknown",
        description="What the base rests on: its rim only, a full mat, or unknown (default, judged as rim).",
    )
    mat: Mat | None = Field(default=None, description="The foam mat; needed with support = mat.")
    brace_mm: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=2000)] | None = Field(
        default=None, description="Width of the braces along all four edges of the rim, mm. Default: no braces."
    )
    opening_mm: tuple[Inner, Inner] | None = Field(
        default=None,
        description="Length (x) and depth (y) of the opening in the middle of the top, mm. Instead of brace_mm.",
    )
    stand: Stand = Field(default=Stand(), description="The stand and the floor below it.")
    film: tuple[Literal["left", "right", "back"], ...] = Field(
        default=(), max_length=3, description="Panes with film, sheet or paint behind: left, right, back."
    )
    under_stones: UnderStones = Field(default=UnderStones(), description="What lies between stones and base glass.")

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        support, mat = raw.text("support"), raw.has("mat")
        if support == "mat" and not mat:
            yield Disagreement(
                ("mat",), "missing", 'Give mat = { material = "...", thickness_mm = ... }, or support = "unknown".'
            )
        if support == "rim" and mat:
            yield Disagreement(
                ("mat",), 'a mat, but the base rests on its rim only (support = "rim")', "Keep one of the two."
            )
        if len(raw.has("brace_mm", "opening_mm")) == 2:
            yield Disagreement(("opening_mm",), "given beside brace_mm", "Keep one of the two.")
        yield from _way_in(raw)

    @property
    def opening_box_mm(self) -> tuple[float, float, float, float]:
        """The way in, seen from above: x from, y from, x to, y to, mm."""
        length_mm, depth_mm, _ = self.inner_mm
        across_mm, back_mm = self.opening_mm or (length_mm, depth_mm)
        if self.brace_mm is not None:
            across_mm, back_mm = length_mm - 2 * self.brace_mm, depth_mm - 2 * self.brace_mm
        x_mm, y_mm = (length_mm - across_mm) / 2, (depth_mm - back_mm) / 2
        return (x_mm, y_mm, x_mm + across_mm, y_mm + back_mm)


def _way_in(raw: Raw) -> Iterator[Disagreement]:
    """The opening must lie inside the tank and leave a way in."""
    inner_mm, opening_mm, brace_mm = raw.numbers("inner_mm"), raw.numbers("opening_mm"), raw.number("brace_mm")
    if inner_mm is None or len(inner_mm) != 3:
        return
    if brace_mm is not None and 2 * brace_mm >= min(inner_mm[:2]):
        yield Disagreement(
            ("brace_mm",),
            f"braces of {brace_mm:g} mm leave no opening in a tank of {inner_mm[0]:g} x {inner_mm[1]:g} mm",
            f"Give less than {min(inner_mm[:2]) / 2:g} mm.",
        )
    for axis, (gap, side) in enumerate(zip(opening_mm or [], inner_mm, strict=False)):
        if axis < 2 and gap > side:
            yield Disagreement(
                ("opening_mm", axis),
                f"an opening of {gap:g} mm in a tank of {side:g} mm",
                f"Give at most {side:g} mm.",
            )


class Water(Section):
    """The filling."""

    level_mm: Depth | None = Field(
        default=None,
        description="Height of the surface above the base glass when full, mm; 0 stays dry. "
        "Default: 95 % of the inner height.",
    )
    temperature_c: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=40)] = Field(
        default=24.0, description="Temperature of the water, degrees Celsius; 0 to 40, default 24."
    )
    salinity_ppt: Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=42)] = Field(
        default=0.0, description="Salinity, g of salt per kg of water; 0 (fresh, default) to 42."
    )


class GroundLayer(Section):
    """One layer of sand, gravel or soil; layers lie on each other in the order of the file."""

    material: GroundMaterial = Field(description="Material of the layer, a row of the table of grounds.")
    front_mm: Depth | None = Field(default=None, description="Thickness along the front pane, mm.")
    back_mm: Depth | None = Field(default=None, description="Thickness along the back pane, mm.")
    height_map_mm: tuple[tuple[Depth, ...], ...] | None = Field(
        default=None,
        max_length=500,
        description="Thickness on an even grid over the base, mm: rows from front to back, each from left "
        "to right. Instead of front_mm and back_mm.",
    )

    @classmethod
    def disagreements(cls, raw: Raw) -> Iterator[Disagreement]:
        plain = raw.has("front_mm", "back_mm")
        if raw.has("height_map_mm"):
            if plain:
                yield Disagreement(("height_map_mm",), f"given beside {plain[0]}", "Keep one of the two.")
            lengths = {len(row) if isinstance(row, (list, tuple)) else 0 for row in raw.items("height_map_mm")}
            if len(lengths) != 1 or min(lengths) < 2 or len(raw.items("height_map_mm")) < 2:
                yield Disagreement(
                    ("height_map_mm",), "not a grid", "Give at least two rows of at least two numbers, all as long."
                )
        elif len(plain) != 2:
            yield Disagreement((), "no thickness", "Give front_mm and back_mm, or height_map_mm.")

    @property
    def deepest_mm(self) -> float:
        """The greatest thickness of the layer, mm."""
        if self.height_map_mm is not None:
            return max(max(row) for row in self.height_map_mm)
        return max(self.front_mm or 0.0, self.back_mm or 0.0)


class Ground(Section):
    """The granular layers on the base."""

    layers: tuple[GroundLayer, ...] = Field(default=(), max_length=20, description="Layers from the base upward.")
