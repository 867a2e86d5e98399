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

from sim.compiling import compiled, inner
from sim.contact.nearness import turned
from sim.contact.sorting import sort_by

RECOVERY_SHARE = 0.2  # of a penetration, per step
RECOVERY_MOST_M_S = 0.05
SLOP_M = 5.0e-6  # nearer than they rest by so much is left alone: what overlaps is pressed apart
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
    n, tank = len(a), len(velocity)
    # rows of the two pieces' speeds and of what an impulse gives them; what is held has a row of zeros, last
    way, gives = np.zeros((n, 3, 12)), np.zeros((n, 3, 12))
    speed, other = np.zeros((tank + 1, 6)), np.empty(n, np.int64)
    for k in range(tank):
        for c in range(3):
            speed[k, c], speed[k, 3 + c] = velocity[k, c], spin[k, c]
    inverse_effective = np.empty((n, 3))
    bias = np.empty(n)
    frame, arm = np.empty((3, 3)), np.empty(3)
    for i in range(n):
        _fill_frame(normal[i], frame)
        other[i] = b[i] if b[i] >= 0 else tank
        open_m = gap[i] - REST_GAP_M
        if open_m >= 0.0:
            bias[i] = open_m / step_s
        else:
            bias[i] = -min(RECOVERY_SHARE * max(-open_m - SLOP_M, 0.0) / step_s, RECOVERY_MOST_M_S)
        for d in range(3):
            give = 0.0
            for side in range(2):
                piece = a[i] if side == 0 else b[i]
                if piece < 0:
                    continue
                sign = 1.0 if side == 0 else -1.0
                for c in range(3):
                    arm[c] = point[i, c] - position[piece, c]
                    way[i, d, 6 * side + c] = sign * frame[d, c]
                    gives[i, d, 6 * side + c] = sign * inverse_mass[piece] * frame[d, c]
                give += inverse_mass[piece] + _turning(
                    arm, frame[d], sign, inverse_inertia[piece], way[i, d, 6 * side + 3 : 6 * side + 6],
                    gives[i, d, 6 * side + 3 : 6 * side + 6],
                )  # fmt: skip
            inverse_effective[i, d] = 1.0 / max(give, 1e-12)
            _push(gives[i, d], warm[i, d], speed[a[i]], speed[other[i]])
    used = rounds
    for k in range(rounds):
        largest = 0.0
        for i in range(n):
            one, two = speed[a[i]], speed[other[i]]
            old = warm[i, 0]
            new = max(0.0, old - (_relative(way[i, 0], one, two) + bias[i]) * inverse_effective[i, 0])
            if new != old:
                warm[i, 0] = new
                _push(gives[i, 0], new - old, one, two)
                largest = max(largest, abs(new - old) / inverse_effective[i, 0])
            if new == 0.0 and old == 0.0:
                continue  # it carries nothing, so it cannot rub either
            first = warm[i, 1] - _relative(way[i, 1], one, two) * inverse_effective[i, 1]
            _push(gives[i, 1], first - warm[i, 1], one, two)
            second = warm[i, 2] - _relative(way[i, 2], one, two) * inverse_effective[i, 2]
            length, limit = math.hypot(first, second), mu[i] * new
            keep = limit / length if length > limit else 1.0
            if keep < 1.0:
                _push(gives[i, 1], first * (keep - 1.0), one, two)
            _push(gives[i, 2], second * keep - warm[i, 2], one, two)
            warm[i, 1], warm[i, 2] = first * keep, second * keep
        if largest < tolerance:
            used = k + 1
            break
    for k in range(tank):
        for c in range(3):
            velocity[k, c], spin[k, c] = speed[k, c], speed[k, 3 + c]
    return used


@inner
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


