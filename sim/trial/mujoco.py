"""MuJoCo, set for stones of 2 to 30 cm: stiff contacts, several points per face, no creep.

References
----------
Todorov, E. (2014). Convex and analytically-invertible dynamics with contacts and constraints:
theory and implementation in MuJoCo. IEEE ICRA, 6054-6061.
"""

from __future__ import annotations

from types import TracebackType
from typing import Any, Self
from xml.sax.saxutils import quoteattr

import mujoco
import numpy as np

from sim.pieces.turning import rotation_from_quaternion
from sim.trial.engine import EngineTrouble, Floats, Overlaps, Pressing, TrialBody, TrialBox, TrialSetup, World
from sim.trial.near import NEAR_M, near_pairs, smaller

HAIR_M = 2.0e-6  # drawn in all round, so that surfaces which just touch do not overlap by rounding
STIFF = 'solref="0.0025 1" solimp="0.99 0.99 0.0001"'
# looser than this, stacks whose parts meet in coplanar seams creep sideways by 0.2 mm a second
TOLERANCE = 1.0e-12
IMPEDANCE_RATIO = 10.0  # friction against normal stiffness: holds without creep
NOSLIP = 10
MEGABYTES = 64  # room for contacts, and
MEGABYTES_PER_PART = 1
SAME = 1.0e-3  # share by which a friction may differ before a pair is written out
TOUCHING_M = 1.0e-9
AFTER_POSITION, NO_SENSORS = int(mujoco.mjtStage.mjSTAGE_POS), 1  # a step from there on
ASIDE = float(np.cos(np.radians(0.1)))  # normals farther off than this are set right
BESIDE = np.array([-1.0, -1.0, -1.0, 1.0, 1.0, 1.0, -1.0, -1.0, -1.0])  # the frame as seen from the other side

# MuJoCo writes warnings to a file in the working folder unless told otherwise; they are counted in the data anyway
mujoco.set_mju_user_warning(lambda _: None)


