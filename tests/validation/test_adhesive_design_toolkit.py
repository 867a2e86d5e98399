"""Design strength of glue.

Source: Adhesive Design Toolkit, Durability design and testing, safety (read): factors 1.5 for the adhesive, 1.5
for thickness, 1.5 for long duration, 2.0 for environment, product 6.75; never below 4.0 for long duration.
The factor of 4 for cyanoacrylate between rigid parts in water and the strengths on stone are judgement.
"""

from __future__ import annotations

import pytest

from sim.materials import ADHESIVES, STONE_DIVISOR, adhesive

# f_k MPa, environment factor, f_d MPa as rounded in the design table
TABLE = [
    ("cyanoacrylate gel", 2.0, 4.0, 0.15),
    ("cyanoacrylate gel with fibre", 1.5, 4.0, 0.11),
    ("epoxy putty", 3.0, 2.0, 0.44),
    ("cement C1", 0.5, 2.0, 0.074),
    ("cement C2", 1.0, 2.0, 0.148),
]


@pytest.mark.parametrize(("name", "strength", "environment", "permanent"), TABLE)
def test_factors(name: str, strength: float, environment: float, permanent: float) -> None:
    row = adhesive(name)
    assert row.strength_mpa.default == strength
    assert row.divisor.default == 1.5 * 1.5 * 1.5 * environment
    assert row.permanent_mpa.default == permanent
    assert permanent == pytest.approx(strength / row.divisor.default, rel=0.02)


@pytest.mark.parametrize("name", ADHESIVES)
def test_never_below_four(name: str) -> None:
    row = adhesive(name)
    assert row.divisor.default >= 4.0
    assert row.strength_mpa.default / row.permanent_mpa.default >= 4.0


def test_stone_has_the_same_factors() -> None:
    assert STONE_DIVISOR == 1.5 * 1.5 * 1.5 * 2.0
    # weathered mudstone of 0.5 MPa: computed independently
    design_mpa = 0.5 / STONE_DIVISOR
    assert design_mpa == pytest.approx(0.074, abs=1e-3)


def test_silicone_is_no_structure() -> None:
    """ETAG 002-1 (from memory): permanent shear 0.007 to 0.011 MPa."""
    row = adhesive("neutral silicone")
    assert not row.structural
    assert 0.007 <= row.permanent_mpa.default <= 0.011
