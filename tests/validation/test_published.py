"""Every published number that the program is held against, computed now; and the README's table of them.

Sources, places, tolerances and their reasons stand beside the values in `sim/published/`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.published import BY_HAND, FUNCTION, SCENE, SUBJECTS, chosen, compute, printing

README = Path(__file__).resolve().parents[2] / "README.md"
ROWS = chosen()


def test_there_are_enough_of_them() -> None:
    published = [row for _, row in ROWS if not row.source.startswith(BY_HAND)]
    assert len(published) >= 60
    assert len({row.source for row in published}) >= 20
    assert sum(row.how == SCENE for row in published) >= 20
    assert {row.how for _, row in ROWS} == {SCENE, FUNCTION}


def test_each_says_where_it_comes_from_and_how_near_ours_must_be() -> None:
    told = [(row.source, row.place, row.what) for _, row in ROWS]
    assert len(set(told)) == len(told)
    for subject, row in ROWS:
        assert subject in {one.title for one in SUBJECTS}
        assert all((row.source, row.place, row.what, row.unit, row.tolerance.why))
        assert row.value == float(row.published)
        assert row.status in printing.WORTH


@pytest.mark.slow
def test_every_number_is_within_its_tolerance_and_the_readme_shows_them() -> None:
    """One test, so that scenes which several rows share are judged once."""
    outcomes = [compute(subject, row) for subject, row in ROWS]
    out = [
        f"{one.row.what}: {one.ours:.6g} for {one.row.published}, allowed {one.row.tolerance} {one.trouble}"
        for one in outcomes
        if not one.inside
    ]
    assert not out, "\n".join(out)
    text = README.read_text(encoding="utf-8")
    block = text[text.index(printing.BEGIN) : text.index(printing.END) + len(printing.END)]
    assert block == printing.as_markdown(outcomes), "renew it: bedjoint sources --markdown -o README.md"
