"""What carries what, read from the contacts, and circles in what must come first."""

from __future__ import annotations

from collections.abc import Sequence

import networkx as nx
import numpy as np

from sim.contact import Contacts

Carries = set[tuple[int, int]]  # (lower, upper)


def carried_by(contacts: Contacts, upward: float) -> Carries:
    """Pairs of pieces of which the first carries the second.

    Parameters
    ----------
    upward : least vertical part of the mean normal of a pair's contacts, weighted by area

    Notes
    -----
    A pair that bears both ways, hooked into each other, carries each other: both pairs are in the answer.
    """
    found: Carries = set()
    pieces = (contacts.a >= 0) & (contacts.b >= 0)
    for a, b in {(int(a), int(b)) for a, b in zip(contacts.a[pieces], contacts.b[pieces], strict=True)}:
        own = (contacts.a == a) & (contacts.b == b)
        rises = contacts.normal[own, 2]
        if np.any(rises > upward):
            found.add((b, a))
        if np.any(rises < -upward):
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