class _MujocoWorld:
    """A setup in MuJoCo."""

    def __init__(self, setup: TrialSetup, step_s: float) -> None:
        self.notes: tuple[str, ...] = ()
        self._setup = setup
        try:
            self._model: Any = mujoco.MjModel.from_xml_string(_xml(setup, step_s))
        except ValueError as trouble:
            raise EngineTrouble(f"MuJoCo refuses the pieces: {' '.join(str(trouble).split())}") from trouble
        self._data: Any = mujoco.MjData(self._model)
        count = len(setup.bodies)
        self._free = np.array([i for i, body in enumerate(setup.bodies) if not body.fixed], dtype=np.int64)
        # geoms: first the boxes, then the parts, each body's own index as its number
        owner = [count + k for k in range(len(setup.boxes))]
        owner += [i for i, body in enumerate(setup.bodies) for _ in body.parts]
        self._owner = np.array(owner, dtype=np.int64)[_file_order(self._model, setup)]
        self._frames = np.array([_frame(setup.boxes[k - count] if k >= count else None) for k in self._owner])
        self._pushed = [i for i in self._free if len(setup.bodies[i].forces_n)]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        del self._data, self._model

    def place(self, rotation: Floats, position_m: Floats) -> None:
        poses = self._data.qpos.reshape(-1, 7)
        poses[:, :3] = position_m[self._free]
        poses[:, 3:] = [_quaternion(rotation[i]) for i in self._free]
        self._data.qvel[:] = 0.0
        self._data.qacc_warmstart[:] = 0.0

    def calm(self) -> None:
        self._data.qvel[:] = 0.0

    def poses(self) -> tuple[Floats, Floats]:
        rotation = np.array([body.rotation for body in self._setup.bodies], dtype=np.float64)
        position_m = np.array([body.position_m for body in self._setup.bodies], dtype=np.float64)
        now = self._data.qpos.reshape(-1, 7)
        position_m[self._free] = now[:, :3]
        rotation[self._free] = [rotation_from_quaternion(quaternion) for quaternion in now[:, 3:]]
        return rotation, position_m

    def advance(self, steps: int) -> None:
        self._push()
        for _ in range(steps):
            mujoco.mj_fwdPosition(self._model, self._data)
            if self._straightened():
                mujoco.mj_makeConstraint(self._model, self._data)
                mujoco.mj_island(self._model, self._data)
                mujoco.mj_projectConstraint(self._model, self._data)
            mujoco.mj_forwardSkip(self._model, self._data, AFTER_POSITION, NO_SENSORS)
            mujoco.mj_Euler(self._model, self._data)
        warned = [warning for warning in self._data.warning if warning.number]
        if warned or not np.isfinite(self._data.qpos).all():
            raise EngineTrouble("MuJoCo lost the thread: its contacts did not fit or its numbers overflowed")

    def _straightened(self) -> bool:
        """Give contacts on base and panes the normals of these; whether any had another one.

        Where a single corner stands on the face of a box, MuJoCo 4.0.0 gives the normal of the corner's own nearest
        face, up to 5 degrees off, and stones then slide there too early or too late. Against its planes normals are
        exact, but of the corners of a finely faceted stone too few are found, and it walks.
        """
        contact = self._data.contact
        first, second = contact.geom.T
        wanted = self._frames[first] + self._frames[second] * BESIDE
        wrong = np.einsum("kc,kc->k", contact.frame[:, :3], wanted[:, :3]) < ASIDE
        wrong &= wanted.any(axis=1)
        if not wrong.any():
            return False
        contact.frame[wrong] = wanted[wrong]
        return True

    def overlaps(self) -> Overlaps:
        mujoco.mj_forward(self._model, self._data)
        self._straightened()
        a, b, normal, _ = self._contacts()
        depth_m = -np.asarray(self._data.contact.dist, dtype=np.float64)
        deep = depth_m > TOUCHING_M
        return Overlaps(a[deep], b[deep], normal[deep], depth_m[deep])

    def pressing(self) -> Pressing:
        a, b, _, sign = self._contacts()
        count, force = len(self._setup.bodies), np.zeros(6)
        contact, found = self._data.contact, np.flatnonzero(b == count)
        forces = np.zeros((len(found), 3))
        for row, index in enumerate(found):
            mujoco.mj_contactForce(self._model, self._data, index, force)
            forces[row] = -sign[index] * force[:3] @ contact.frame[index].reshape(3, 3)
        return Pressing(a[found], np.array(contact.pos[found], dtype=np.float64).reshape(-1, 3), forces)

    def _contacts(self) -> tuple[Any, Any, Floats, Floats]:
        """Bodies a and b of each contact, a free or b a box; normals from b to a; 1 where a is the engine's second."""
        geoms = self._owner[np.asarray(self._data.contact.geom, dtype=np.int64).reshape(-1, 2)]
        turned = geoms[:, 0] < geoms[:, 1]  # the body comes first, the box second
        a, b = np.where(turned, geoms[:, 0], geoms[:, 1]), np.where(turned, geoms[:, 1], geoms[:, 0])
        sign = np.where(turned, -1.0, 1.0)
        normal = np.asarray(self._data.contact.frame, dtype=np.float64).reshape(-1, 9)[:, :3]
        return a, b, sign[:, None] * normal, sign

    def _push(self) -> None:
        """Forces at points that turn with the body."""
        if not self._pushed:
            return
        rotation, _ = self.poses()
        for i in self._pushed:
            body = self._setup.bodies[i]
            number = mujoco.mj_name2id(self._model, mujoco.mjtObj.mjOBJ_BODY, f"body{i}")
            moment = np.cross(body.forces_at_m @ rotation[i].T, body.forces_n).sum(axis=0)
            self._data.xfrc_applied[number] = np.concatenate([body.forces_n.sum(axis=0), moment])


class _Mujoco:
    name = "mujoco"

    def open(self, setup: TrialSetup, step_s: float) -> World:
        return _MujocoWorld(setup, step_s)


ENGINE = _Mujoco()


def _file_order(model: Any, setup: TrialSetup) -> Any:
    """For each geom of the model its place among boxes and parts as we wrote them."""
    names = [f"box{k}" for k in range(len(setup.boxes))]
    names += [f"part{i}_{k}" for i, body in enumerate(setup.bodies) for k in range(len(body.parts))]
    place = np.zeros(len(names), dtype=np.int64)
    for order, name in enumerate(names):
        place[mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_GEOM, name)] = order
    return place


def _quaternion(rotation: Floats) -> Floats:
    quaternion = np.zeros(4)
    mujoco.mju_mat2Quat(quaternion, np.ascontiguousarray(rotation).ravel())
    return quaternion


def _numbers(values: Floats) -> str:
    return " ".join(repr(float(value)) for value in np.ravel(values))


