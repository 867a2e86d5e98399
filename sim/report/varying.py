"""What a change does to a stack: a scene with a piece away, two changed over, one moved, or other friction.

The changed scene is made in memory. What was moved, and what rests on it, is set down anew; then everything gives a
little until it lies still. Where it does not, the pieces stay where they were put and the check says what falls.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from sim.check import check
from sim.contact import Contacts, Rest, find_contacts, set_down
from sim.contact.settling import Outcome, Settled, let_go, stand_up
from sim.errors import Fault, SceneError
from sim.order import carried_by
from sim.pieces.placing import PlacedPiece, entry_from_pose, place_pieces
from sim.report.figures import figure
from sim.scene import ModuleEntry, Scene
from sim.states import Report, StateAnswer
from sim.units import MM_PER_M

NAME, BEFORE = 34, 18


@dataclass(frozen=True, slots=True)
class Change:
    """What is to be different."""

    remove: tuple[str, ...] = ()
    swap: tuple[tuple[str, str], ...] = ()
    move: tuple[tuple[str, tuple[float, float, float]], ...] = ()  # by mm
    friction: float | None = None  # between all pieces, and of them on base and panes

    def words(self) -> list[str]:
        """Each change in a line."""
        lines = [f"{name} away" for name in self.remove]
        lines += [f"{one} and {other} changed over" for one, other in self.swap]
        lines += [f"{name} moved by {x:g}, {y:g}, {z:g} mm" for name, (x, y, z) in self.move]
        return lines + ([] if self.friction is None else [f"friction {self.friction:g} everywhere"])


@dataclass(frozen=True, slots=True)
class Moved:
    """Where a piece that was set down anew ended."""

    piece: str
    rests: bool
    rest: str  # in words
    moved_mm: float  # from where the changed scene had it


@dataclass(frozen=True, slots=True, eq=False)
class Variation:
    """A scene and a changed one, both checked."""

    change: Change
    moved: tuple[Moved, ...]
    before: Report
    after: Report

    @property
    def verdict_changes(self) -> bool:
        return self.before.verdict != self.after.verdict


def vary(
    scene: Scene,
    change: Change,
    progress: Callable[[str, int, int], None] | None = None,
) -> Variation:
    """Check a scene as it is and changed, both without shifted copies and trial.

    Raises
    ------
    SceneError
        When a change names no piece of the scene.
    """
    _known(scene, change)
    pieces = place_pieces(scene)
    before = check(scene, pieces, quick=True, progress=progress)
    if progress is not None:
        progress("Setting down what changed", 0, 1)
    changed, anew = changed_scene(scene, change)
    placed = place_pieces(changed)
    placed, moved = _set_down_anew(changed, placed, anew, scene, pieces)
    after = check(_where_they_are(changed, placed), placed, quick=True, progress=progress)
    return Variation(change, moved, before, after)


def _known(scene: Scene, change: Change) -> None:
    names = [entry.id for entry in scene.piece]
    asked = [*change.remove, *(name for pair in change.swap for name in pair), *(name for name, _ in change.move)]
    for name in asked:
        if name not in names:
            known = ", ".join(names) or "none"
            raise SceneError(str(scene.file), [Fault("vary", f'no piece is called "{name}"', f"Pieces: {known}.")])
    gone = [name for name in asked if name in change.remove]
    if len(gone) > len(change.remove):
        fault = Fault("vary", f'"{gone[0]}" is taken away and changed too', "Do one of both.")
        raise SceneError(str(scene.file), [fault])


def changed_scene(scene: Scene, change: Change) -> tuple[Scene, set[str]]:
    """The changed scene, and the pieces that stand elsewhere in it."""
    at_mm = {entry.id: np.array(entry.at_mm) for entry in scene.piece}
    anew: set[str] = set()
    for one, other in change.swap:
        at_mm[one], at_mm[other] = at_mm[other], at_mm[one]
        anew |= {one, other}
    for name, by_mm in change.move:
        at_mm[name] = at_mm[name] + np.array(by_mm)
        anew.add(name)
    kept = []
    for entry in scene.piece:
        if entry.id in change.remove:
            continue
        x, y, z = (float(value) for value in at_mm[entry.id])
        fresh: dict[str, Any] = {"at_mm": (x, y, z)}
        if change.friction is not None:
            fresh["friction"] = change.friction
        kept.append(entry.model_copy(update=fresh))
    there = {entry.id for entry in kept}
    update: dict[str, Any] = {
        "piece": tuple(kept),
        "joint": tuple(joint for joint in scene.joint if set(_named(scene, joint.between)) <= there),
        "module": tuple(left for module in scene.module if (left := _left(module, there)) is not None),
        "expect": None,
    }
    update["friction"] = (
        ()
        if change.friction is not None
        else tuple(pair for pair in scene.friction if set(_named(scene, pair.between)) <= there)
    )
    units = there | {module.id for module in update["module"]}
    update["rule"] = tuple(rule for rule in scene.rule if set(rule.first_then) <= units)
    return scene.model_copy(update=update), anew


def _named(scene: Scene, names: Sequence[str]) -> list[str]:
    """Those names that are pieces; others are materials, or the tank."""
    known = {entry.id for entry in scene.piece}
    return [name for name in names if name in known]


def _left(module: ModuleEntry, there: set[str]) -> ModuleEntry | None:
    names = tuple(name for name in module.pieces if name in there)
    if len(names) == len(module.pieces):
        return module
    return module.model_copy(update={"pieces": names}) if len(names) > 1 else None


def _set_down_anew(
    changed: Scene, placed: list[PlacedPiece], anew: set[str], scene: Scene, pieces: list[PlacedPiece]
) -> tuple[list[PlacedPiece], tuple[Moved, ...]]:
    """Set down what changed and what rested on it, lowest first; then let everything give a little."""
    names = [piece.id for piece in placed]
    if not anew:
        return placed, ()
    assembly, poses = stand_up(changed, placed)
    above = _resting_on(scene, pieces, anew) & set(names)
    order = sorted(
        (k for k, name in enumerate(names) if name in anew | above and not assembly.fixed[k]),
        key=lambda k: float(placed[k].vertices_m()[:, 2].min()),
    )
    there = np.ones(len(names), np.bool_)
    there[order] = False
    found = [Settled(name, Rest.AS_IT_IS, 0.0, 0.0) for name in names]
    for k in order:
        seated = set_down(assembly, poses, k, there)
        far_m = float(np.linalg.norm(seated.position_m - poses.position_m[k]))
        found[k] = Settled(names[k], seated.rest, far_m, seated.gap_m)
        if seated.rest is Rest.AT_REST:
            poses.rotation[k], poses.position_m[k] = seated.rotation, seated.position_m
        there[k] = True
    outcome = Outcome(poses, found)
    if outcome.all_at_rest:
        loose = let_go(assembly, outcome)
        outcome = loose if loose.all_at_rest else replace(outcome, pieces=loose.pieces)
    moved = tuple(
        Moved(one.piece, one.rest in (Rest.AT_REST, Rest.AS_IT_IS), one.rest.value, one.moved_m * MM_PER_M)
        for k, one in enumerate(outcome.pieces)
        if k in order or one.rest not in (Rest.AT_REST, Rest.AS_IT_IS)
    )
    return outcome.moved(placed), moved


def _resting_on(scene: Scene, pieces: list[PlacedPiece], names: set[str]) -> set[str]:
    """Everything that the named pieces carry, straight or through others."""
    assembly, poses = stand_up(scene, pieces)
    contacts: Contacts = find_contacts(assembly, poses, scene.check.contact_mm / MM_PER_M)
    carries = [(pieces[a].id, pieces[b].id) for a, b in carried_by(contacts)]
    found: set[str] = set()
    edge = set(names)
    while edge:
        edge = {upper for lower, upper in carries if lower in edge} - found - names
        found |= edge
    return found


def _where_they_are(scene: Scene, placed: Sequence[PlacedPiece]) -> Scene:
    """The scene with the places that its pieces have found."""
    entries = []
    for entry, piece in zip(scene.piece, placed, strict=True):
        at_mm, turn_deg = entry_from_pose(piece.body, piece.rotation, piece.position_m)
        entries.append(entry.model_copy(update={"at_mm": at_mm, "turn_deg": turn_deg, "quaternion": None}))
    return scene.model_copy(update={"piece": tuple(entries)})


def vary_text(variation: Variation) -> str:
    """Both verdicts and the margins of each state, side by side."""
    before, after = variation.before, variation.after
    lines = [*variation.change.words(), ""]
    for one in variation.moved:
        ends = f"ends {one.moved_mm:.1f} mm from there" if one.rests else f"finds no rest: {one.rest}"
        lines.append(f"{one.piece}: set down anew, {ends}")
    lines += [""] if variation.moved else []
    lines += [f"{'':<{NAME}}{'before':<{BEFORE}}after", _row("verdict", before.verdict, after.verdict)]
    for label, old, new in _paired(before, after):
        lines.append(_row(label, "-" if old is None else old.verdict, "-" if new is None else new.verdict))
        for what, key in MARGINS:
            values = [None if one is None else getattr(one.equilibrium, key) for one in (old, new)]
            if any(value is not None for value in values):
                lines.append(_row(f"  {what}", *(figure(value) for value in values)))
    use = [None if one.base is None else one.base.utilisation for one in (before, after)]
    lines.append(_row("base pane, share of its limit", *(figure(value) for value in use)))
    lines.append(_row("stones and wood, kg", *(figure(one.total.mass_kg) for one in (before, after))))
    lines += ["", _sentence(variation)]
    return "\n".join(lines)


MARGINS = (
    ("tilt, degrees", "critical_tilt_deg"),
    ("tilt until it slides, degrees", "sliding_tilt_deg"),
    ("least push, N", "least_push_n"),
    ("friction over friction needed", "friction_reserve"),
)


def _row(label: str, before: str, after: str) -> str:
    return f"{label:<{NAME}}{before:<{BEFORE}}{after}"


def _sentence(variation: Variation) -> str:
    before, after = variation.before, variation.after
    if not variation.verdict_changes:
        return f"The verdict stays: {after.verdict}."
    return f"The verdict changes from '{before.verdict}' to '{after.verdict}'. {after.reason}".rstrip()


def _paired(before: Report, after: Report) -> list[tuple[str, StateAnswer | None, StateAnswer | None]]:
    """States of both reports by what they are."""
    of = [{(one.laid, one.water): one for one in report.states} for report in (before, after)]
    keys = list(dict.fromkeys([*of[0], *of[1]]))
    return [(f"{laid}, {water}", of[0].get((laid, water)), of[1].get((laid, water))) for laid, water in keys]


def vary_json(variation: Variation) -> str:
    """The change, where pieces went, and both answers as one JSON object."""
    plain = {
        "change": asdict(variation.change),
        "set_down_anew": [asdict(one) for one in variation.moved],
        "verdict_changes": variation.verdict_changes,
        "before": _answers(variation.before),
        "after": _answers(variation.after),
    }
    return json.dumps(plain, indent=2)


def _answers(report: Report) -> dict[str, Any]:
    return {
        "verdict": report.verdict,
        "reason": report.reason,
        "misplaced": [str(one) for one in report.misplaced],
        "states": [
            {
                "laid": one.laid,
                "water": one.water,
                "level_mm": one.level_mm,
                "verdict": one.verdict,
                "reason": one.reason,
                "moving": list(one.moving),
                **{key: getattr(one.equilibrium, key) for _, key in MARGINS},
            }
            for one in report.states
        ],
        "base_utilisation": None if report.base is None else report.base.utilisation,
        "mass_kg": report.total.mass_kg,
    }
