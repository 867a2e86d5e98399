"""Exact solids of few triangles, written as mesh files and put into scene files.

Meshes are given in the tank's frame or turned by the scene; where a piece lies is computed here from
its own corners, so that the scene file and nothing else carries the place.

Solid   corners in mm and outward triangles
Stack   a scene file in the making: pieces, friction, tank
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sim.check import Report, check
from sim.scene import read_scene

Floats = NDArray[np.float64]
Triangle = tuple[int, int, int]


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A closed mesh."""

    corners_mm: Floats  # (n, 3)
    faces: tuple[Triangle, ...]  # counter-clockwise seen from outside

    def centre_mm(self) -> Floats:
        """Centre of volume (3,), by the tetrahedra over the faces."""
        a, b, c = (self.corners_mm[[face[k] for face in self.faces]] for k in range(3))
        six = np.einsum("ij,ij->i", a, np.cross(b, c))
        return np.asarray(six @ (a + b + c) / (4.0 * six.sum()))

    def turned(self, turn_deg: float) -> Solid:
        """Turned about the y axis through the origin, from z towards x."""
        c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
        x, y, z = self.corners_mm.T
        return Solid(np.stack([c * x + s * z, y, c * z - s * x], axis=1), self.faces)


def box(low_mm: Sequence[float], size_mm: Sequence[float]) -> Solid:
    """An upright box by its lowest corner and its sizes."""
    (x, y, z), (a, b, c) = low_mm, size_mm
    return prism([(x, z), (x + a, z), (x + a, z + c), (x, z + c)], y, y + b)


def prism(outline_xz: Sequence[tuple[float, float]], front_mm: float, back_mm: float) -> Solid:
    """A convex outline in the x-z plane, counter-clockwise with x right and z up, drawn out from front to back."""
    count = len(outline_xz)
    ends = [(0, k, k + 1) for k in range(1, count - 1)]
    return _drawn_out(outline_xz, ends, front_mm, back_mm)


def ring_sector(inner_mm: float, outer_mm: float, span_deg: float, depth_mm: float, chords: int) -> Solid:
    """A piece of a ring about the y axis, its middle straight up; its arcs are `chords` chords."""
    angle = np.radians(np.linspace(-span_deg / 2.0, span_deg / 2.0, chords + 1))
    within = [(float(inner_mm * np.sin(t)), float(inner_mm * np.cos(t))) for t in angle]
    without = [(float(outer_mm * np.sin(t)), float(outer_mm * np.cos(t))) for t in angle[::-1]]
    last = 2 * chords + 1
    ends = [(k, k + 1, last - k - 1) for k in range(chords)] + [(k, last - k - 1, last - k) for k in range(chords)]
    return _drawn_out(within + without, ends, 0.0, depth_mm)


def beam_on_feet(feet_mm: Sequence[float], toe_mm: float, drop_mm: float, high_mm: float, depth_mm: float) -> Solid:
    """A bar along x on feet with the middles `feet_mm`; they taper down to toes `toe_mm` wide at z = 0."""
    wide, narrow = toe_mm / 2.0 + drop_mm, toe_mm / 2.0
    profile = ((-wide, drop_mm), (-narrow, 0.0), (narrow, 0.0), (wide, drop_mm))
    under = [(x + across, z) for x in feet_mm for across, z in profile]
    over = [(x + side * wide, drop_mm + high_mm) for x in reversed(feet_mm) for side in (1.0, -1.0)]
    last = len(under) + len(over) - 1
    ends = [tri for k in range(0, len(under), 4) for tri in ((k, k + 1, k + 2), (k, k + 2, k + 3))]
    flat = [k for k in range(len(under)) if k % 4 in (0, 3)]
    for k in range(len(flat) - 1):
        ends += [(flat[k], flat[k + 1], last - k - 1), (flat[k], last - k - 1, last - k)]
    return _drawn_out(under + over, ends, 0.0, depth_mm)


def table_on_points(x_mm: Sequence[float], y_mm: Sequence[float], feet: Sequence[tuple[float, float]]) -> Solid:
    """A slab with a pyramid under each corner, tips down.

    `x_mm` and `y_mm`, four each, cut its underside into nine fields; the corner fields carry the pyramids, whose
    tips are `feet`, at z = 0, in the order front left, front right, back right, back left. It is 20 mm thick.
    """
    under, over = 15.0, 35.0
    corners = [(x, y, under) for y in y_mm for x in x_mm]
    corners += [(x, y, over) for x, y in _round(x_mm[0], x_mm[3], y_mm[0], y_mm[3])]
    corners += [(x, y, 0.0) for x, y in feet]
    tips = {(0, 0): 20, (2, 0): 21, (2, 2): 22, (0, 2): 23}
    faces: list[Triangle] = [(16, 17, 18), (16, 18, 19)]
    for j in range(3):
        for i in range(3):
            a, b, c, d = 4 * j + i, 4 * j + i + 4, 4 * j + i + 5, 4 * j + i + 1  # clockwise from above
            tip = tips.get((i, j))
            faces += [(a, b, c), (a, c, d)] if tip is None else [(a, b, tip), (b, c, tip), (c, d, tip), (d, a, tip)]
    rims = ([0, 1, 2, 3], [3, 7, 11, 15], [15, 14, 13, 12], [12, 8, 4, 0])
    for k, rim in enumerate(rims):
        top, then = 16 + k, 16 + (k + 1) % 4
        faces += [(rim[i], rim[i + 1], top) for i in range(3)] + [(rim[3], then, top)]
    return Solid(np.array(corners), tuple(faces))