def _xml(setup: TrialSetup, step_s: float) -> str:
    """The setup in MuJoCo's own model language."""
    own, rank = _own_friction(setup.friction)
    count, parts = len(setup.bodies), sum(len(body.parts) for body in setup.bodies)
    surface = [f'friction="{mu!r} 0 0" priority="{place}"' for mu, place in zip(own.tolist(), rank, strict=True)]
    meshes, bodies, boxes = [], [], []
    for k, box in enumerate(setup.boxes):
        middle, half = (box.high_m + box.low_m) / 2.0, (box.high_m - box.low_m) / 2.0
        boxes.append(
            f'<geom name="box{k}" type="box" pos="{_numbers(middle)}" size="{_numbers(half)}" {surface[count + k]}/>'
        )
    for i, body in enumerate(setup.bodies):
        for k, (vertices_m, _) in enumerate(body.parts):
            points = _numbers(smaller(vertices_m, HAIR_M))
            meshes.append(f'<mesh name="part{i}_{k}" inertia="convex" vertex="{points}"/>')
        bodies.append(_body(i, body, surface[i]))
    return f"""<mujoco><compiler balanceinertia="true"/><size memory="{MEGABYTES + MEGABYTES_PER_PART * parts}M"/>
<option timestep="{step_s!r}" gravity="{_numbers(setup.gravity_m_s2)}" cone="elliptic" impratio="{IMPEDANCE_RATIO}"
 tolerance="{TOLERANCE}" noslip_iterations="{NOSLIP}" noslip_tolerance="{TOLERANCE}">
<flag multiccd="enable"/></option><default><geom condim="3" {STIFF}/><pair condim="3" {STIFF}/></default>
<asset>{"".join(meshes)}</asset><worldbody>{"".join(boxes + bodies)}</worldbody>
<contact>{"".join(_odd_pairs(setup, own))}</contact></mujoco>"""


def _frame(box: TrialBox | None) -> Floats:
    """Normal out of a box and two directions across (9,), as a contact has them; zeros without the one face."""
    if box is None or box.face is None:
        return np.zeros(9)
    axis, side = box.face
    turned = np.roll(np.eye(3), -axis, axis=0)
    return np.concatenate([side * turned[0], turned[1], side * turned[2]])


def _body(i: int, body: TrialBody, surface: str) -> str:
    inertia = body.inertia_kg_m2
    moving = ""
    if not body.fixed:
        six = (inertia[0, 0], inertia[1, 1], inertia[2, 2], inertia[0, 1], inertia[0, 2], inertia[1, 2])
        moving = (
            f'<freejoint/><inertial pos="0 0 0" mass={quoteattr(repr(float(body.mass_kg)))} '
            f'fullinertia="{_numbers(np.array(six))}"/>'
        )
    parts = [f'<geom name="part{i}_{k}" type="mesh" mesh="part{i}_{k}" {surface}/>' for k in range(len(body.parts))]
    pose = f'pos="{_numbers(body.position_m)}" quat="{_numbers(_quaternion(body.rotation))}"'
    return f'<body name="body{i}" {pose}>{moving}{"".join(parts)}</body>'


def _own_friction(friction: Floats) -> tuple[Floats, list[int]]:
    """Coefficient of each body and box, and its priority in a pair.

    MuJoCo takes the higher coefficient of two, unless one geom has priority. The lower one gets it
    here, so that the lower coefficient counts, as between pieces of the scene.
    """
    count, total = friction.shape
    own = np.zeros(total)
    if count:
        others = friction.copy()
        others[np.arange(count), np.arange(count)] = 0.0
        own[:count], own[count:] = others.max(axis=1), others[:, count:].max(axis=0)
    _, place = np.unique(-own, return_inverse=True)
    return own, [int(rank) for rank in place]


def _odd_pairs(setup: TrialSetup, own: Floats) -> list[str]:
    """Pairs of parts whose friction is not the lower one of their own: each is written out."""
    count, written = len(setup.bodies), []
    for a, b in near_pairs(setup):
        wanted = float(setup.friction[a, b])
        if abs(wanted - min(own[a], own[b])) <= SAME * wanted:
            continue
        theirs = (
            _part_spans(setup.bodies[b])
            if b < count
            else [(setup.boxes[b - count].low_m, setup.boxes[b - count].high_m)]
        )
        for k, (low, high) in enumerate(_part_spans(setup.bodies[a])):
            for m, (other_low, other_high) in enumerate(theirs):
                if max(np.max(other_low - high), np.max(low - other_high)) < NEAR_M:
                    other = f"part{b}_{m}" if b < count else f"box{b - count}"
                    mu = f"{wanted!r} {wanted!r} 0 0 0"
                    written.append(f'<pair geom1="part{a}_{k}" geom2="{other}" friction="{mu}"/>')
    return written


def _part_spans(body: TrialBody) -> list[tuple[Floats, Floats]]:
    placed = [vertices_m @ body.rotation.T + body.position_m for vertices_m, _ in body.parts]
    return [(points.min(axis=0), points.max(axis=0)) for points in placed]
