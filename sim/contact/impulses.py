"""Contact impulses with Coulomb friction by projected Gauss-Seidel, and overdamped steps.

Row      one of three directions (normal, two tangents) of one touch.
Warm     impulses of the last step, with which the next one starts.

References
----------
Jean, M. (1999). The non-smooth contact dynamics method. Comput. Methods Appl. Mech.
Engrg. 177, 235-257 (the row-by-row scheme).
"""

from __future__ import annotations

import math

import numpy as np

from sim.contact.nearness import turned
from sim.contact.tree import compiled

RECOVERY_SHARE = 0.2  # of a penetration, per step
RECOVERY_MOST_M_S = 0.05
SLOP_M = 2.0e-5  # penetration that is left alone
LOADED_LEAD_M = 5.0e-5  # a touch that carried weight counts as so much nearer when a crowd is thinned
DIRECTED_M = 2.1e-5  # over a wider gap the way to the nearest point is a good normal, whatever the feature
REST_GAP_M = 6.0e-6  # surfaces come to rest this far apart, so that rounding never makes an overlap


@compiled
def solve_impulses(  # type: ignore[no-untyped-def]
    inverse_mass,
    inverse_inertia,
    position,
    velocity,
    spin,
    a,
    b,
    point,
    normal,
    gap,
    mu,
    warm,
    step_s,
    rounds,
    tolerance,
):
    """Find impulses that keep every gap open to the end of the step; velocities change in place.

    Parameters
    ----------
    inverse_mass : (n,); inverse_inertia : (n, 3, 3) in the tank's frame; zero for fixed pieces
    position : (n, 3) centres; velocity, spin : (n, 3), changed
    a, b : (t,) pieces of each touch, b < 0 for planes; normal from b to a
    gap : (t,) metres; mu : (t,) friction; warm : (t, 3) impulses, changed

    Returns
    -------
    int : rounds used
    """
    n = len(a)
    frame = np.empty((n, 3, 3))
    arm_a, arm_b = np.empty((n, 3)), np.zeros((n, 3))
    turn_a, turn_b = np.empty((n, 3, 3)), np.zeros((n, 3, 3))
    inverse_effective = np.empty((n, 3))
    bias = np.empty(n)
    for i in range(n):
        _fill_frame(normal[i], frame[i])
        for c in range(3):
            arm_a[i, c] = point[i, c] - position[a[i], c]
            if b[i] >= 0:
                arm_b[i, c] = point[i, c] - position[b[i], c]
        open_m = gap[i] - REST_GAP_M
        if open_m >= 0.0:
            bias[i] = open_m / step_s
        else:
            bias[i] = -min(RECOVERY_SHARE * max(-open_m - SLOP_M, 0.0) / step_s, RECOVERY_MOST_M_S)
        for d in range(3):
            give = inverse_mass[a[i]] + _turning(arm_a[i], frame[i, d], inverse_inertia[a[i]], turn_a[i, d])
            if b[i] >= 0:
                give += inverse_mass[b[i]] + _turning(arm_b[i], frame[i, d], inverse_inertia[b[i]], turn_b[i, d])
            inverse_effective[i, d] = 1.0 / max(give, 1e-12)
        for d in range(3):
            _push(i, d, warm[i, d], a, b, frame, turn_a, turn_b, inverse_mass, velocity, spin)
    for used in range(rounds):
        largest = 0.0
        for i in range(n):
            for d in range(3):
                change = -(_speed(i, d, a, b, frame, arm_a, arm_b, velocity, spin) + (bias[i] if d == 0 else 0.0))
                change *= inverse_effective[i, d]
                old = warm[i, d]
                warm[i, d] = max(0.0, old + change) if d == 0 else old + change
                change = warm[i, d] - old
                if change != 0.0:
                    _push(i, d, change, a, b, frame, turn_a, turn_b, inverse_mass, velocity, spin)
                    if d == 0:
                        largest = max(largest, abs(change) / inverse_effective[i, d])
            length = math.hypot(warm[i, 1], warm[i, 2])
            limit = mu[i] * warm[i, 0]
            if length > limit:
                keep = limit / length if length > 0.0 else 0.0
                for d in range(1, 3):
                    change = warm[i, d] * (keep - 1.0)
                    warm[i, d] *= keep
                    _push(i, d, change, a, b, frame, turn_a, turn_b, inverse_mass, velocity, spin)
        if largest < tolerance:
            return used + 1
    return rounds