@inner
def _turning(arm, direction, sign, inverse_inertia, way, turn):  # type: ignore[no-untyped-def]
    """Fill the spin's part of a row, and the spin per impulse; returns how far the piece gives way by turning."""
    x = arm[1] * direction[2] - arm[2] * direction[1]
    y = arm[2] * direction[0] - arm[0] * direction[2]
    z = arm[0] * direction[1] - arm[1] * direction[0]
    tx, ty, tz = turned(inverse_inertia, x, y, z)
    way[0], way[1], way[2] = sign * x, sign * y, sign * z
    turn[0], turn[1], turn[2] = sign * tx, sign * ty, sign * tz
    return x * tx + y * ty + z * tz


@inner
def _relative(way, one, two):  # type: ignore[no-untyped-def]
    """Relative speed of two pieces (6,), (6,) along a row."""
    return (
        way[0] * one[0] + way[1] * one[1] + way[2] * one[2] + way[3] * one[3] + way[4] * one[4] + way[5] * one[5]
        + way[6] * two[0] + way[7] * two[1] + way[8] * two[2] + way[9] * two[3] + way[10] * two[4] + way[11] * two[5]
    )  # fmt: skip


@inner
def _push(gives, impulse, one, two):  # type: ignore[no-untyped-def]
    """Apply an impulse along a row to the speeds of both pieces."""
    for c in range(6):
        one[c] += impulse * gives[c]
        two[c] += impulse * gives[6 + c]


@compiled
def thinned(rows, pair, loaded, cell_m, most):  # type: ignore[no-untyped-def]
    """Indices of touches to keep: a crowded pair keeps the nearest touch per cell, at most about `most`.

    A touch whose normal is a fallback is kept only where its pair has no better one. Touches that carried
    weight in the last step come first, so that the choice does not flicker between steps, and so do those
    that penetrate, or an overlap beside a touch that carries would never be pressed apart.
    `rows` as from `touches`; `pair` (t,) ascending; `loaded` (t,) impulses of the last step.
    """
    kept, rank, member = np.empty(len(rows), np.int64), np.empty(len(rows)), np.empty(len(rows), np.int64)
    total = start = 0
    while start < len(rows):
        end = start
        known = False
        while end < len(rows) and pair[end] == pair[start]:
            known = known or _directed(rows, end)
            end += 1
        count = 0
        for i in range(start, end):
            if _directed(rows, i) or not known:
                member[count] = i
                rank[count] = rows[i, 6] - (LOADED_LEAD_M if loaded[i] > 0.0 or rows[i, 6] < -SLOP_M else 0.0)
                count += 1
        if count > most:
            count = _spread(rows, member, rank, count, cell_m, most)
        for k in range(count):
            kept[total + k] = member[k]
        total += count
        start = end
    return kept[:total]


@inner
def _directed(rows, i):  # type: ignore[no-untyped-def]
    """Whether a touch has a good normal."""
    return rows[i, 7] > 0.5 or rows[i, 6] > DIRECTED_M


@inner
def _spread(rows, member, rank, count, cell_m, most):  # type: ignore[no-untyped-def]
    """Leave in `member`, ascending, the first by rank in each cell, the cells so wide that at most `most` stay."""
    order, chosen, cell_of = np.empty(count, np.int64), np.empty(most, np.int64), np.empty((most, 3))
    for k in range(count):
        order[k] = k
    sort_by(rank, order, 0, count)
    cell = cell_m
    while True:
        size = 0
        for k in order:
            i = member[k]
            x, y, z = math.floor(rows[i, 0] / cell), math.floor(rows[i, 1] / cell), math.floor(rows[i, 2] / cell)
            seen = False
            for j in range(size):
                if cell_of[j, 0] == x and cell_of[j, 1] == y and cell_of[j, 2] == z:
                    seen = True
                    break
            if seen:
                continue
            if size == most:
                size += 1
                break
            chosen[size] = i
            cell_of[size, 0], cell_of[size, 1], cell_of[size, 2] = x, y, z
            size += 1
        if size <= most:
            break
        cell *= 1.5
    for k in range(size):
        member[k] = chosen[k]
        j = k
        while j > 0 and member[j - 1] > member[j]:
            member[j - 1], member[j] = member[j], member[j - 1]
            j -= 1
    return size
