"""Do the judges agree? Hundreds of seeded stacks of irregular stones, each judged by all of them.

    python tests/benchmarks/bench_labelled.py run FILE NUMBERS [SCANS]
    python tests/benchmarks/bench_labelled.py table NUMBERS FILE...

`run` judges the stacks of the NUMBERS and appends a line of JSON each to FILE; what is already there is left out,
so that it can be stopped and started again. NUMBERS are such as 0,5,400-729/3: number 0, number 5, and every third
from 400 to 729. `table` prints the tables that are kept in labelled.md beside this file, where the labels are
defined, of what the files hold of these numbers.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from quarry import Part, Quarry, exact_quarry, quarry
from stacks import Stack, build, least_tilt_deg

from sim.contact import Contacts, find_contacts
from sim.statics import judge, weights
from sim.statics.copies import shaken
from sim.statics.robust import Robust, robust
from sim.trial import Trial, TrialBody, TrialRules, TrialSetup, rules_of, run, spread_of, stage, trial
from sim.trial import engine as engine_named

SEED = 7
PER_SHAPE = 3
FACES = 3000
SOURCES = ("exact", "generated", "exact", "scan", "exact", "generated")
INTENTS = ("stable", "marginal", "unstable")
SHIFTS = {"stable": (0.0, 0.4), "marginal": (0.5, 1.1), "unstable": (1.0, 2.5)}
CARE_DEG = {"stable": 5.5, "marginal": 0.2, "unstable": None}
# As thrown: the first numbers, each a stack of what came down
SIZES = ((2, 5, 0.50), (5, 9, 0.33), (9, 17, 0.13), (20, 41, 0.04))  # from, to (not reached), share of the stacks
SMALL = ((2, 4, 0.55), (4, 7, 0.45))  # from stack number 48 on: many small ones tell more than few large ones
ONLY_SMALL_FROM = 48
THROWS = 8  # for a stack of at least two stones, that comes down where it is meant to
# As meant: from this number on, stacks are thrown again until size and margin are those that were meant
AS_MEANT_FROM = 400
FEW = ((2, 4, 0.5), (4, 7, 0.35), (7, 9, 0.15))
MANY_EVERY = 31  # of so many stacks one is large and one middling: they cost minutes where a small one costs seconds
MANY, MIDDLING = (20, 41), (9, 20)
SPARE = 1.6  # stones laid out per stone wanted in those: many find no rest or are taken away with care
KINDS_OF_FEW = ("pier", "heap")
KINDS_OF_SOME = ("pier", "heap", "bridge", "cantilever", "leaning", "wall")
KINDS_OF_MANY = ("heap", "wall")
KINDS_THAT_FALL = ("pier", "cantilever", "bridge", "wall")  # every stone finds rest, and yet the whole comes down
THROWS_AS_MEANT, THROWS_OF_MANY = 12, 3
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
    index = number - AS_MEANT_FROM if number >= AS_MEANT_FROM else number
    intent, source = INTENTS[index % 3], SOURCES[index // 3 % len(SOURCES)]
    if source == "scan" and scans is None:
        source = "generated"
    stones, parts = stones_of(scans, source == "exact")
    scanned = bool(stones.stones["scan"]) and source != "generated"
    thrown = _as_meant if number >= AS_MEANT_FROM else _as_thrown
    return (
        source,
        intent,
        thrown(index, stones, intent, lambda rng: scanned and (source == "scan" or rng.random() < 0.3)),
        parts,
    )


def _as_thrown(number: int, stones: Quarry, intent: str, mixed: Callable[[np.random.Generator], bool]) -> Stack:
    """The first stack of at least two stones that, where it is meant to, comes down; else the last of some throws."""
    stack = None
    for throw in range(THROWS):
        rng = np.random.default_rng([SEED, number, throw])
        count = _count(rng, SIZES if number < ONLY_SMALL_FROM else SMALL)
        kinds = KINDS_OF_FEW if count < 4 else KINDS_OF_SOME if count < 13 else KINDS_OF_MANY
        if intent == "unstable" and 4 <= count < 13:
            kinds = ("pier", "pier", "bridge", "wall")
        kind = kinds[int(rng.integers(len(kinds)))]
        shift = float(rng.uniform(*SHIFTS[intent]))
        scanned = mixed(rng)
        seed = int(rng.integers(1_000_000))
        stack = build(stones, kind, seed, shift, count, scanned, True, True, CARE_DEG[intent])
        if len(stack.names) >= 2 and (intent != "unstable" or least_tilt_deg(stack.assembly, stack.poses) < 0.0):
            break
    assert stack is not None
    return stack


def _as_meant(index: int, stones: Quarry, intent: str, mixed: Callable[[np.random.Generator], bool]) -> Stack:
    """The first stack of the size and with the least tilt that it is meant to have; else the last of some throws."""
    many = index % MANY_EVERY in (MANY_EVERY // 2, MANY_EVERY - 1)
    stack = None
    for throw in range(THROWS_OF_MANY if many else THROWS_AS_MEANT):
        rng = np.random.default_rng([SEED, index, throw])
        wanted = _wanted(index, rng, intent)
        kind, shift = _manner(rng, intent, wanted)
        scanned = mixed(rng)
        laid = round(SPARE * wanted) if many else wanted
        seed = int(rng.integers(1_000_000))
        stack = build(stones, kind, seed, shift, laid, scanned, True, True, CARE_DEG[intent], wanted if many else None)
        fewest = 2 if not many else MANY[0] if wanted >= MANY[0] else MIDDLING[0]
        if len(stack.names) >= fewest and _has_margin_of(stack, intent):
            break
    assert stack is not None
    return stack


def _wanted(index: int, rng: np.random.Generator, intent: str) -> int:
    """How many stones a stack as meant is to have."""
    if index % MANY_EVERY == MANY_EVERY - 1:
        return int(rng.integers(*MANY))
    if index % MANY_EVERY == MANY_EVERY // 2:
        return int(rng.integers(*MIDDLING))
    # two stones of which each finds rest hardly ever fall together
    return max(_count(rng, FEW), 3 if intent == "unstable" else 2)


def _count(rng: np.random.Generator, sizes: tuple[tuple[int, int, float], ...]) -> int:
    low, high, _ = sizes[int(rng.choice(len(sizes), p=[share for _, _, share in sizes]))]
    return int(rng.integers(low, high))


def _manner(rng: np.random.Generator, intent: str, wanted: int) -> tuple[str, float]:
    """How so many stones are laid, and how far aside."""
    kinds = KINDS_OF_FEW if wanted < 4 else KINDS_OF_SOME if wanted < 13 else KINDS_OF_MANY
    low, high = SHIFTS[intent]
    if intent == "unstable":
        kinds = KINDS_OF_FEW[:1] if wanted < 4 else KINDS_THAT_FALL if wanted < 13 else KINDS_OF_MANY
        high = min(high, wanted / 2.0)  # a pier of n stones seats up to n / 2, and comes down from 1 on
    return kinds[int(rng.integers(len(kinds)))], float(rng.uniform(low, high))


def _has_margin_of(stack: Stack, intent: str) -> bool:
    """Whether the least nominal tilt is that of a stack of this intent."""
    tilt_deg = least_tilt_deg(stack.assembly, stack.poses)
    if intent == "unstable":
        return tilt_deg < 0.0
    return tilt_deg > STABLE_DEG if intent == "stable" else 0.0 <= tilt_deg <= STABLE_DEG


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


def numbers_of(words: str) -> list[int]:
    """Numbers in the order of words such as 0,5,400-729/3."""
    numbers: list[int] = []
    for word in words.split(","):
        span, _, step = word.partition("/")
        first, _, last = span.partition("-")
        numbers += range(int(first), int(last or first) + 1, int(step or 1))
    return numbers


def run_all(file: Path, numbers: list[int], scans: Path | None) -> None:
    """Judge what is not yet in the file, a line each."""
    done = {case.number for case in read([file])}
    for number in numbers:
        if number not in done:
            case = judged(number, scans)
            with file.open("a") as out:
                out.write(json.dumps(asdict(case)) + "\n")


def main() -> None:
    """Run, or print the tables."""
    part, *more = sys.argv[1:]
    if part == "table":
        from labelled_table import table

        numbers, *files = more
        wanted = set(numbers_of(numbers))
        print("\n".join(table([case for case in read([Path(one) for one in files]) if case.number in wanted])))
        return
    file, asked, *scans = more
    run_all(Path(file), numbers_of(asked), Path(scans[0]) if scans else None)


if __name__ == "__main__":
    main()
