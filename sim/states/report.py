"""The answer to a whole scene, in the units of a report: kg, mm, ml, kN, kPa. None: unknown or not asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sim.states.answer import BaseAnswer, Filled, FootprintAnswer, ForceRange, StateAnswer, Verdict
from sim.states.misplaced import Misplaced


@dataclass(frozen=True, slots=True)
class LiftReport:
    """Lifting one piece over the rim into its place: NIOSH's recommended weight limit, and the load over it."""

    rwl_kg: float
    index: float | None  # None: beyond the method
    advice: str


@dataclass(frozen=True, slots=True)
class PieceReport:
    """One piece."""

    id: str
    mass_kg: float
    volume_ml: float
    centre_mm: tuple[float, float, float]
    lift: LiftReport


@dataclass(frozen=True, slots=True)
class WeightsReport:
    """What stands on the stand and the floor when the tank is full."""

    pieces_kg: float
    glass_kg: float
    ground_kg: float
    water_kg: float
    water_l: float
    stand_kg: float
    total_kg: float
    floor_kpa: float  # under the tank's own footprint
    spread_kpa: float  # with a free strip of half a metre in all around it
    foot_kn: float | None  # on each foot, a third of the total; None where no feet are given
    band: str  # 'small', 'medium' or 'large'


@dataclass(frozen=True, slots=True)
class SidePaneReport:
    """One side pane in the state that uses it most."""

    pane: str  # 'left pane', 'right pane', 'front pane' or 'back pane'
    verdict: Literal["within limits", "marginal", "over the limit", "bare stone on glass", "undetermined"]
    reason: str
    water: Filled
    top_held: bool  # by braces or the frame of an opening
    thrust_n: ForceRange  # of all that leans on it; most is null where nothing bounds it
    max_tension_mpa: float | None  # over all admissible forces, with the water
    nominal_tension_mpa: float
    limit_mpa: float
    utilisation: float | None
    deflection_mm: float
    at_mm: tuple[float, float, float]  # where the tension is largest


@dataclass(frozen=True, slots=True)
class FootingReport:
    """Where a piece presses on the glass, spread by the sheet or grid beneath, in the state that uses the base most."""

    piece: str
    water: Filled
    outline_mm: tuple[tuple[float, float], ...]  # convex, in plan
    area_mm2: float
    force_n: float  # of loading alone
    pressure_kpa: float | None  # over the spread area; null of a point or a line on bare glass


@dataclass(frozen=True, slots=True)
class RemedyReport:
    """One change to a base pane that does not pass, and what the pane bears then."""

    what: str
    passes: bool
    verdict: str
    max_tension_mpa: float | None
    limit_mpa: float | None
    utilisation: float | None


@dataclass(frozen=True, slots=True)
class FallReport:
    """Where the piece that moves first would hit if it fell, in air; a rough picture."""

    piece: str
    hits: Literal["base", "left pane", "right pane", "front pane", "back pane"]
    mass_kg: float
    height_mm: float  # that its middle loses until it lies on the base
    energy_j: float
    at_mm: tuple[float, float, float]  # about


@dataclass(frozen=True, slots=True)
class BallastReport:
    """Floating wood in the full tank, and the stone that must hold it down."""

    wood: tuple[str, ...]
    lift_n: float  # net, dry wood
    needed_kg: float  # stone, dry mass, covered by water, with the wanted factor
    stones: tuple[str, ...]  # joined to the wood or resting on it
    there_kg: float
    there_n: float  # weight of these stones in the water
    factor: float | None  # by which the lift may grow before anything moves; null where unknown or without bound
    verdict: Literal["held", "held, by too little", "floats off", "undetermined"]
    reason: str


@dataclass(frozen=True, slots=True)
class CostItemReport:
    """One line of the bill."""

    what: str
    amount: float
    unit: Literal["kg", "g"]
    packs: int | None  # of glue
    price: float | None  # null where the scene gives none


@dataclass(frozen=True, slots=True)
class CostsReport:
    """What everything costs, in the currency of the scene."""

    currency: str
    items: tuple[CostItemReport, ...]
    total: float  # of what has a price
    without_price: tuple[str, ...]
    budget: float | None
    left: float | None  # negative: overspent


