"""How far the tank can be tilted before the stack comes down or slides.

Tilting by theta turns every effective weight sideways by tan(theta): with dry joints the cones
have no scale, so the critical tilt is atan(lambda) exactly. The sideways loads (a, b) that the
stack bears form a convex set in the plane, since its forces do; so the points where it was
solved bound it from inside and their mechanisms bound it from outside, and only azimuths that
could hold the least tilt need solving.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.contact import Contacts, chosen_contacts
from sim.statics.loads import Loads
from sim.statics.programme import Feasible, Further, LoadFactor, mean_weight
from sim.statics.system import System, assemble_system, grounded, limit_joints, with_friction

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

STEEPEST = 50.0  # lambda: 88.9 degrees; nothing is asked beyond
CLOSE = 2.0e-3  # an azimuth whose inner bound is within this of the least is not solved
REFINEMENTS = 4
LANES = 2  # azimuths solved side by side: the solver works outside Python's lock
MANY_ROWS = 240  # in smaller systems that gains nothing
FEW = 8  # contacts that need no thinning
STUCK = 100.0  # friction on the base for the tilt without sliding there


@dataclass(frozen=True, slots=True, eq=False)
class CriticalTilt:
    """Least tilt that brings the stack down, over all directions."""

    status: Feasible  # YES: solved; NO: does not stand level; UNKNOWN: some direction gave no answer
    least_deg: float  # nan unless status is YES
    azimuth_deg: float  # towards which it then comes down, from x towards y
    azimuths_deg: Floats  # (m,)
    per_azimuth_deg: Floats  # (m,) where not solved a lower bound
    solved: Bools  # (m,)
    mechanism: Floats  # (n, 6) velocities at the least tilt, largest 1
    note: str = ""


def critical_tilt(system: System, loads: Loads, azimuths: int = 16, exhaustive: bool = False) -> CriticalTilt:
    """Find the least tilt at which a stack that stands comes down.

    Parameters
    ----------
    loads : Loads under which the stack is feasible
    azimuths : directions on the compass; the least is then refined between them
    exhaustive : solve them all, also those that cannot hold the least

    Notes
    -----
    Sliding on the base counts; `sliding_tilt` and `unsliding` tell it apart.
    """
    search = _Search(system, loads, azimuths)
    search.solve_grid(list(range(0, azimuths, 1 if exhaustive else max(1, azimuths // 4))))
    while candidates := search.next_candidates():
        search.solve_grid(candidates)
    search.refine()
    return search.result()


def sliding_tilt(system: System, loads: Loads, azimuths: int = 16) -> CriticalTilt:
    """Find the tilt at which the stack, as one body, has used up the friction under it.

    The sideways load acts at the height of the ground contacts, so that nothing tips.
    """
    ground, a_is_ground = _ground_contacts(system)
    welded = _outermost(_as_one_body(system.contacts, ground, a_is_ground))
    weight = np.where(system.free, loads.weight_n, 0.0)
    if len(ground) == 0 or not weight.sum() > 0.0:
        return _unknown(azimuths, 1, "nothing stands on the base")
    # effective weights act where gravity and buoyancy together do
    moment = np.cross(system.centre_m, loads.force_n) + loads.moment_nm
    moment = np.where(system.free[:, None], moment, 0.0).sum(axis=0)
    total = weight.sum()
    centre = np.array([[0.0, 0.0, welded.point_m[:, 2].mean()]])
    centre[0, 0], centre[0, 1] = moment[1] / total, -moment[0] / total
    one = Loads(np.array([[0.0, 0.0, -total]]), np.zeros((1, 3)), np.zeros(1), np.zeros((1, 3)))
    # level ground of one friction bears as much towards every side
    alike = np.all(welded.normal[:, :2] == 0.0) and np.ptp(welded.mu) == 0.0
    return critical_tilt(assemble_system(centre, welded), one, 1 if alike else azimuths)


def unsliding(system: System) -> System:
    """The same stack on a base that it cannot slide on."""
    ground, _ = _ground_contacts(system)
    mu = system.contacts.mu.copy()
    mu[ground] = STUCK
    held = assemble_system(system.centre_m, with_friction(system.contacts, mu), ~system.free, system.joints)
    return limit_joints(held) if system.limited else held


def _as_one_body(contacts: Contacts, chosen: NDArray[np.int64], flip: Bools) -> Contacts:
    """Chosen contacts as those of one body (index 0) with the ground; `flip` where the ground was piece a."""
    zero = np.zeros(len(chosen), np.int64)
    part = chosen_contacts(contacts, chosen)
    return replace(part, a=zero, b=zero - 1, normal=np.where(flip[:, None], -1.0, 1.0) * part.normal)


def _outermost(contacts: Contacts) -> Contacts:
    """Contacts of one body less those that others stand in for exactly.

    On one plane with one friction, a force at a point is the same as its shares at the corners of a hull around it.
    """
    plane = np.einsum("kx,kx->k", contacts.normal, contacts.point_m)
    kinds = np.column_stack([contacts.normal, plane, contacts.mu])
    kept = []
    for kind in np.unique(kinds, axis=0):
        same = np.flatnonzero((kinds == kind).all(axis=1))
        kept.append(same[_corners(contacts.point_m[same], contacts.normal[same[0]])] if len(same) > FEW else same)
    return chosen_contacts(contacts, np.sort(np.concatenate(kept))) if kept else contacts


def _corners(points_m: Floats, normal: Floats) -> NDArray[np.int64]:
    """Corners of the hull of points on a plane; all of them where they lie on a line."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        return np.asarray(ConvexHull(points_m @ _in_plane(normal)).vertices, np.int64)
    except QhullError:
        return np.arange(len(points_m))


