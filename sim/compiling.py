"""How loops over many numbers are compiled.

compiled  called from Python: kept in numba's cache from the first use on
inner     called by compiled functions only, and compiled into them; without the entry for
          Python, which takes longer to compile than many of these functions themselves
"""

from __future__ import annotations

import numba as nb
from numba.extending import register_jitable

compiled = nb.njit(cache=True, nogil=True, error_model="numpy", no_cfunc_wrapper=True)
inner = register_jitable(error_model="numpy", no_cfunc_wrapper=True)
