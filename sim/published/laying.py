"""Scene files of exact solids, written, read and judged the way a user's are.

Solid    corners in mm and outward triangles; every one of them is an outline drawn out along y
Laying   a scene file in the making: pieces with their meshes, friction, joints, tank
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import manifold3d
import numpy as np
from numpy.typing import ArrayLike, NDArray

from sim.check import check
from sim.scene import Scene, read_scene
from sim.states import Filling, Report

Floats = NDArray[np.float64]
CHORD_DEG = 1.9  # a chord for so much of an arc: areas to 2e-4


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A closed mesh."""

    corners_mm: Floats  # (n, 3)
    faces: NDArray[np.int64]  # (k, 3) counter-clockwise seen from outside

    def turned(self, turn_deg: float) -> Floats:
        """Corners (n, 3) after a turn about the y axis through the origin, from z towards x."""
        c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
        x, y, z = self.corners_mm.T
        return np.stack([c * x + s * z, y, c * z - s * x], axis=1)

    def as_obj(self) -> str:
        """The mesh as an OBJ file in mm, every digit of a double kept."""
        corners = [f"v {x!r} {y!r} {z!r}" for x, y, z in self.corners_mm.tolist()]
        return "\n".join([*corners, *(f"f {a} {b} {c}" for a, b, c in (self.faces + 1).tolist())]) + "\n"


def prism(outline_xz: ArrayLike, front_mm: float, back_mm: float) -> Solid:
    """An outline (m, 2) in the x-z plane, counter-clockwise with x right and z up, drawn out from front to back."""
    outline = np.asarray(outline_xz, dtype=np.float64)
    count = len(outline)
    ends = np.asarray(manifold3d.triangulate([outline]), dtype=np.int64)
    k = np.arange(count)
    n = (k + 1) % count
    around = np.concatenate([np.stack([k, k + count, n + count], axis=1), np.stack([k, n + count, n], axis=1)])
    corners = np.concatenate([np.insert(outline, 1, y, axis=1) for y in (front_mm, back_mm)])
    return Solid(corners, np.concatenate([ends, ends[:, ::-1] + count, around]))


def box(low_mm: Sequence[float], size_mm: Sequence[float]) -> Solid:
    """An upright box by its lowest corner and its sizes."""
    (x, y, z), (a, b, c) = low_mm, size_mm
    return prism([(x, z), (x + a, z), (x + a, z + c), (x, z + c)], y, y + b)


def ring_sector(inner_mm: float, outer_mm: float, span_deg: float, depth_mm: float) -> Solid:
    """A piece of a ring about the y axis, its middle straight up."""
    angle = np.radians(np.linspace(-span_deg / 2.0, span_deg / 2.0, int(np.ceil(span_deg / CHORD_DEG)) + 1))
    arc = np.stack([np.sin(angle), np.cos(angle)], axis=1)
    return prism(np.concatenate([inner_mm * arc, outer_mm * arc[::-1]]), 0.0, depth_mm)


@dataclass(slots=True)
class Laying:
    """A scene file in the making."""

    inner_mm: tuple[float, float, float] = (900.0, 450.0, 450.0)
    base_mm: float = 10.0
    side_mm: float = 10.0
    tank: str = ""  # more lines of its section
    water: str = "level_mm = 0"  # by default it stays dry
    sections: list[str] = field(default_factory=list)
    meshes: dict[str, str] = field(default_factory=dict)

    def put(
        self,
        name: str,
        solid: Solid,
        keys: str = "density_kg_m3 = 2700",
        at_mm: Sequence[float] = (0.0, 0.0, 0.0),
        turn_deg: float = 0.0,
        rock: str = "rock = 'granite'",
    ) -> None:
        """Add a piece: the solid turned about its own y axis and then moved by `at_mm`; `keys`: lines of its entry."""
        corners = solid.turned(turn_deg) + np.asarray(at_mm)
        low, high = corners.min(axis=0), corners.max(axis=0)
        place = [float(value) for value in (*((low + high) / 2.0)[:2], low[2])]
        mesh = f"{name}.obj"
        self.meshes[mesh] = solid.as_obj()
        entry = f"[[piece]]\nid = '{name}'\nmesh = '{mesh}'\n{rock}\nat_mm = {place}\n"
        self.sections.append(f"{entry}turn_deg = [0.0, {float(turn_deg)!r}, 0.0]\n{keys}\n")

    def rub(self, one: str, other: str, mu: float) -> None:
        """Set the friction of a pair, wet as dry."""
        self.sections.append(f"[[friction]]\nbetween = ['{one}', '{other}']\ndry = {mu!r}\nwet = {mu!r}\n")

    def text(self) -> str:
        """The scene file."""
        tank = f"[tank]\ninner_mm = {list(self.inner_mm)}\nbase_mm = {self.base_mm}\nside_mm = {self.side_mm}\n"
        return "\n".join(["format = 1", f"{tank}{self.tank}\n[water]\n{self.water}\n", *self.sections])

    @contextmanager
    def read(self) -> Iterator[Scene]:
        """The scene, read from its file in a folder that lasts as long as the context."""
        with tempfile.TemporaryDirectory(prefix="bedjoint-") as name:
            folder = Path(name)
            for mesh, obj in self.meshes.items():
                (folder / mesh).write_text(obj)
            file = folder / "scene.toml"
            file.write_text(self.text())
            yield read_scene(file)

    def report(self, fillings: Collection[Filling] | None = None) -> Report:
        """The whole way from the files to the report."""
        with self.read() as scene:
            return check(scene, quick=True, fillings=fillings)

    def stands(self) -> bool:
        """Whether the report says so."""
        return self.report().verdict == "stands (quick)"


def edge(holds: Callable[[float], bool], inside: float, outside: float, halvings: int) -> float:
    """Where something ceases to hold, by halving; nan where it does not hold inside, or still does outside."""
    if not holds(inside) or holds(outside):
        return float("nan")
    for _ in range(halvings):
        middle = (inside + outside) / 2.0
        inside, outside = (middle, outside) if holds(middle) else (inside, middle)
    return (inside + outside) / 2.0
