"""Every message between the page and the yard, both ways.

One websocket at ``/socket`` carries JSON texts. What the page sends is a command: an object with ``do`` (its name),
``id`` (a number that comes back in the answer), ``on`` (the version that the window shows; null: whatever is there)
and the fields of one class below. What the yard sends has ``tell`` (its name) and the fields of one class below.
Lengths in mm, angles in degrees, masses in kg, forces in N, in the tank's frame (see `sim.scene`); a field that
has a default may be left out of a command; unknown fields are refused.

    page > {"do": "place", "id": 7, "on": 12, "poses": [{"piece": "lintel", "position_mm": [450, 225, 130.5],
            "quaternion": [1, 0, 0, 0]}]}
    yard > {"tell": "state", "version": 13, ...}             to all windows
    yard > {"tell": "done", "id": 7, "version": 13, "note": "", "pieces": ["lintel"]}
    yard > {"tell": "verdict", "version": 13, "step": "verdict", ...}, then "loads", then "margins"

A connection begins with ``state``, and with the last ``verdict``, ``shot``, ``ordered`` and ``checked`` where there
are any; so a window that comes back needs to ask for nothing. Answers carry the version that they are about: an
answer about an older version is out of date and shown as such. A command on an old version is carried out when no
piece that it names has changed since, and refused otherwise, with the present ``state``.

Texts come from files and uploads: they are data, and a page shows them as text and never as HTML.

Over HTTP, same address:

    GET  /                        the page
    GET  /page/FILE, /vendor/FILE its own modules; three.js
    GET  /mesh/KEY                display mesh: see `Mesh`; never changes under its key
    GET  /thumb/KEY.png           256 x 192 picture of a stone on paper; KEY as of the mesh
    GET  /shot/KEY.png            a shot told by ``shot``; never changes under its key
    GET  /concept                 the concept picture of the scene, 404 when it has none
    GET  /scene.toml, /scene.glb  the present scene
    GET  /export.zip              scene, pictures, report, GLB
    POST /scan?name=FILE&units=&longest_mm=&rock=&wood=&mass_kg=&place=1
                                  body: the file itself (STL, PLY, OBJ, GLB, 3MF); answers `Imported`, or status 4xx
                                  with `Problem`
    POST /concept?name=FILE       body: PNG or JPEG; becomes the concept picture of the scene

A mesh is ``<I n`` (little-endian length of the header), the header, and arrays in this order, each a multiple of
four bytes: positions ``<f4`` (vertices, 3) in mm about the centre of volume, normals ``<f4`` (vertices, 3), colours
``u1`` (vertices, 4) sRGB and 255, corners ``<u4`` (triangles, 3). The header is JSON, padded with spaces to a
multiple of four: {"vertices": 2002, "triangles": 4000}. A piece at rest is drawn at
``position_mm + rotate(quaternion, vertex)``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float, float]  # mm
Quaternion = tuple[float, float, float, float]  # w, x, y, z
Names = tuple[str, ...]
Filled = Literal["air", "partial", "flooded", "drained"]
Verdict = Literal["stands", "stands (quick)", "falls", "doubtful", "undetermined"]
Target = Literal["left pane", "right pane", "front pane", "back pane", "base", "top"]
Axis = Literal["x", "y", "z"]
Habit = Literal["slab", "block", "cobble", "shard"]

# --- from the page -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PoseTo:
    """Where a piece shall be: either `position_mm` of its centre of volume or `at_mm` as in a scene file.

    With neither turn the piece keeps its own.
    """

    piece: str
    position_mm: Point | None = None
    at_mm: Point | None = None  # x, y: middle of the turned piece's bounding box; z: its lowest point
    quaternion: Quaternion | None = None
    turn_deg: Point | None = None  # about fixed x, then y, then z


@dataclass(frozen=True, slots=True)
class Drag:
    """A piece under the hand: not kept, not undone; answered by ``dragged`` to all windows."""

    poses: tuple[PoseTo, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """Leave pieces where they are now held. {"do": "place", "poses": [{"piece": "a", "at_mm": [100, 80, 0]}]}"""

    poses: tuple[PoseTo, ...]


@dataclass(frozen=True, slots=True)
class Move:
    """Move pieces by so much. {"do": "move", "pieces": ["a"], "by_mm": [0, 0, 5]}"""

    pieces: Names
    by_mm: Point


@dataclass(frozen=True, slots=True)
class Turn:
    """Turn pieces, each about its own middle, or all about the middle of the first with `together`."""

    pieces: Names
    axis: Axis
    by_deg: float
    together: bool = False


@dataclass(frozen=True, slots=True)
class SetDown:
    """Free pieces of overlaps and drop them until they rest, the lowest first."""

    pieces: Names


@dataclass(frozen=True, slots=True)
class Level:
    """Turn pieces the least way that lays their broad faces, and so their strata, level."""

    pieces: Names


@dataclass(frozen=True, slots=True)
class Snap:
    """Move a piece straight to a pane, the base, or onto another piece's top, until it touches."""

    piece: str
    to: Target
    other: str | None = None  # with to = "top"


