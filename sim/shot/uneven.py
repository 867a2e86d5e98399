"""Where a picture changes from pixel to pixel: only there it takes more than one ray."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def uneven(shown: NDArray[Any], by_more_than: float) -> NDArray[np.bool_]:
    """Pixels (height, width) of which a value, of `shown` (height, width, k), differs so much from a neighbour's."""
    found = np.zeros(shown.shape[:2], np.bool_)
    for one, other in ((np.s_[:, 1:], np.s_[:, :-1]), (np.s_[1:], np.s_[:-1])):
        differs = np.abs(shown[one] - shown[other]).max(axis=2) > by_more_than
        found[one] |= differs
        found[other] |= differs
    return found
