"""The fewest joints that hold a stack as firmly as is wanted.

Where a choice of joints fails, the way in which the stack then moves says which joints could stop it: those
between pieces that part or slide against each other. Any choice that holds has one of them. Of all such cuts
the smallest choice that meets them all is tried next, until one holds. At last every joint is taken out once:
what holds without it does not need it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from sim.glue.candidates import Found, candidates_of
from sim.glue.cutting import Cut, parts, smallest_choice
from sim.glue.tilting import STILL, Failure, Tilts, goes_at, system_in
from sim.joints import GlueAmount, Joint, bed_amount
from sim.materials import adhesive
from sim.pieces.placing import PlacedPiece, place_pieces
from sim.scene import JointEntry, Scene
from sim.states import Filling, Stage, misplaced, set_stage, waters_of
from sim.states.misplaced import REMEDY
from sim.statics import Feasible, sliding_tilt
from sim.units import MM2_PER_M2, MM_PER_M

Floats = NDArray[np.float64]
Tell = Callable[[str, int, int], None]

MOST_ROUNDS = 200
FINENESS_DEG = 0.5  # of the largest tilt that joints reach
DEARER = 1.0e-3  # by which the weakest candidate costs more than the strongest: breaks ties only


@dataclass(frozen=True, slots=True)
class SuggestedJoint:
    """One joint of the answer."""

    entry: JointEntry
    gap_mm: float  # least distance of the faces
    area_mm2: float  # that the glue really holds
    utilisation: float  # the most over all waters and tilts
    amount: GlueAmount | None  # None: a tie
    without_it: str  # what happens when it is left out


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Joints that hold, or why none do."""

    verdict: str  # 'holds', 'no joints needed', 'holds less', 'no joints hold it' or 'undetermined'
    reason: str
    tilt_wanted_deg: float
    tilt_deg: float  # up to which the joints hold; under the wanted one where more is out of reach
    stands_dry: bool  # level and in air, without any further joint
    slides_at_deg: float | None  # tilt at which the whole stack slides on the base, whatever the joints; None: never
    goes_at_deg: float | None  # least tilt at which something goes, with these joints and the base's own friction
    joints: tuple[SuggestedJoint, ...]
    kept: int  # joints that the scene had already
    without: tuple[tuple[str, str, str], ...]  # neighbours that nothing can hold: a, b, why
    judged: int  # loads that were judged

    @property
    def holds(self) -> bool:
        """Whether the wanted tilt is reached."""
        return self.verdict in ("holds", "no joints needed")


def suggest(
    scene: Scene,
    pieces: list[PlacedPiece] | None = None,
    tilt_deg: float | None = None,
    glues: Sequence[str] = (),
    tie_n: float | None = None,
    progress: Tell | None = None,
) -> Suggestion:
    """Propose the fewest joints that hold every piece against its neighbours, in every water.

    Parameters
    ----------
    scene : joints that it has already are kept
    pieces : of the scene, where they are made already
    tilt_deg : at which no piece may move; default `tilt_wanted_deg` of the scene's [check]. 0: level only
    glues : chemistries to choose from; default every one that may carry
    tie_n : what one tie or screw carries for good, N, for joints with wood
    progress : called with what is being done, steps done and steps in all

    Returns
    -------
    Suggestion
        'holds' only when no load failed and, joint by joint, some load fails without it. 'holds less': joints for
        the largest tilt, to half a degree, that joints can reach at all.

    Notes
    -----
    The number is the least one as long as no glue breaks on the way: a motion that would be stopped only by a
    second joint beside a broken one is met by the next best choice, which then may have a joint more.
    """
    wanted = scene.check.tilt_wanted_deg if tilt_deg is None else tilt_deg
    stage = set_stage(scene, place_pieces(scene) if pieces is None else pieces)
    faults = misplaced(stage)
    if faults or stage.declared.unusable:
        why = f"{faults[0]}. {REMEDY}" if faults else stage.declared.unusable[0].reason
        kept = len(stage.declared.joints)
        return Suggestion("undetermined", why, wanted, 0.0, False, None, None, (), kept, (), 0)
    return _Search(stage, wanted, candidates_of(stage, glues, tie_n), progress or _silent).answer()


def _silent(what: str, done: int, of: int) -> None:
    pass


