"""Do the judges agree? Hundreds of seeded stacks of irregular stones, each judged by all of them.

    python tests/benchmarks/bench_labelled.py run FILE COUNT [SCANS] [WORKER/WORKERS]
    python tests/benchmarks/bench_labelled.py table FILE...

`run` judges the stacks of the numbers 0 to COUNT - 1 (or every WORKERS-th of them) and appends a line of JSON
each to FILE; what is already there is left out, so that it can be stopped and started again. `table` prints
the tables that are kept in labelled.md beside this file, where the labels are defined.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from quarry import Part, Quarry, exact_quarry, quarry
from stacks import Stack, build, least_tilt_deg

from sim.contact import Contacts, find_contacts
from sim.statics import judge, weights
from sim.statics.copies import Robust, robust, shaken
from sim.trial import Trial, TrialBody, TrialRules, TrialSetup, rules_of, run, spread_of, stage, trial
from sim.trial import engine as engine_named

SEED = 7
PER_SHAPE = 3
FACES = 3000
SOURCES = ("exact", "generated", "exact", "scan", "exact", "generated")
INTENTS = ("stable", "marginal", "unstable")
SHIFTS = {"stable": (0.0, 0.4), "marginal": (0.5, 1.1), "unstable": (1.0, 2.5)}
CARE_DEG = {"stable": 5.5, "marginal": 0.2, "unstable": None}
SIZES = ((2, 5, 0.50), (5, 9, 0.33), (9, 17, 0.13), (20, 41, 0.04))  # from, to (not reached), share of the stacks
SMALL = ((2, 4, 0.55), (4, 7, 0.45))  # from stack number 48 on: many small ones tell more than few large ones,
LARGE = ((9, 17, 0.5), (20, 41, 0.5))  # and from number 360 on, which is a few large ones
ONLY_SMALL_FROM, ONLY_LARGE_FROM = 48, 360
THROWS = 8  # for a stack of at least two stones, that comes down where it is meant to
STABLE_DEG = 5.0
EDGE_DEG = 1.0
MM = 1.0e3
AUDIT = TrialRules(duration_s=6.0, step_s=0.0005, early_stop=False)


@dataclass(frozen=True, slots=True)
class Case:
    """What all judges say of one stack. None: not asked, or no answer."""

    number: int
    source: str  # exact: the shapes are the very parts that the engine collides
    intent: str  # how the builder set out; the label comes from the judges
    kind: str
    shift: float
    stones: int
    statics: str  # stands, falls, undetermined
    reason: str
    tilt_deg: float | None  # critical tilt of the nominal stack, sliding on the base included
    robust_deg: float | None
    robust_copies: tuple[float, ...]
    robust_reason: str
    survivals: int  # of the runs of the trial
    runs: int
    fell: int
    drift_mm: float
    trial_reason: str
    audit: str  # exact ones that statics lets stand: stood, fell, open; else empty
    audit_reason: str
    audit_drift_mm: float
    seconds: tuple[float, float, float, float]  # building, statics, copies, trial with audit

    @property
    def label(self) -> str:
        """By the nominal statics alone; see labelled.md."""
        if self.statics != "stands":
            return "unstable" if self.statics == "falls" else "open"
        return "stable" if self.tilt_deg is not None and self.tilt_deg > STABLE_DEG else "marginal"

    @property
    def by_robust(self) -> bool:
        """Doubtful because slightly shifted copies have no tilt left."""
        tilt = np.inf if self.tilt_deg is None else self.tilt_deg
        return self.robust_deg is not None and self.robust_deg < EDGE_DEG and tilt > self.robust_deg

    @property
    def verdict(self) -> str:
        """Of all judges together, as the check of a scene combines them."""
        if self.statics != "stands":
            return self.statics
        if self.by_robust or self.fell:
            return "doubtful"
        return "stands" if self.robust_deg is not None and self.survivals == self.runs else "undetermined"


def stones_of(scans: Path | None, exact: bool) -> tuple[Quarry, dict[str, tuple[Part, ...]]]:
    """The quarry, and for exact shapes the convex parts whose union each stone is, by content hash."""
    return exact_quarry(PER_SHAPE, scans, FACES) if exact else (quarry(PER_SHAPE, scans, FACES), {})


def stack_of(number: int, scans: Path | None) -> tuple[str, str, Stack, dict[str, tuple[Part, ...]]]:
    """Source, intent, stack and exact parts of a number."""
    intent, source = INTENTS[number % 3], SOURCES[number // 3 % len(SOURCES)]
    if source == "scan" and scans is None:
        source = "generated"
    stones, parts = stones_of(scans, source == "exact")
    scanned = bool(stones.stones["scan"]) and source != "generated"
    stack = None
    for throw in range(THROWS if number < ONLY_LARGE_FROM else 2):
        rng = np.random.default_rng([SEED, number, throw])
        sizes = SIZES if number < ONLY_SMALL_FROM else SMALL if number < ONLY_LARGE_FROM else LARGE
        low, high, _ = sizes[int(rng.choice(len(sizes), p=[share for _, _, share in sizes]))]
        count = int(rng.integers(low, high))
        kinds = ["pier", "heap"] if count < 4 else ["pier", "heap", "bridge", "cantilever", "leaning", "wall"]
        kinds = kinds if count < 13 else ["heap", "wall"]
        if intent == "unstable":
            kinds = ["pier", "pier", "bridge", "wall"] if 4 <= count < 13 else kinds
        kind = kinds[int(rng.integers(len(kinds)))]
        shift = float(rng.uniform(*SHIFTS[intent]))
        mixed = scanned and (source == "scan" or rng.random() < 0.3)
        seed = int(rng.integers(1_000_000))
        stack = build(stones, kind, seed, shift, count, mixed, True, True, CARE_DEG[intent])
        if len(stack.names) >= 2 and (intent != "unstable" or least_tilt_deg(stack.assembly, stack.poses) < 0.0):
            break
    assert stack is not None
    return source, intent, stack, parts


def judged(number: int, scans: Path | None) -> Case:
    """Build the stack of a number and ask every judge."""
    marks = [time.process_time()]
    source, intent, stack, parts = stack_of(number, scans)
    marks.append(time.process_time())
    contacts = find_contacts(stack.assembly, stack.poses)
    found = judge(stack.assembly, stack.poses, contacts, weights(stack.assembly.mass_kg), quick=True)
    stands = found.verdict.value == "stands"
    marks.append(time.process_time())
    shifted = _copies(stack) if stands else None
    marks.append(time.process_time())
    setup = setup_of(stack, contacts, parts)
    check = stack.scene.check
    repeats = check.trials if stands else 1
    made = trial(setup, repeats, check.seed, spread_of(stack.scene), rules_of(stack.scene), ["mujoco"], workers=1)[0]
    audit = _audit(setup) if stands and parts else ("", "", 0.0)
    marks.append(time.process_time())
    return Case(
        number, source, intent, stack.kind, round(stack.shift, 3), len(stack.names),
        found.verdict.value, found.reason.value, _tilt(found.margins and found.margins.critical_tilt_deg),
        *_robust_row(shifted), *_trial_row(made), *audit,
        tuple(np.diff(marks).round(2).tolist()),
    )  # fmt: skip


def setup_of(stack: Stack, contacts: Contacts, parts: dict[str, tuple[Part, ...]]) -> TrialSetup:
    """The trial of a stack: on exact parts where there are such, else on pads at its contacts."""
    friction, count = stack.assembly.friction, len(stack.pieces)
    if not parts:
        return stage(stack.scene, stack.pieces, friction, contacts=contacts).setup
    bodies = tuple(
        TrialBody(
            piece.id,
            parts[piece.body.content_hash()],
            piece.mass_kg,
            piece.mass_kg / piece.volume_m3 * piece.body.inertia_m5,
            piece.rotation,
            piece.position_m,
            error_m=0.0,
        )
        for piece in stack.pieces
    )
    tank = stage(stack.scene, [], friction[:0, count:]).setup
    return replace(tank, bodies=bodies, friction=friction, settles_m=rules_of(stack.scene).drift_limit_m)


def _copies(stack: Stack) -> Robust:
    check = stack.scene.check
    copies = shaken(
        stack.assembly, stack.poses, None, check.copies, check.shift_mm / MM, check.turn_deg, check.seed, workers=1
    )
    return robust(copies, stack.assembly, stack.poses, lambda _: weights(stack.assembly.mass_kg), workers=1)


def _robust_row(found: Robust | None) -> tuple[float | None, tuple[float, ...], str]:
    if found is None:
        return None, (), ""
    tilts = tuple(round(float(tilt), 3) if np.isfinite(tilt) else -1.0 for tilt in found.tilts_deg)
    silent = not np.isfinite(found.least_tilt_deg) or (found.unknown and found.least_tilt_deg > 0.0)
    return None if silent else float(found.least_tilt_deg), tilts, found.unknown


def _trial_row(made: Trial) -> tuple[int, int, int, float, str]:
    fell = sum(not one.survived and one.undetermined is None for one in made.runs)
    return made.survivals, len(made.runs), fell, round(made.worst_drift_mm, 4), made.reason


def _audit(setup: TrialSetup) -> tuple[str, str, float]:
    """Double duration, half the step, to the end."""
    one = run(
        engine_named("mujoco"), setup, duration_s=AUDIT.duration_s, step_s=AUDIT.step_s, early_stop=AUDIT.early_stop
    )
    word = "stood" if one.survived else "fell" if one.undetermined is None else "open"
    return word, one.reason, round(MM * float(one.drift_m.max(initial=0.0)), 4)


def _tilt(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)


def read(files: list[Path]) -> list[Case]:
    """Cases from files of JSON lines, by number."""
    rows = [json.loads(line) for file in files if file.exists() for line in file.read_text().splitlines()]
    found = {row["number"]: Case(**row) for row in rows}
    return [found[number] for number in sorted(found)]


def run_all(file: Path, count: int, scans: Path | None, worker: int, workers: int) -> None:
    """Judge what is not yet in the file, a line each."""
    done = {case.number for case in read([file])}
    for number in range(worker, count, workers):
        if number not in done:
            case = judged(number, scans)
            with file.open("a") as out:
                out.write(json.dumps(asdict(case)) + "\n")


def main() -> None:
    """Run, or print the tables."""
    part, *more = sys.argv[1:]
    if part == "table":
        from labelled_table import table

        print("\n".join(table(read([Path(one) for one in more]))))
        return
    file, count, *rest = more
    share = rest.pop() if rest and rest[-1].replace("/", "").isdigit() and "/" in rest[-1] else "0/1"
    worker, workers = (int(one) for one in share.split("/"))
    run_all(Path(file), int(count), Path(rest[0]) if rest else None, worker, workers)


if __name__ == "__main__":
    main()