@dataclass(frozen=True, slots=True)
class Duplicate:
    """Copy pieces, beside the old ones."""

    pieces: Names


@dataclass(frozen=True, slots=True)
class Delete:
    """Take pieces out of the tank, with their joints, and lay them on the shelf."""

    pieces: Names


@dataclass(frozen=True, slots=True)
class Hide:
    """Hide pieces in the page, or show them again; they still count."""

    pieces: Names
    hidden: bool = True


@dataclass(frozen=True, slots=True)
class Lock:
    """Lock pieces against moving, or free them again."""

    pieces: Names
    locked: bool = True


@dataclass(frozen=True, slots=True)
class Fix:
    """Make pieces immovable supports (`fixed` of the scene), or loose again."""

    pieces: Names
    fixed: bool = True


@dataclass(frozen=True, slots=True)
class Group:
    """Pieces that are glued outside the tank and lifted in as one module."""

    pieces: Names
    name: str = ""  # empty: one is made up


@dataclass(frozen=True, slots=True)
class Ungroup:
    """Take a module apart."""

    module: str


@dataclass(frozen=True, slots=True)
class Take:
    """Put a piece from the shelf into the tank; without a place above the highest piece near the middle."""

    item: str
    at_mm: Point | None = None


@dataclass(frozen=True, slots=True)
class Discard:
    """Take a piece off the shelf for good (undo brings it back)."""

    item: str


@dataclass(frozen=True, slots=True)
class AddStandIn:
    """A body from caliper sizes and a weight, onto the shelf, or straight into the tank with `place`.

    {"do": "stand_in", "name": "grey slab", "size_mm": [210, 140, 45], "mass_kg": 2.9, "rock": "slate",
     "habit": "slab", "place": true}
    """

    name: str
    size_mm: Point
    mass_kg: float
    rock: str | None = None
    wood: str | None = None
    habit: Habit = "block"
    seed: int = 1
    place: bool = True


@dataclass(frozen=True, slots=True)
class Join:
    """Declare a joint; kind "glue" needs a glue of `State.glues`."""

    between: tuple[str, str]
    kind: Literal["glue", "tie", "screw"] = "glue"
    glue: str | None = None
    capacity_n: float | None = None  # of a tie or screw


@dataclass(frozen=True, slots=True)
class Unjoin:
    """Take out every joint between two pieces."""

    between: tuple[str, str]


@dataclass(frozen=True, slots=True)
class SetCamera:
    """Write the camera; what is null keeps its value. With `fill` it stands where the front pane fills the frame."""

    position_mm: Point | None = None
    look_at_mm: Point | None = None
    focal_mm: float | None = None
    sensor_mm: tuple[float, float] | None = None
    aperture: float | None = None
    crop: Literal["sensor", "3:2", "4:3", "16:9", "1:1"] | None = None
    fill: bool = False


@dataclass(frozen=True, slots=True)
class SetWater:
    """Level of the full tank, mm; 0 stays dry; null: the default."""

    level_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Undo:
    """Take the last change back."""


@dataclass(frozen=True, slots=True)
class Redo:
    """Do the change again that was taken back."""


@dataclass(frozen=True, slots=True)
class Save:
    """Write the scene file."""


@dataclass(frozen=True, slots=True)
class SaveAs:
    """Write the scene into another file beside it, and go on with that one. A plain file name, no folder."""

    name: str
    replace: bool = False  # an existing file


@dataclass(frozen=True, slots=True)
class Keep:
    """Remember the present version under a name, to compare with later."""

    name: str


@dataclass(frozen=True, slots=True)
class Compare:
    """Compare the present scene with "saved", "opened", or the name of a version kept; answered by ``compared``."""

    with_: str


@dataclass(frozen=True, slots=True)
class Check:
    """Hear all judges: ``progress``, then ``checked``."""


@dataclass(frozen=True, slots=True)
class AskOrder:
    """The best order, or with `given` (pieces and modules, each once) that one: ``progress``, then ``ordered``."""

    given: Names | None = None
    seconds: float = 20.0


