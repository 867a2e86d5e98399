"""Sorting for compiled code: numba's own sorts take several times as long to compile.

References
----------
Hoare, C. A. R. (1962). Quicksort. The Computer Journal 5(1), 10-16.
Sedgewick, R. (1978). Implementing Quicksort programs. Communications of the ACM 21(10),
847-857 (median of three, short runs by insertion, the longer part waits).
"""

from __future__ import annotations

import numpy as np

from sim.compiling import inner

SHORT_RUN = 15
MOST_WAITING = 64  # the longer part waits, so there are never more than the number's bits


@inner
def sort_by(keys, order, start, end):  # type: ignore[no-untyped-def]
    """Put the indices order[start:end] so that their keys (n,) ascend; what is equal comes in a fixed order."""
    waiting = np.empty((MOST_WAITING, 2), np.int64)
    waiting[0, 0], waiting[0, 1] = start, end - 1
    size = 1
    while size > 0:
        size -= 1
        low, high = waiting[size, 0], waiting[size, 1]
        while high - low >= SHORT_RUN:
            i = _parted(keys, order, low, high)
            if high - i > i - low:
                waiting[size, 0], waiting[size, 1] = i + 1, high
                high = i - 1
            else:
                waiting[size, 0], waiting[size, 1] = low, i - 1
                low = i + 1
            size += 1
        for i in range(low + 1, high + 1):
            k, j = order[i], i
            while j > low and keys[k] < keys[order[j - 1]]:
                order[j] = order[j - 1]
                j -= 1
            order[j] = k


@inner
def _parted(keys, order, low, high):  # type: ignore[no-untyped-def]
    """Part order[low : high + 1] at the median of three: smaller ones before the place returned, larger behind."""
    middle = (low + high) >> 1
    for one, two in ((low, middle), (middle, high), (low, middle)):
        if keys[order[two]] < keys[order[one]]:
            order[one], order[two] = order[two], order[one]
    pivot = keys[order[middle]]
    order[high], order[middle] = order[middle], order[high]
    i, j = low, high - 1
    while True:
        while i < high and keys[order[i]] < pivot:
            i += 1
        while j >= low and pivot < keys[order[j]]:
            j -= 1
        if i >= j:
            break
        order[i], order[j] = order[j], order[i]
        i += 1
        j -= 1
    order[i], order[high] = order[high], order[i]
    return i
