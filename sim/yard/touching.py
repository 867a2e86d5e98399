"""Contacts and joints of a scene, looked for anew only between pieces that have moved.

The contacts are those that `sim.contact.find_contacts` finds, pair by pair instead of all at once; the order in which
they stand is another one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sim.contact import Contacts, chosen_contacts, find_contacts, friction_between
from sim.contact.assembly import part_of
from sim.contact.finding import joined_contacts, renumbered_contacts, with_own_patches
from sim.joints import Declared, Joint, declared_joints
from sim.joints.gluing import Unusable
from sim.scene import JointEntry
from sim.units import MM_PER_M
from sim.yard.bench import Laid
from sim.yard.faults import Stamp, near_pairs, stamp

Key = tuple[object, ...]
MANY = 40  # times as many remembered pairs as pieces: then those of old places are forgotten


class Touching:
    """Remembers what was found between pieces at their places."""

    def __init__(self) -> None:
        self._contacts: dict[Key, Contacts] = {}
        self._joints: dict[Key, Declared] = {}

    def contacts(self, laid: Laid) -> Contacts:
        """All contacts, dry friction."""
        reach_m = laid.scene.check.contact_mm / MM_PER_M
        stamps = [stamp(laid, k) for k in range(len(laid.pieces))]
        fixed = laid.dry.fixed
        groups = [(k,) for k in range(len(stamps)) if not fixed[k]]
        pairs = near_pairs(laid, set(range(len(stamps))))
        groups += [(a, b) for a, b in pairs if not (fixed[a] and fixed[b])]  # type: ignore[misc]  # one or two
        self._tidy(stamps)
        found = [self._between(laid, group, stamps, reach_m) for group in groups]
        return _joined(found, laid)

    def declared(self, laid: Laid) -> Declared:
        """All declared joints."""
        index = {piece.id: k for k, piece in enumerate(laid.pieces)}
        joints: list[Joint] = []
        entries: list[int] = []
        gaps: list[float] = []
        unusable: list[Unusable] = []
        for number, entry in enumerate(laid.scene.joint):
            a, b = (index[name] for name in entry.between)
            one = self._joint(laid, entry, a, b)
            unusable += [Unusable(number, bad.reason) for bad in one.unusable]
            both = (min(a, b), max(a, b))
            joints += [replace(joint, a=both[joint.a], b=both[joint.b]) for joint in one.joints]
            entries += [number] * len(one.joints)
            gaps += one.gap_m
        return Declared(tuple(joints), tuple(entries), tuple(gaps), tuple(unusable))

    def _between(self, laid: Laid, group: tuple[int, ...], stamps: list[Stamp], reach_m: float) -> Contacts:
        """Contacts of two pieces, or of one with base and panes; numbered as in the whole scene."""
        key = (reach_m, float(laid.dry.planes.offset_m[0]), *(stamps[k] for k in group))
        if key not in self._contacts:
            part, poses = part_of(laid.dry, laid.poses, _only(laid, group))
            found = find_contacts(part, poses, reach_m)
            with_planes = found.b < 0
            kept = with_planes if len(group) == 1 else ~with_planes
            self._contacts[key] = with_own_patches(chosen_contacts(found, kept))
        return renumbered_contacts(self._contacts[key], np.array(group, np.int64))

    def _joint(self, laid: Laid, entry: JointEntry, a: int, b: int) -> Declared:
        materials = tuple(laid.pieces[k].material for k in (a, b))
        names = tuple(one.name if one is not None else "" for one in materials)
        key = (entry, names, stamp(laid, a), stamp(laid, b))
        if key not in self._joints:
            both = (min(a, b), max(a, b))
            part, poses = part_of(laid.dry, laid.poses, _only(laid, both))
            # both loose: between two fixed pieces nothing would be looked for
            part = replace(part, fixed=np.zeros(2, np.bool_))
            scene = laid.scene.model_copy(update={"joint": (entry,)})
            self._joints[key] = declared_joints(scene, [laid.pieces[k] for k in both], part, poses)
        return self._joints[key]

    def _tidy(self, stamps: list[Stamp]) -> None:
        if len(self._contacts) + len(self._joints) < MANY * (len(stamps) + 10):
            return
        there = set(stamps)
        self._contacts = {key: one for key, one in self._contacts.items() if there.issuperset(key[2:])}
        self._joints = {key: one for key, one in self._joints.items() if there.issuperset(key[2:])}


def _only(laid: Laid, group: tuple[int, ...]) -> np.ndarray:
    chosen = np.zeros(len(laid.pieces), np.bool_)
    chosen[list(group)] = True
    return chosen


def _joined(found: list[Contacts], laid: Laid) -> Contacts:
    """All of them in one, with the friction that the scene gives now."""
    found = [one for one in found if len(one.a)]
    if not found:
        nobody = np.zeros(len(laid.pieces), np.bool_)
        part, poses = part_of(laid.dry, laid.poses, nobody) if len(nobody) else (laid.dry, laid.poses)
        return find_contacts(part, poses)
    every = joined_contacts(found)
    return replace(every, mu=friction_between(laid.dry, every.a, every.b))