@dataclass(frozen=True, slots=True)
class Shoot:
    """Take the front shot: ``shot``. It is then taken again after every change, with these settings."""

    flooded: bool = True
    focal_mm: float | None = None  # another lens than the scene's
    width_px: int = 640
    fine: bool = False


@dataclass(frozen=True, slots=True)
class Stop:
    """Give up a check or a search for orders."""

    job: Literal["check", "order"]


# name on the wire -> what it is; `with_` is written "with"
COMMANDS: dict[str, type] = {
    "drag": Drag,
    "place": Place,
    "move": Move,
    "turn": Turn,
    "set_down": SetDown,
    "level": Level,
    "snap": Snap,
    "duplicate": Duplicate,
    "delete": Delete,
    "hide": Hide,
    "lock": Lock,
    "fix": Fix,
    "group": Group,
    "ungroup": Ungroup,
    "take": Take,
    "discard": Discard,
    "stand_in": AddStandIn,
    "join": Join,
    "unjoin": Unjoin,
    "camera": SetCamera,
    "water": SetWater,
    "undo": Undo,
    "redo": Redo,
    "save": Save,
    "save_as": SaveAs,
    "keep": Keep,
    "compare": Compare,
    "check": Check,
    "order": AskOrder,
    "shoot": Shoot,
    "stop": Stop,
}

# --- to the page ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PieceState:
    """A piece in the tank."""

    id: str
    mesh: str  # key for /mesh/KEY and /thumb/KEY.png
    position_mm: Point  # of its centre of volume: the origin of its mesh
    quaternion: Quaternion
    at_mm: Point
    turn_deg: Point
    size_mm: Point  # of its box as it lies
    mass_kg: float
    material: str  # "" where only a density is given
    wood: bool
    fixed: bool
    hidden: bool
    locked: bool
    module: str | None
    colour: str  # #rrggbb of stones without colours of their own


@dataclass(frozen=True, slots=True)
class FaultState:
    """Two things in one place, a piece outside, or one that hangs in the air. {"piece": "a", "other": "base",
    "fault": "hovers", "by_mm": 4.2, "words": "a touches nothing: it hovers 4.2 mm from base"}"""

    piece: str
    other: str  # a piece, "base" or a pane
    fault: Literal["overlaps", "hovers", "outside"]
    by_mm: float
    words: str


@dataclass(frozen=True, slots=True)
class ShelfItem:
    """A stone at hand. Used ones are in the tank; an unused one is taken by its `item`."""

    item: str
    mesh: str
    size_mm: Point
    mass_kg: float | None
    material: str
    source: Literal["scan", "generated", "stand-in"]
    used_by: Names  # pieces of the tank that have this body


@dataclass(frozen=True, slots=True)
class JointState:
    """A declared joint."""

    between: tuple[str, str]
    kind: str
    glue: str | None


@dataclass(frozen=True, slots=True)
class ModuleState:
    """Pieces that are lifted in as one."""

    id: str
    pieces: Names


@dataclass(frozen=True, slots=True)
class TankState:
    """What the page draws around the stones."""

    inner_mm: Point
    base_mm: float
    side_mm: float
    floor_mm: float  # top of what lies under the stones
    water_mm: float  # level when full; 0: stays dry
    ground_mm: tuple[float, float]  # depth of sand and gravel along the front and the back pane
    film: Names  # of "left", "right", "back"
    background: tuple[str, str]  # #rrggbb at the top and at the bottom


@dataclass(frozen=True, slots=True)
class CameraState:
    """The lens, where it stands and what it takes in: 'stand where the camera stands'."""

    position_mm: Point
    look_at_mm: Point
    up: Point  # unit
    focal_mm: float
    sensor_mm: tuple[float, float]
    aperture: float
    crop: str
    angles_deg: tuple[float, float]  # of view, horizontal and vertical, focused as it is
    given: bool  # the scene says where it stands; else it stands where the front pane fills the frame


@dataclass(frozen=True, slots=True)
class Swatch:
    """One colour of a legend. Colour-blind readers tell them apart by `mark`, which the page draws too."""

    colour: str  # #rrggbb
    upto: float | None  # values below this; null: all others
    words: str
    mark: str  # one sign