class _Search:
    def __init__(self, stage: Stage, wanted_deg: float, found: Found, tell: Tell) -> None:
        self.stage, self.found, self.wanted_deg, self.tell = stage, found, wanted_deg, tell
        self.candidates = found.candidates
        self.names = [piece.id for piece in stage.pieces]
        waters = waters_of(stage.scene, stage.pieces)
        self.ends = [water for water in waters if water.filling is not Filling.PARTIAL]
        self.partial = [water for water in waters if water.filling is Filling.PARTIAL]
        self.judged = 0
        self._tilt_to(wanted_deg)
        strength = np.array([one.moment_nm for one in self.candidates])
        order = np.empty(len(strength))
        order[np.argsort(-strength, kind="stable")] = np.arange(len(strength))
        self.cost = 1.0 + DEARER * order / max(len(strength), 1)

    def _tilt_to(self, tilt_deg: float) -> None:
        """From now on hold it up to this tilt."""
        azimuths = self.stage.scene.check.azimuths
        self.tilt_deg = tilt_deg
        self.tilts = Tilts(self.stage, self.ends, tilt_deg, azimuths)
        self.fills = Tilts(self.stage, self.partial, tilt_deg, azimuths)

    def answer(self) -> Suggestion:
        level = Tilts(self.stage, self.ends[:1], 0.0, 1)
        self.stands_dry = not level.failures(self.stage.declared.joints, 1)
        if not self.failures((), 1):
            return self._said("no joints needed", "")
        everything = tuple(range(len(self.candidates)))
        hopeless = self.failures(everything, 1)
        if not hopeless:
            return self._found("holds", "")
        why = self._why_hopeless(hopeless[0])
        if not hopeless[0].known:
            return self._said("undetermined", why)
        if not self._lower(everything):
            return self._said("no joints hold it", why)
        return self._found("holds less", why)

    def _lower(self, everything: tuple[int, ...]) -> bool:
        """Ask for the largest tilt that all joints together reach; whether there is one."""
        low, high = -1, round(self.wanted_deg / FINENESS_DEG)
        while high - low > 1:
            middle = (low + high) // 2
            self.tell("Looking for the tilt in reach", 0, 1)
            self._tilt_to(middle * FINENESS_DEG)
            low, high = (low, middle) if self.failures(everything, 1) else (middle, high)
        self._tilt_to(max(low, 0) * FINENESS_DEG)
        return low >= 0

    def _found(self, verdict: str, reason: str) -> Suggestion:
        chosen = self._fewest(self.failures(()))
        if chosen is None:
            return self._said("undetermined", "the search came to no end")
        return self._said(verdict, reason, self._needed(chosen))

    def _with(self, chosen: Sequence[int]) -> list[Joint]:
        """The scene's own joints and the chosen ones."""
        return [*self.stage.declared.joints, *(self.candidates[k].joint for k in chosen)]

    def failures(self, chosen: Sequence[int], most: int = 3) -> list[Failure]:
        joints = self._with(chosen)
        self.judged -= self.tilts.judged + self.fills.judged
        found = self.tilts.failures(joints, most) or self.fills.failures(joints, most)
        self.judged += self.tilts.judged + self.fills.judged
        return found

    def _fewest(self, failures: list[Failure]) -> tuple[int, ...] | None:
        cuts: list[Cut] = []
        chosen: tuple[int, ...] = ()
        if not failures:
            return chosen
        for done in range(MOST_ROUNDS):
            self.tell("Looking for joints", done, done + 1)
            for failure in failures:
                cuts += [cut for cut in self._cuts(failure, chosen) if cut not in cuts]
            chosen = smallest_choice(cuts, self.cost)
            failures = self.failures(chosen)
            if not failures:
                return chosen
        return None

    def _cuts(self, failure: Failure, chosen: tuple[int, ...]) -> list[Cut]:
        """Sets of joints of which one is needed; each group of pieces that moves by itself gives one."""
        others = frozenset(range(len(self.candidates))) - frozenset(chosen)
        if not failure.known:
            return [others]
        centre = self.stage.poses.position_m
        parting = [k for k in sorted(others) if parts(self.candidates[k], failure.motion, centre)]
        groups = self._groups(failure.motion)
        cuts: dict[int, set[int]] = {}
        for k in parting:
            joint = self.candidates[k].joint
            for piece in (joint.a, joint.b):
                if groups[piece] >= 0:
                    cuts.setdefault(int(groups[piece]), set()).add(k)
        return [frozenset(cut) for cut in cuts.values()] or [others]

    def _groups(self, motion: Floats) -> NDArray[np.int64]:
        """Label (n,) of moving pieces that touch or are joined; -1 for what stands still."""
        moves = np.abs(motion).max(axis=1) > STILL * np.abs(motion).max()
        contacts = self.stage.contacts
        links = [(a, b) for a, b in zip(contacts.a, contacts.b, strict=True) if a >= 0 and b >= 0]
        links += [(joint.a, joint.b) for joint in self.stage.declared.joints]
        pairs = np.array([(a, b) for a, b in links if moves[a] and moves[b]], dtype=np.int64).reshape(-1, 2)
        size = len(moves)
        graph = csr_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(size, size))
        label = connected_components(graph, directed=False)[1]
        return np.where(moves, label, -1).astype(np.int64)

    def _needed(self, chosen: tuple[int, ...]) -> tuple[int, ...]:
        """Leave out, the weakest first, what is not needed."""
        for k in sorted(chosen, key=lambda k: -self.cost[k]):
            fewer = tuple(other for other in chosen if other != k)
            if not self.failures(fewer, 1):
                chosen = fewer
        return chosen

    def _described(self, chosen: tuple[int, ...]) -> tuple[SuggestedJoint, ...]:
        if not chosen:
            return ()
        joints = self._with(chosen)
        both = [tilts.utilisation(joints) for tilts in (self.tilts, self.fills) if tilts.cases]
        used = np.max(both, axis=0)[-len(chosen) :]
        return tuple(self._one(k, chosen, float(share)) for k, share in zip(chosen, used, strict=True))

    def _one(self, k: int, chosen: tuple[int, ...], used: float) -> SuggestedJoint:
        without = self.failures([other for other in chosen if other != k], 1)
        one, amount = self.candidates[k], None
        if one.entry.glue is not None:
            sides = (self.stage.pieces[one.joint.a].material, self.stage.pieces[one.joint.b].material)
            amount = bed_amount(adhesive(one.entry.glue), one.joint.patch, one.bed_m, 0.0, sides)
        words = without[0].words(self.names, self.tilt_deg)
        return SuggestedJoint(
            one.entry, one.gap_m * MM_PER_M, one.joint.patch.area_m2 * MM2_PER_M2, used, amount, words
        )

    def _why_hopeless(self, failure: Failure) -> str:
        words = failure.words(self.names, self.tilt_deg)
        if not failure.known:
            return words
        if failure.broken:
            return f"with every joint that can be made, glue breaks: {words}"
        moving = np.abs(failure.motion).max(axis=1) > STILL * np.abs(failure.motion).max()
        bound = [k for k in np.flatnonzero(moving) if any(k in (c.joint.a, c.joint.b) for c in self.candidates)]
        loose = [self.names[k] for k in np.flatnonzero(moving) if k not in bound]
        if loose:
            return f"nothing near {', '.join(loose[:3])} can be joined to it: {words}"
        return (
            f"glued into one it still comes down as a whole on the base: {words}. No joint between stones cures that; "
            "give it a wider foot or bring its weight in"
        )

    def _said(self, verdict: str, reason: str, chosen: tuple[int, ...] = ()) -> Suggestion:
        joints = self._described(chosen)
        reached = 0.0 if verdict in ("no joints hold it", "undetermined") else self.tilt_deg
        return Suggestion(
            verdict=verdict,
            reason=reason,
            tilt_wanted_deg=self.wanted_deg,
            tilt_deg=reached,
            stands_dry=self.stands_dry,
            slides_at_deg=self._slides_at(),
            goes_at_deg=goes_at(self.stage, [*self.ends, *self.partial], self._with(chosen)),
            joints=joints,
            kept=len(self.stage.declared.joints),
            without=self.found.without,
            judged=self.judged,
        )

    def _slides_at(self) -> float | None:
        """Least tilt over the waters at which the whole slides on the base."""
        stage, found = self.stage, []
        for water in self.ends:
            answer = sliding_tilt(system_in(stage, water), stage.loads_in(water))
            if answer.status is Feasible.YES:
                found.append(answer.least_deg)
        return min(found, default=None)
