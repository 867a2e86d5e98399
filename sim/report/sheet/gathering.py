"""Everything that a sheet tells, computed once: the verdict, the order, the modules, numbers and outlines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shapely.geometry import MultiPolygon

from sim.check import checked
from sim.order import (
    ModuleCheck,
    Order,
    Problem,
    Proposal,
    Reseating,
    Schedule,
    best_order,
    check_module,
    problem_of,
    propose_modules,
    schedule,
)
from sim.pieces.placing import PlacedPiece, place_pieces
from sim.report.sheet.outlines import footprints, long_side, silhouette
from sim.report.sheet.paper import Measures, Paper
from sim.scene import Scene
from sim.states import JointReport, Report, Stage
from sim.threads import threads
from sim.units import MM_PER_M

Tell = Callable[[str, int, int], None]

MANY = 40  # steps from which they are drawn and printed small
PROPOSING_S = 5.0  # for the order with each module that is tried


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Where a piece lies, in mm from the inner front-left corner of the base glass."""

    low_mm: tuple[float, float, float]  # nearest to the corner
    high_mm: tuple[float, float, float]
    long_mm: float  # longer side of the smallest rectangle around it, from above
    short_mm: float
    angle_deg: float  # of the longer side from the front pane

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Length, depth and height as it lies."""
        x, y, z = (high - low for low, high in zip(self.low_mm, self.high_mm, strict=True))
        return x, y, z

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Middle of its bounding box in plan."""
        return (self.low_mm[0] + self.high_mm[0]) / 2.0, (self.low_mm[1] + self.high_mm[1]) / 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """What the pages are made from."""

    scene: Scene
    pieces: list[PlacedPiece]
    stage: Stage
    report: Report
    problem: Problem | None  # None where pieces are out of place: no order can be judged
    order: Order
    plan: Schedule | None
    modules: tuple[ModuleCheck, ...]  # that the scene declares
    proposals: tuple[Proposal, ...]  # that would save a hold
    numbers: dict[str, int]  # to tape on, by the order of setting
    places: dict[str, Place]
    above: dict[str, MultiPolygon]  # outlines in plan, mm
    front: dict[str, MultiPolygon]
    prints: dict[str, MultiPolygon]  # where pieces bear on the base, mm
    paper: Paper
    measures: Measures

    @property
    def title(self) -> str:
        """The scene's title, or its file's name."""
        return " ".join(self.scene.title.split()) or self.scene.file.stem

    def numbered(self, name: str) -> str:
        """A piece by its number and name; what is no piece by its name."""
        return f"{self.numbers[name]} {name}" if name in self.numbers else name

    def by_number(self) -> list[PlacedPiece]:
        """Pieces in the order of their numbers."""
        return sorted(self.pieces, key=lambda piece: self.numbers[piece.id])

    def joint(self, pair: tuple[str, str]) -> JointReport | None:
        """What the report says about the joint of two pieces."""
        return next((one for one in self.report.joints if set(one.between) == set(pair)), None)


def gather(scene: Scene, paper: Paper, measures: Measures, quick: bool, search_s: float, tell: Tell) -> Bench:
    """Judge a scene, find its order and its outlines.

    Parameters
    ----------
    quick : as for `sim.check.check`
    search_s : time for the search of the order
    tell : called with what is being done, steps done and steps in all

    Raises
    ------
    PieceError
        When a piece cannot be made.
    """
    tell("Making the pieces", 0, 1)
    pieces = place_pieces(scene)
    report, carrier = checked(scene, pieces, quick, progress=tell)
    stage = carrier.stage
    problem, order = _order(stage, report, search_s, tell)
    proposals: tuple[Proposal, ...] = ()
    if problem is not None and order.holds:
        tell("Looking for modules", 0, 1)
        proposals = propose_modules(stage, problem, order, PROPOSING_S)
    modules = tuple(check_module(stage, entry) for entry in scene.module) if problem is not None else ()
    above, front = _outlines(pieces, tell)
    return Bench(
        scene=scene,
        pieces=pieces,
        stage=stage,
        report=report,
        problem=problem,
        order=order,
        plan=schedule(problem, order) if problem is not None and order.steps else None,
        modules=modules,
        proposals=proposals,
        numbers=_numbers(pieces, problem, order),
        places={piece.id: _place(piece, above[piece.id]) for piece in pieces},
        above=above,
        front=front,
        prints=footprints(stage),
        paper=paper,
        measures=measures,
    )


def _outlines(pieces: list[PlacedPiece], tell: Tell) -> tuple[dict[str, MultiPolygon], dict[str, MultiPolygon]]:
    """Every piece as seen from above and from the front."""
    above, front = {}, {}
    with threads() as pool:
        found = pool.map(lambda piece: (silhouette(piece, "above"), silhouette(piece, "front")), pieces)
        for piece, both in zip(pieces, found, strict=True):
            above[piece.id], front[piece.id] = both
            tell("Drawing outlines", len(above), len(pieces))
    return above, front


def _order(stage: Stage, report: Report, search_s: float, tell: Tell) -> tuple[Problem | None, Order]:
    """The best order, or one without steps that says why there is none."""
    faults = [fault for fault in report.misplaced if fault.fault != "hovers"]
    unusable = stage.declared.unusable
    why = str(faults[0]) if faults else unusable[0].reason if unusable else ""
    why = why or ("" if stage.pieces else "there are no pieces in the scene")
    if why:
        return None, Order("undetermined", why, (), 0, None, None, 0, 0.0, False, 0)
    tell("Looking for ways in", 0, 1)
    problem = problem_of(stage)
    return problem, best_order(problem, search_s, progress=tell, reseat=Reseating(stage, problem))


def _numbers(pieces: list[PlacedPiece], problem: Problem | None, order: Order) -> dict[str, int]:
    """1, 2, 3, ... as the pieces are set; without an order lower ones first."""
    names = [name for step in order.steps for name in step.pieces]
    low = sorted(pieces, key=lambda piece: (float(piece.vertices_m()[:, 2].min()), piece.id))
    fixed = [piece.id for piece in low if piece.fixed]
    rest = [piece.id for piece in low]
    if not order.steps and problem is not None:
        rest = [problem.names[piece] for unit in set_bottom_up(problem) for piece in problem.units[unit].pieces] + rest
    return {name: k for k, name in enumerate(dict.fromkeys([*fixed, *names, *rest]), 1)}


def set_bottom_up(problem: Problem) -> list[int]:
    """Units so that what carries comes first, lower ones first; of a circle the lowest opens it."""
    heights = [min(float(problem.centre_m[piece][2]) for piece in unit.pieces) for unit in problem.units]
    left, there, found = set(range(len(problem.units))), 0, []
    while left:
        ready = [unit for unit in left if not problem.needs[unit] & ~there] or list(left)
        first = min(ready, key=lambda unit: (heights[unit], unit))
        found.append(first)
        left.remove(first)
        there |= 1 << first
    return found


def _place(piece: PlacedPiece, outline: MultiPolygon) -> Place:
    vertices = piece.vertices_m() * MM_PER_M
    low, high = (tuple(float(v) for v in ends) for ends in (vertices.min(axis=0), vertices.max(axis=0)))
    longer, shorter, angle = long_side(outline)
    return Place((low[0], low[1], low[2]), (high[0], high[1], high[2]), longer, shorter, angle)