@dataclass(frozen=True, slots=True)
class FootReport:
    """One foot of the stand under the full tank."""

    at_mm: tuple[float, float]
    force_kn: ForceRange  # nominal of feet of equal compliance; least and most of every split that balances


@dataclass(frozen=True, slots=True)
class StandingReport:
    """Where the full tank's weight stands in plan."""

    mass_kg: float
    centre_mm: tuple[float, float]  # of all
    off_middle_mm: tuple[float, float]  # of all, from the middle of the tank
    pieces_centre_mm: tuple[float, float] | None
    within_feet: bool | None  # null where no feet are given
    feet: tuple[FootReport, ...]


@dataclass(frozen=True, slots=True)
class Total:
    """All pieces together."""

    mass_kg: float
    centre_mm: tuple[float, float, float] | None
    displaced_ml: float  # volume of all pieces: what they displace when covered


@dataclass(frozen=True, slots=True)
class JointReport:
    """One declared joint, in the state that uses it most."""

    between: tuple[str, str]
    kind: str
    glue: str | None
    area_mm2: float | None  # that the glue holds, contact fraction included
    utilisation: float | None  # the largest over all states; over 1 it breaks
    verdict: str  # 'holds', 'breaks' or 'undetermined'
    reason: str
    volume_ml: float | None = None  # glue that ends in the joint
    mass_g: float | None = None  # glue to buy for it, waste included
    fixture_min: float | None = None  # until it holds the piece by itself
    cure_h: float | None = None  # until full strength


@dataclass(frozen=True, slots=True)
class GlueTotal:
    """All joints of one chemistry."""

    glue: str
    joints: int
    volume_ml: float
    mass_g: float


@dataclass(frozen=True, slots=True)
class Handling:
    """A module in the hand, in one attitude."""

    verdict: str  # 'holds', 'breaks', 'falls apart', 'tips', 'undetermined'
    attitude: str
    utilisation: float | None  # of its most used joint
    joint: tuple[str, str] | None
    reason: str


@dataclass(frozen=True, slots=True)
class ModuleAnswer:
    """One module: its weight, its lifting points, and whether it bears them."""

    id: str
    pieces: tuple[str, ...]
    mass_kg: float
    centre_mm: tuple[float, float, float]
    size_mm: tuple[float, float, float]
    lift_at_mm: tuple[tuple[float, float, float], ...]
    lifted: Handling
    turned: Handling  # the worst attitude
    rwl_kg: float
    lift_index: float | None
    advice: str

    @property
    def holds(self) -> bool:
        return self.lifted.verdict == "holds" and self.turned.verdict == "holds"


@dataclass(frozen=True, slots=True)
class DryLaid:
    """What the stack would do without its glue, for information."""

    verdict: Verdict
    reason: str


@dataclass(frozen=True, slots=True)
class Report:
    """The answer to a scene."""

    title: str
    verdict: Verdict
    reason: str
    quick: bool  # without copies and trial
    governing: int | None  # index of the state that the verdict comes from
    states: tuple[StateAnswer, ...]
    states_left_out: tuple[str, ...]  # fillings that were not asked for
    dry_laid: DryLaid | None  # of a scene with joints
    misplaced: tuple[Misplaced, ...]
    pieces: tuple[PieceReport, ...]
    total: Total
    footprints: tuple[FootprintAnswer, ...]  # of the governing state
    base: BaseAnswer | None  # of the state that uses the base pane most
    footings: tuple[FootingReport, ...]  # of that state
    side_panes: tuple[SidePaneReport, ...]  # each in the state that uses it most; none where no state stands
    remedies: tuple[RemedyReport, ...]  # where the base pane does not pass
    fall: FallReport | None
    weights: WeightsReport
    standing: StandingReport
    ballast: BallastReport | None  # where wood floats, and the full tank was asked for
    costs: CostsReport | None  # where the scene gives prices or a budget
    joints: tuple[JointReport, ...]
    glue: tuple[GlueTotal, ...]
    modules: tuple[ModuleAnswer, ...]
    cautions: tuple[str, ...]
    inputs_assumed: tuple[str, ...]

    @property
    def passes(self) -> bool:
        """Whether it stands, as far as was asked, on a base pane and between side panes within their limits."""
        panes = [self.base, *self.side_panes]
        carried = all(pane is not None and pane.verdict in ("within limits", "marginal") for pane in panes)
        return self.verdict in ("stands", "stands (quick)") and carried
