"""How much glue a joint takes: the worked example, and what must hold for any joint."""

from __future__ import annotations

import numpy as np
import pytest

from sim.errors import BedjointError
from sim.joints import glue_amount, joint_patch, outline_of
from sim.materials import ADHESIVES, ROCKS

GEL = ADHESIVES["cyanoacrylate gel"]


def test_the_worked_example() -> None:
    """10 cm2, gap 0.4 mm, perimeter 120 mm, bead 2 mm, 1.07 g/cm3: 0.40 + 0.24 = 0.64 cm3, 0.82 g with waste 1.2."""
    amount = glue_amount(GEL, 10e-4, 0.120, 0.4e-3, 2e-3)
    assert amount.volume_m3 * 1e6 == pytest.approx(0.64, abs=1e-9)
    assert amount.mass_kg * 1e3 == pytest.approx(0.82, abs=5e-3)
    assert amount.cure_h == GEL.cure_h.default


def test_porous_rock_takes_up_thin_glue() -> None:
    stone = ROCKS["sandstone"]
    dry = glue_amount(GEL, 10e-4, 0.120, 0.4e-3).volume_m3
    one = glue_amount(GEL, 10e-4, 0.120, 0.4e-3, sides=(stone, None)).volume_m3
    two = glue_amount(GEL, 10e-4, 0.120, 0.4e-3, sides=(stone, stone)).volume_m3
    taken = 10e-4 * stone.porosity.default * GEL.pore_depth_mm.default / 1000.0
    assert one - dry == pytest.approx(taken)
    assert two - one == pytest.approx(taken)
    putty = ADHESIVES["epoxy putty"]
    assert glue_amount(putty, 1e-3, 0.1, 1e-3, sides=(stone,)).volume_m3 == pytest.approx(1e-6)


def test_the_outline_leaves_the_contact_fraction_out() -> None:
    corners = np.array([[0.0, 0.0, 0.0], [0.03, 0.0, 0.0], [0.03, 0.02, 0.0], [0.0, 0.02, 0.0]])
    assert outline_of(joint_patch(corners, np.array([0.0, 0.0, 1.0]), 0.3)) == pytest.approx((6e-4, 0.1))


@pytest.mark.parametrize("sizes", [(0.0, 0.1, 0.001, 0.0), (1e-3, 0.0, 0.001, 0.0), (1e-3, 0.1, -0.001, 0.0)])
def test_impossible_sizes(sizes: tuple[float, float, float, float]) -> None:
    with pytest.raises(BedjointError, match="glue:"):
        glue_amount(GEL, *sizes)