def _in_plane(normal: Floats) -> Floats:
    """Two directions (3, 2) across a normal."""
    first = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    first /= np.linalg.norm(first)
    return np.column_stack([first, np.cross(normal, first)])


def _ground_contacts(system: System) -> tuple[NDArray[np.int64], Bools]:
    a, b = grounded(system.contacts, system.free)
    chosen = np.flatnonzero((a < 0) != (b < 0))
    return chosen, a[chosen] < 0


def _unknown(azimuths: int, count: int, note: str) -> CriticalTilt:
    degrees = np.arange(azimuths) * 360.0 / azimuths
    nothing = np.full(azimuths, np.nan)
    never = np.zeros(azimuths, np.bool_)
    still = np.zeros((count, 6))
    return CriticalTilt(Feasible.UNKNOWN, np.nan, np.nan, degrees, nothing, never, still, note)


class _Search:
    """Solved directions, and the bounds that they put on the others."""

    def __init__(self, system: System, loads: Loads, azimuths: int) -> None:
        self.system, self.loads = system, loads
        self.azimuth = np.arange(azimuths) * 2.0 * np.pi / azimuths
        self.factor = np.full(azimuths, np.nan)
        self.solved = np.zeros(azimuths, np.bool_)
        self.angles: list[float] = []
        self.results: list[LoadFactor] = []
        self.supports: list[tuple[float, float]] = []  # distance and azimuth of each outer bound
        lanes = LANES if system.rows >= MANY_ROWS else 1
        self.lanes = [Further(system, loads) for _ in range(lanes)]
        self.x, self.y = loads.sideways(0.0), loads.sideways(np.pi / 2.0)

    def solve_grid(self, chosen: Sequence[int]) -> None:
        """Solve azimuths of the grid that are not solved yet."""
        self.factor[chosen] = np.minimum(self._solve(self.azimuth[chosen]), STEEPEST)
        self.solved[chosen] = True

    def _solve(self, angles: Sequence[float] | Floats) -> list[float]:
        """Factors for some angles, dealt out to the lanes in turn; the same on any number of cores."""

        def work(lane: int) -> list[LoadFactor]:
            own = angles[lane :: len(self.lanes)]
            return [self.lanes[lane].greatest(np.cos(a) * self.x + np.sin(a) * self.y) for a in own]

        if len(self.lanes) == 1 or len(angles) == 1:
            dealt = [work(lane) for lane in range(min(len(self.lanes), len(angles)))]
        else:
            with ThreadPoolExecutor(len(self.lanes)) as pool:
                dealt = list(pool.map(work, range(len(self.lanes))))
        found = [dealt[k % len(dealt)][k // len(dealt)] for k in range(len(angles))]
        for angle, one in zip(angles, found, strict=True):
            self._take(float(angle), one)
        return [one.factor for one in found]

    def _take(self, angle: float, found: LoadFactor) -> None:
        self.angles.append(angle)
        self.results.append(found)
        motion = found.mechanism
        along = np.array([(self.x * motion).sum(), (self.y * motion).sum()])
        steep = float(np.hypot(*along))
        resisting = found.resisting_n
        if np.isfinite(found.factor) and steep > 1e-12 * mean_weight(self.loads, self.system):
            self.supports.append((resisting / steep, float(np.arctan2(along[1], along[0]))))

    def lower_bounds(self) -> Floats:
        """Chords between solved neighbours bound the factor between them from below."""
        known = np.flatnonzero(self.solved)
        bound = self.factor.copy()
        for left, right in zip(known, np.roll(known, -1), strict=True):
            start, end = self.azimuth[left], self.azimuth[right] + (2.0 * np.pi if right <= left else 0.0)
            r, s = self.factor[left], self.factor[right]
            for step in range(left + 1, left + 1 + (right - left - 1) % len(bound)):
                k = step % len(bound)
                angle = self.azimuth[k] + (2.0 * np.pi if step >= len(bound) else 0.0)
                if end - start >= np.pi or r + s == 0.0:
                    bound[k] = 0.0
                else:
                    bound[k] = r * s * np.sin(end - start) / (r * np.sin(angle - start) + s * np.sin(end - angle))
        return bound

    def next_candidates(self) -> list[int]:
        """Azimuths that may hold the least, the likeliest first, as many as there are lanes.

        Of several between the same solved neighbours only one: once it is solved, the others may be out of question.
        """
        bound = np.where(self.solved, np.inf, self.lower_bounds())
        least = np.nanmin(self.factor) if not np.isnan(self.factor[self.solved]).any() else -np.inf
        gap = np.cumsum(self.solved) % self.solved.sum()
        chosen: dict[int, int] = {}
        for k in np.argsort(bound, kind="stable"):
            if len(chosen) == len(self.lanes) or not bound[k] < least * (1.0 - CLOSE):
                break
            chosen.setdefault(int(gap[k]), int(k))
        return list(chosen.values())

    def refine(self) -> None:
        """Follow the nearest outer bound between the azimuths of the grid."""
        for _ in range(REFINEMENTS):
            if not self.supports or not all(np.isfinite(self.factor[self.solved])):
                return
            distance, angle = min(self.supports)
            if distance > min(found.factor for found in self.results) * (1.0 - CLOSE / 4.0):
                return
            self._solve([angle])

    def result(self) -> CriticalTilt:
        degrees = np.degrees(self.azimuth)
        count = len(self.system.free)
        bad = [found for found in self.results if found.status is not Feasible.YES]
        if bad:
            note = bad[0].note or "the stack does not stand level"
            worst = Feasible.NO if any(found.status is Feasible.NO for found in bad) else Feasible.UNKNOWN
            return replace(_unknown(len(degrees), count, note), status=worst)
        best = int(np.argmin([found.factor for found in self.results]))
        return CriticalTilt(
            status=Feasible.YES,
            least_deg=float(np.degrees(np.arctan(self.results[best].factor))),
            azimuth_deg=float(np.degrees(self.angles[best]) % 360.0),
            azimuths_deg=degrees,
            per_azimuth_deg=np.degrees(np.arctan(self.lower_bounds())),
            solved=self.solved,
            mechanism=self.results[best].mechanism,
        )
