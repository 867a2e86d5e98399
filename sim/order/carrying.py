"""What carries what, read from the contacts, and circles in what must come first."""

from __future__ import annotations

from collections.abc import Sequence

import networkx as nx
import numpy as np

from sim.contact import Contacts

Carries = set[tuple[int, int]]  # (lower, upper)

UPWARD = 0.1  # vertical part of a contact's normal above which one side carries the other
LEAST_SHARE = 0.02  # of the mean area: contacts at points and along lines count as so much
TINY_M2 = 1.0e-9
GRAZE = 0.1  # share of a pair's bearing area, seen from above, under which it does not count


def carried_by(contacts: Contacts, upward: float = UPWARD) -> Carries:
    """Pairs of pieces of which the first carries the second.

    Parameters
    ----------
    upward : least vertical part of the mean normal of a bed's contacts, weighted by area

    Notes
    -----
    A pair that bears both ways on beds of their own, hooked into each other, carries each other: both pairs are in
    the answer. A graze that faces the other way, a small share of what bears, carries nothing.
    """
    pieces = np.flatnonzero((contacts.a >= 0) & (contacts.b >= 0))
    if not len(pieces):
        return set()
    area = np.maximum(contacts.area_m2, LEAST_SHARE * contacts.area_m2[pieces].mean() + TINY_M2)
    beds: dict[tuple[int, int], dict[int, list[int]]] = {}
    for k in pieces:
        pair = (int(contacts.a[k]), int(contacts.b[k]))
        beds.setdefault(pair, {}).setdefault(int(contacts.patch[k]), []).append(int(k))
    found: Carries = set()
    for (a, b), own in beds.items():
        up = down = 0.0
        for bed in own.values():
            rises = float(area[bed] @ contacts.normal[bed, 2])
            if abs(rises) > upward * float(area[bed].sum()):
                up, down = up + max(rises, 0.0), down + max(-rises, 0.0)
        if up > GRAZE * (up + down):
            found.add((b, a))
        if down > GRAZE * (up + down):
            found.add((a, b))
    return found


def circle_in(needs: Sequence[int]) -> list[int]:
    """Units that wait for each other in a circle; empty where there is none."""
    graph = nx.DiGraph(
        (first, then) for then, mask in enumerate(needs) for first in range(len(needs)) if mask >> first & 1
    )
    try:
        return [edge[0] for edge in nx.find_cycle(graph)]
    except nx.NetworkXNoCycle:
        return []