def _round(x0: float, x1: float, y0: float, y1: float) -> list[tuple[float, float]]:
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _drawn_out(
    outline_xz: Sequence[tuple[float, float]], ends: Iterable[Triangle], front_mm: float, back_mm: float
) -> Solid:
    count = len(outline_xz)
    corners = [(x, y, z) for y in (front_mm, back_mm) for x, z in outline_xz]
    faces: list[Triangle] = []
    for a, b, c in ends:  # counter-clockwise seen from the front, where x is right and z up
        faces += [(a, b, c), (a + count, c + count, b + count)]
    for k in range(count):
        n = (k + 1) % count
        faces += [(k, k + count, n + count), (k, n + count, n)]
    return Solid(np.array(corners, dtype=np.float64), tuple(faces))


def write_mesh(path: Path, solid: Solid) -> None:
    """An OBJ, PLY or STL file in mm, by the name's ending; text, every digit of a double kept."""
    points = [" ".join(repr(float(value)) for value in corner) for corner in solid.corners_mm]
    if path.suffix == ".obj":
        rows = [f"v {point}" for point in points]
        rows += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in solid.faces]
    elif path.suffix == ".ply":
        rows = ["ply", "format ascii 1.0", f"element vertex {len(points)}"]
        rows += [f"property double {axis}" for axis in "xyz"] + [f"element face {len(solid.faces)}"]
        rows += ["property list uchar int vertex_indices", "end_header", *points]
        rows += [f"3 {a} {b} {c}" for a, b, c in solid.faces]
    else:
        rows = ["solid piece"]
        for face in solid.faces:
            rows += ["facet normal 0 0 0", "outer loop", *(f"vertex {points[k]}" for k in face), "endloop", "endfacet"]
        rows += ["endsolid piece"]
    path.write_text("\n".join(rows) + "\n")


@dataclass(slots=True)
class Stack:
    """A scene file in the making; `report` writes it, reads it and judges it."""

    folder: Path
    inner_mm: tuple[float, float, float] = (900.0, 450.0, 450.0)
    water: str = "level_mm = 0"  # by default it stays dry
    sheet_mm: float = 0.0  # under the stones, which all stand so much higher; 0: they stand on bare glass
    entries: list[str] = field(default_factory=list)
    pairs: list[str] = field(default_factory=list)
    settings: str = ""

    def put(
        self,
        name: str,
        solid: Solid,
        *,
        at_mm: Sequence[float] = (0.0, 0.0, 0.0),
        turn_deg: float = 0.0,
        ending: str = "ply",
        keys: str = "",
    ) -> None:
        """Add a piece: the mesh as it is, turned about its own y axis and then moved by `at_mm`.

        `keys` are more lines of its entry.
        """
        write_mesh(self.folder / f"{name}.{ending}", solid)
        corners = solid.turned(turn_deg).corners_mm + np.array(at_mm)
        low, high = corners.min(axis=0), corners.max(axis=0)
        place = [float(value) for value in (*((low + high) / 2.0)[:2], low[2] + self.sheet_mm)]
        weight = "" if "density" in keys else "density_kg_m3 = 2700\n"
        source = f"[[piece]]\nid = '{name}'\nmesh = '{name}.{ending}'\nrock = 'granite'\n{weight}"
        self.entries.append(f"{source}at_mm = {place}\nturn_deg = [0, {turn_deg!r}, 0]\n{keys}\n")

    def rub(self, one: str, other: str, mu: float) -> None:
        """Set the friction of a pair, wet as dry."""
        self.pairs.append(f"[[friction]]\nbetween = ['{one}', '{other}']\ndry = {mu!r}\nwet = {mu!r}\n")

    def write(self) -> Path:
        """The scene file."""
        tank = f"[tank]\ninner_mm = {list(self.inner_mm)}\nbase_mm = 10\nside_mm = 10\n[water]\n{self.water}\n"
        if self.sheet_mm:
            tank = tank.replace(
                "[water]", f"under_stones = {{ kind = 'sheet', thickness_mm = {self.sheet_mm} }}\n[water]"
            )
        path = self.folder / "scene.toml"
        path.write_text("\n".join(["format = 1", tank, *self.entries, *self.pairs, self.settings]))
        return path

    def report(self, quick: bool = True) -> Report:
        """The whole way from the files to the report."""
        return check(read_scene(self.write()), quick=quick)


def feasible(report: Report) -> bool | None:
    """What the equilibrium programme says of the first state, in air."""
    assert report.states[0].water == "air"
    return report.states[0].equilibrium.feasible