@dataclass(frozen=True, slots=True)
class Legends:
    """What the colours mean, in the order of their values."""

    margin: tuple[Swatch, ...]  # of `PieceAnswer.margin`: least push over weight
    pressure: tuple[Swatch, ...]  # of `FootingState.pressure_kpa` over the greatest one there
    joint: tuple[Swatch, ...]  # of the share of its strength that a joint uses


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums."""

    pieces: int
    mass_kg: float
    centre_mm: Point | None
    displaced_ml: float
    tank_full_kg: float  # stones, glass, ground, water and stand
    floor_kpa: float
    glue_g: tuple[tuple[str, float], ...]
    cost: float | None  # of what has a price; null: the scene gives none
    currency: str


@dataclass(frozen=True, slots=True)
class State:
    """Everything that a window shows apart from answers. Told after every change, to all windows."""

    version: int
    title: str
    file: str  # name of the scene file
    saved: bool
    undo: str | None  # what would be undone, such as "move lintel"; null: nothing
    redo: str | None
    tank: TankState
    camera: CameraState
    pieces: tuple[PieceState, ...]
    joints: tuple[JointState, ...]
    modules: tuple[ModuleState, ...]
    shelf: tuple[ShelfItem, ...]
    faults: tuple[FaultState, ...]
    kept: Names  # versions to compare with, "saved" and "opened" included
    legends: Legends
    rocks: Names
    woods: Names
    glues: Names
    upload_mb: int
    upload_kinds: Names  # endings, ".ply"
    concept: bool  # there is a concept picture at /concept
    opacity: float  # with which the scene wants it laid over


@dataclass(frozen=True, slots=True)
class Dragged:
    """Pieces under somebody's hand, and what is wrong with their places."""

    poses: tuple[PieceState, ...]
    faults: tuple[FaultState, ...]


@dataclass(frozen=True, slots=True)
class Done:
    """A command was carried out."""

    id: int
    version: int
    note: str  # a sentence for the user, or ""
    pieces: Names  # that it is about: pick these


@dataclass(frozen=True, slots=True)
class Refused:
    """A command was not carried out; nothing has changed."""

    id: int | None
    reason: str  # what is wrong and what to do


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to be said to all windows."""

    words: str
    level: Literal["note", "warning"] = "note"


@dataclass(frozen=True, slots=True)
class StateVerdict:
    """The quick verdict on one state."""

    laid: Literal["dry", "glued"]
    water: Filled
    level_mm: float | None
    as_built: bool
    verdict: Verdict
    reason: str
    tilt_deg: float | None  # least tilt of the tank that brings anything down
    towards: str | None  # "front left"
    base: str | None  # verdict on the base pane; null where unknown


@dataclass(frozen=True, slots=True)
class FirstMover:
    """The piece that comes down, or would move first, where to and why."""

    piece: str
    others: Names  # that move with it
    direction: Point  # unit
    turns: bool  # about a hinge; else it slides or drops
    hinge_mm: Point | None
    words: str  # "lintel tips to the front when the tank is tilted 11 degrees"
    falls: bool  # it comes down as it is


@dataclass(frozen=True, slots=True)
class PieceAnswer:
    """How firm one piece is, in the state that governs."""

    piece: str
    margin: float | None  # least push at its top that moves anything, over its weight; null: not known (yet)
    push_n: float | None
    towards: str | None
    swatch: int | None  # index into `Legends.margin`; null: not known
    moves: bool  # it comes down, or moves first


@dataclass(frozen=True, slots=True)
class FootingState:
    """Where a piece presses on the glass."""

    piece: str
    outline_mm: tuple[tuple[float, float], ...]
    force_n: float
    pressure_kpa: float | None  # null of a point or a line on bare glass
    swatch: int


@dataclass(frozen=True, slots=True)
class BaseState:
    """The base pane in the state that uses it most, over those judged."""

    verdict: str
    reason: str
    utilisation: float | None
    max_tension_mpa: float | None
    limit_mpa: float | None
    deflection_mm: float
    at_mm: tuple[float, float]
    water: Filled
    footings: tuple[FootingState, ...]


@dataclass(frozen=True, slots=True)
class JointAnswer:
    """How much of its strength a joint uses, at most."""

    between: tuple[str, str]
    utilisation: float | None  # over 1: it breaks
    swatch: int | None
    broken: bool
    reason: str  # why it cannot be judged
    at_mm: Point | None


@dataclass(frozen=True, slots=True)
class VerdictTold:
    """The quick answer, on the wire as ``verdict``: first "verdict", then "loads" with it, then "margins" too.

    Each later one holds all of the earlier ones. `verdict` is the worst of the states as built, and
    'undetermined' while a piece overlaps or lies outside.
    """

    version: int
    step: Literal["verdict", "loads", "margins"]
    complete: bool  # nothing more will come for this version
    took_s: float
    verdict: Verdict
    reason: str
    states: tuple[StateVerdict, ...]
    governing: int | None  # index into `states`
    first: FirstMover | None
    pieces: tuple[PieceAnswer, ...]
    base: BaseState | None
    joints: tuple[JointAnswer, ...]
    totals: Totals


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a long job is."""

    job: Literal["check", "order"]
    version: int
    what: str
    done: int
    of: int


