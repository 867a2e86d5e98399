"""What panes and the water's surface throw back.

Sources: Fresnel's equations (Born & Wolf, Principles of Optics, section 1.5, from memory); values for a dry pane and
for the back pane at normal incidence computed independently; critical angle asin(1 / 1.333) = 48.61 degrees; the
limit of total reflection at side panes sqrt(n^2 - 1) and the offset of their mirror plane, computed independently.
"""

from __future__ import annotations

import numpy as np
import pytest
from shots import snell, to_plane

from sim.errors import MaterialError
from sim.materials.optics import (
    FLOAT_GLASS,
    WATER_20_C,
    critical_angle_rad,
    face_reflectance,
    fresnel,
    mirror_limit,
    mirror_offset_m,
    slab_reflectance,
)

WATER, GLASS = 1.333, 1.52


@pytest.mark.parametrize(
    ("to_the_pane_deg", "share"), [(5, 0.754), (15, 0.385), (25, 0.203), (36.9, 0.119), (52.1, 0.089)]
)
def test_dry_pane(to_the_pane_deg: float, share: float) -> None:
    """Angles between ray and pane."""
    found = slab_reflectance(np.sin(np.radians(to_the_pane_deg)), 1.0, GLASS, 1.0)
    assert float(found) == pytest.approx(share, abs=6e-4)


def test_back_pane_straight_on() -> None:
    assert float(slab_reflectance(1.0, WATER, GLASS, 1.0)) == pytest.approx(0.0465, abs=5e-5)
    assert float(slab_reflectance(1.0, 1.0, GLASS, 1.0)) == pytest.approx(0.082, abs=4e-4)


def test_one_face_straight_on() -> None:
    """((n - 1) / (n + 1))^2, the textbook limit."""
    assert float(face_reflectance(1.0, 1.0, GLASS)) == pytest.approx((0.52 / 2.52) ** 2)


def test_brewster() -> None:
    """At tan(angle) = n nothing of the light polarised along the plane of incidence comes back."""
    s, p = fresnel(np.cos(np.arctan(GLASS)), 1.0, GLASS)
    assert float(p) == pytest.approx(0.0, abs=1e-15)
    assert float(s) > 0.1


def test_the_way_back_reflects_as_much() -> None:
    angles = np.radians(np.linspace(0.0, 89.0, 50))
    inside = np.sqrt(1.0 - (np.sin(angles) / WATER) ** 2)
    assert face_reflectance(np.cos(angles), 1.0, WATER) == pytest.approx(face_reflectance(inside, WATER, 1.0))


def test_critical_angle() -> None:
    assert np.degrees(critical_angle_rad(WATER)) == pytest.approx(48.61, abs=0.005)
    just_under, just_over = np.cos(critical_angle_rad(WATER) + np.array([-1e-6, 1e-6]))
    assert float(face_reflectance(just_over, WATER, 1.0)) == 1.0
    assert float(face_reflectance(just_under, WATER, 1.0)) < 1.0


def test_side_panes_are_mirrors_up_to_61_8_degrees() -> None:
    """A ray with the sideways cosine s in air strikes the side pane of a flooded tank at cosine s / n."""
    assert np.degrees(np.arcsin(mirror_limit(WATER))) == pytest.approx(61.8, abs=0.05)
    s = mirror_limit(WATER) * np.array([1.0 - 1e-9, 1.0 + 1e-9])
    shares = slab_reflectance(s / WATER, WATER, GLASS, 1.0)
    assert shares[0] == pytest.approx(1.0)
    assert shares[1] < 0.9999


def test_the_mirror_plane_lies_inside_the_side_glass() -> None:
    """Traced through both faces: in at x = 0, reflected at x = 12 mm, out again; the two legs meet at -h."""
    for s in (0.05, 0.3, 0.6, 0.85):
        into_glass = snell(
            np.array([[s / WATER, np.sqrt(1.0 - (s / WATER) ** 2), 0.0]]), np.array([1.0, 0.0, 0.0]), WATER, GLASS
        )
        out = 2.0 * to_plane(np.zeros((1, 3)), into_glass, 0, 0.012)[0, 1]  # along the pane, there and back
        offset = out / 2.0 * (s / WATER) / np.sqrt(1.0 - (s / WATER) ** 2)  # legs in water, prolonged
        assert float(mirror_offset_m(s, 0.012, WATER)) == pytest.approx(offset, rel=1e-12)


def test_indices() -> None:
    """Water at 20 C on the refractometer scale 1.33299; float glass 1.52 from memory."""
    assert WATER_20_C.default == 1.33299
    assert FLOAT_GLASS.default == 1.52


def test_light_does_not_get_lost() -> None:
    cosines = np.linspace(0.0, 1.0, 101)
    for before, slab, behind in ((1.0, GLASS, 1.0), (WATER, GLASS, 1.0), (1.0, GLASS, WATER)):
        shares = slab_reflectance(cosines, before, slab, behind)
        assert ((shares >= 0.0) & (shares <= 1.0)).all()
        assert shares[0] == pytest.approx(1.0)


def test_below_1_is_no_index() -> None:
    with pytest.raises(MaterialError, match="give 1 or more"):
        fresnel(1.0, 0.9, 1.5)
    with pytest.raises(MaterialError, match="give 1 or more"):
        critical_angle_rad(float("nan"))