@compiled
def _fill_frame(k, frame):  # type: ignore[no-untyped-def]
    """Rows: the normal and two tangents."""
    x, y, z = k[0], k[1], k[2]
    if abs(x) < 0.7:
        tx, ty, tz = 0.0, z, -y
    else:
        tx, ty, tz = -z, 0.0, x
    scale = 1.0 / math.sqrt(tx * tx + ty * ty + tz * tz)
    tx, ty, tz = tx * scale, ty * scale, tz * scale
    frame[0, 0], frame[0, 1], frame[0, 2] = x, y, z
    frame[1, 0], frame[1, 1], frame[1, 2] = tx, ty, tz
    frame[2, 0], frame[2, 1], frame[2, 2] = y * tz - z * ty, z * tx - x * tz, x * ty - y * tx


@compiled
def _turning(arm, direction, inverse_inertia, turn):  # type: ignore[no-untyped-def]
    """Spin per impulse along a direction, into `turn`; returns how far it gives way there."""
    x = arm[1] * direction[2] - arm[2] * direction[1]
    y = arm[2] * direction[0] - arm[0] * direction[2]
    z = arm[0] * direction[1] - arm[1] * direction[0]
    turn[0], turn[1], turn[2] = turned(inverse_inertia, x, y, z)
    return x * turn[0] + y * turn[1] + z * turn[2]


@compiled
def _speed(i, d, a, b, frame, arm_a, arm_b, velocity, spin):  # type: ignore[no-untyped-def]
    """Relative speed of a against b along a row."""
    k, r, t = a[i], arm_a[i], frame[i, d]
    u = (
        t[0] * (velocity[k, 0] + spin[k, 1] * r[2] - spin[k, 2] * r[1])
        + t[1] * (velocity[k, 1] + spin[k, 2] * r[0] - spin[k, 0] * r[2])
        + t[2] * (velocity[k, 2] + spin[k, 0] * r[1] - spin[k, 1] * r[0])
    )
    k, r = b[i], arm_b[i]
    if k >= 0:
        u -= (
            t[0] * (velocity[k, 0] + spin[k, 1] * r[2] - spin[k, 2] * r[1])
            + t[1] * (velocity[k, 1] + spin[k, 2] * r[0] - spin[k, 0] * r[2])
            + t[2] * (velocity[k, 2] + spin[k, 0] * r[1] - spin[k, 1] * r[0])
        )
    return u


@compiled
def _push(i, d, impulse, a, b, frame, turn_a, turn_b, inverse_mass, velocity, spin):  # type: ignore[no-untyped-def]
    """Apply an impulse along a row to both pieces."""
    k = a[i]
    for c in range(3):
        velocity[k, c] += inverse_mass[k] * impulse * frame[i, d, c]
        spin[k, c] += impulse * turn_a[i, d, c]
    k = b[i]
    if k >= 0:
        for c in range(3):
            velocity[k, c] -= inverse_mass[k] * impulse * frame[i, d, c]
            spin[k, c] -= impulse * turn_b[i, d, c]


@compiled
def thinned(rows, pair, loaded, cell_m, most):  # type: ignore[no-untyped-def]
    """Indices of touches to keep: a crowded pair keeps the nearest touch per cell, at most about `most`.

    A touch whose normal is a fallback is kept only where its pair has no better one. Touches that carried
    weight in the last step come first, so that the choice does not flicker between steps, and so do those
    that penetrate, or an overlap beside a touch that carries would never be pressed apart.
    `rows` as from `touches`; `pair` (t,) ascending; `loaded` (t,) impulses of the last step.
    """
    keep = np.zeros(len(rows), np.bool_)
    directed = (rows[:, 7] > 0.5) | (rows[:, 6] > DIRECTED_M)
    start = 0
    while start < len(rows):
        end = start
        known = False
        while end < len(rows) and pair[end] == pair[start]:
            known = known or directed[end]
            end += 1
        member = np.empty(end - start, np.int64)
        rank = np.empty(end - start)
        count = 0
        for i in range(start, end):
            if directed[i] or not known:
                member[count] = i
                rank[count] = rows[i, 6] - (LOADED_LEAD_M if loaded[i] > 0.0 or rows[i, 6] < -SLOP_M else 0.0)
                count += 1
        member, rank = member[:count], rank[:count]
        if count <= most:
            keep[member] = True
        else:
            order = np.argsort(rank)
            cell = cell_m
            chosen = np.empty(count, np.int64)
            while True:
                kept = 0
                seen = set()
                for k in order:
                    i = member[k]
                    key = (
                        math.floor(rows[i, 0] / cell),
                        math.floor(rows[i, 1] / cell),
                        math.floor(rows[i, 2] / cell),
                    )
                    if key not in seen:
                        seen.add(key)
                        chosen[kept] = i
                        kept += 1
                if kept <= most:
                    break
                cell *= 1.5
            keep[chosen[:kept]] = True
        start = end
    return np.flatnonzero(keep)
