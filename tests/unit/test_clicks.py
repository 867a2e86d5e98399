"""The file of clicked points: what it says, and one clear error for all that it must not say."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sim.errors import BedjointError
from sim.shot.clicks import CORNERS, EDGES, corner_m, read_clicks
from sim.shot.refraction import Tank

GOOD = """
[corners]
front_bottom_left = [612.5, 3301]
back_top_right = [4790.0, 905.5]
[[edge]]
between = ["front_bottom_right", "front_bottom_left"]
px = [[1500, 3310.0], [3000.0, 3313.5]]
"""


def test_what_a_file_says(tmp_path: Path) -> None:
    (tmp_path / "clicks.toml").write_text(GOOD)
    clicks = read_clicks(tmp_path / "clicks.toml")
    assert clicks.corners == {"front_bottom_left": (612.5, 3301.0), "back_top_right": (4790.0, 905.5)}
    assert clicks.edges == (("front_bottom_left", "front_bottom_right"),) * 2
    assert clicks.edge_px.tolist() == [[1500.0, 3310.0], [3000.0, 3313.5]]


def test_a_box_has_eight_corners_and_twelve_edges() -> None:
    tank = Tank((1.5, 0.6, 0.5), 0.012, 0.0)
    corners = {name: corner_m(name, tank) for name in CORNERS}
    assert len(corners) == 8
    assert len(EDGES) == 12
    lengths = sorted(float(np.linalg.norm(corners[a] - corners[b])) for a, b in EDGES)
    assert lengths == pytest.approx([0.5] * 4 + [0.6] * 4 + [1.5] * 4)
    assert corners["back_top_right"].tolist() == [1.5, 0.6, 0.5]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("corners = [", "is no TOML"),
        ("[corner]\n", "corner: not known here"),
        ("corners = 3", r"give \[corners\] as a table"),
        ("[corners]\nfront_left = [1, 2]", "front_left: no corner of the tank. Corners: front_bottom_left"),
        ("[corners]\nfront_bottom_left = [1]", "no pixel"),
        ("[corners]\nfront_bottom_left = [1, nan]", "no pixel"),
        ("[corners]\nfront_bottom_left = [1, true]", "no pixel"),
        ('[corners]\nfront_bottom_left = "1, 2"', "no pixel"),
        ("[[edge]]\nbetween = []\npx = [[1, 2]]", "no edge of the tank"),
        ('[[edge]]\nbetween = ["front_bottom_left", "back_top_right"]\npx = [[1, 2]]', "no edge of the tank"),
        ('[[edge]]\nbetween = ["front_bottom_left", "front_top_left"]\npx = []', "no points"),
        ('[[edge]]\nbetween = ["front_bottom_left", "front_top_left"]', "give between"),
        ("edge = [1]", "give between"),
    ],
)
def test_what_it_must_not_say(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "clicks.toml").write_text(text)
    with pytest.raises(BedjointError, match=said) as refused:
        read_clicks(tmp_path / "clicks.toml")
    assert str(refused.value).startswith(str(tmp_path / "clicks.toml"))


def test_no_file_and_no_text(tmp_path: Path) -> None:
    with pytest.raises(BedjointError, match="cannot be read"):
        read_clicks(tmp_path / "none.toml")
    (tmp_path / "clicks.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(BedjointError, match="is no TOML"):
        read_clicks(tmp_path / "clicks.toml")