@dataclass(frozen=True, slots=True)
class Stopped:
    """A long job ended without an answer."""

    job: Literal["check", "order", "shot", "verdict"]
    version: int
    reason: str  # "" when it was asked to


@dataclass(frozen=True, slots=True)
class Checked:
    """The full report: `report` is the object that ``bedjoint check --json`` prints, `text` what it says."""

    version: int
    verdict: Verdict
    reason: str
    passes: bool
    text: str
    report: dict[str, object]


@dataclass(frozen=True, slots=True)
class OrderStep:
    """One step of an order."""

    number: int
    unit: str  # piece or module
    pieces: Names
    rests_on: Names
    way_in: str
    wait_h: float  # for glue, before this step
    wait_for: tuple[tuple[str, str], ...]
    joints: tuple[tuple[str, str], ...]  # made in this step
    margin_deg: float | None  # null while something is held
    swatch: int | None  # index into `Legends.margin`, by the tangent of the tilt
    holds: Names  # sentences: "hold lintel, 8.2 N up, until the glue of ... has cured"
    holding: Names  # pieces held while this step ends


@dataclass(frozen=True, slots=True)
class Ordered:
    """An order, or why there is none."""

    version: int
    given: bool  # the user's own
    verdict: str  # 'stands at every step', 'needs holds', 'no order' or 'undetermined'
    reason: str
    steps: tuple[OrderStep, ...]
    fails_at: int | None
    worst_margin_deg: float | None
    worst_step: int | None
    holds: int
    wait_h: float
    proved: bool
    units: Names  # everything that is set, in this order: what a user may drag


@dataclass(frozen=True, slots=True)
class Guide:
    """Lines over the shot, in shares of its width and height."""

    name: str
    lines: tuple[tuple[tuple[float, float], tuple[float, float]], ...]


@dataclass(frozen=True, slots=True)
class ShotTold:
    """A front shot, on the wire as ``shot``."""

    version: int
    key: str  # for /shot/KEY.png
    width_px: int
    height_px: int
    flooded: bool
    focal_mm: float
    took_s: float
    guides: tuple[Guide, ...]
    warnings: Names  # "the back edge of the tank shows"


@dataclass(frozen=True, slots=True)
class MovedPiece:
    """How a piece differs between two versions."""

    piece: str
    what: Literal["moved", "added", "removed", "changed"]
    by_mm: float
    by_deg: float


@dataclass(frozen=True, slots=True)
class Compared:
    """Two versions beside each other: then and now."""

    version: int
    then: str
    pieces: tuple[MovedPiece, ...]
    joints_added: tuple[tuple[str, str], ...]
    joints_removed: tuple[tuple[str, str], ...]
    verdict: tuple[Verdict, Verdict]
    reason: tuple[str, str]
    tilt_deg: tuple[float | None, float | None]
    mass_kg: tuple[float, float]
    glue_g: tuple[float, float]
    cost: tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class Imported:
    """The answer to an upload: the report of the import."""

    item: str
    piece: str | None  # in the tank, where `place` was asked for
    file: str
    mesh: str
    size_mm: Point
    longest_mm: float
    volume_ml: float
    mass_kg: float | None
    triangles: int
    units: str
    units_because: str
    repaired: Names
    volume_moved_percent: float
    warnings: Names


@dataclass(frozen=True, slots=True)
class Problem:
    """Why an upload was refused; `candidates` where the units are the question: the longest side, mm, by unit."""

    problem: str
    candidates: dict[str, float]


TELLINGS: dict[type, str] = {
    State: "state",
    Dragged: "dragged",
    Done: "done",
    Refused: "refused",
    Notice: "notice",
    VerdictTold: "verdict",
    Progress: "progress",
    Stopped: "stopped",
    Checked: "checked",
    Ordered: "ordered",
    ShotTold: "shot",
    Compared: "compared",
}

Telling = (
    State
    | Dragged
    | Done
    | Refused
    | Notice
    | VerdictTold
    | Progress
    | Stopped
    | Checked
    | Ordered
    | ShotTold
    | Compared
)
