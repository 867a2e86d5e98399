"""One sheet of what the glass and the joints carry: footings with their pressures, the pane's tension, joints."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.base.answering import Carrier
from sim.report.figures import FILLED
from sim.states import Report
from sim.units import MM_PER_M, PA_PER_MPA, significant

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, SOFT, PAPER, STONE = "#28261f", "#8a857a", "#ffffff", "#e4dfd5"
# told apart by most eyes: Okabe & Ito 2008, Color Universal Design; the marker tells them apart too
FINE, TIGHT, OVER = "#0072b2", "#e69f00", "#d55e00"
MARKS = ((0.7, FINE, "o"), (1.0, TIGHT, "s"), (np.inf, OVER, "X"))  # up to this share: colour, marker
COLOURS = "cividis_r"
NOTHING = "nothing stands: forces are not known"
MOST_LABELS = 14  # footings with figures beside them; of more the heaviest
MOST_JOINTS = 20  # named beside the picture; of more the most used
BESIDE = 0.6  # depth over length of a tank from which the plans stand side by side
PLAN_IN, EDGE_IN, MOST_FRONT_IN, DPI = 9.0, 1.1, 4.5, 120  # width of a panel; height of its words; of the front view


def loads_picture(report: Report, carrier: Carrier) -> bytes:
    """PNG: footings from above, tension of the base pane and, where there are any, the joints from the front."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    length_mm, depth_mm, height_mm = carrier.stage.scene.tank.inner_mm
    beside = depth_mm > BESIDE * length_mm  # both plans in one row
    width_in = PLAN_IN * (2 if beside else 1)
    plans_in = [(PLAN_IN - 2.2) * depth_mm / length_mm + EDGE_IN] * (1 if beside else 2)
    front_in = [min((PLAN_IN - 2.2) * height_mm / length_mm, MOST_FRONT_IN) + EDGE_IN] if report.joints else []
    style: dict[Any, Any] = {"font.size": 9.0, "text.color": INK, "axes.labelcolor": INK}
    with mpl.rc_context({**style, "xtick.color": SOFT, "ytick.color": SOFT}):
        figure = Figure((width_in, sum(plans_in + front_in) + 0.3), facecolor=PAPER, dpi=DPI, layout="constrained")
        FigureCanvasAgg(figure)
        grid = figure.add_gridspec(len(plans_in + front_in), 2 if beside else 1, height_ratios=plans_in + front_in)
        figure.suptitle(_headline(report), x=0.01, ha="left", fontsize=11, weight="bold")
        _footings(figure, figure.add_subplot(grid[0, 0]), report, carrier)
        _tension(figure, figure.add_subplot(grid[0, 1] if beside else grid[1, 0]), report, carrier)
        if report.joints:
            _joints(figure.add_subplot(grid[-1, :]), report, carrier)
        stream = io.BytesIO()
        figure.savefig(stream, format="png", metadata={"Software": ""})
    return stream.getvalue()


def _headline(report: Report) -> str:
    base = "" if report.base is None else f"; base pane {report.base.verdict}"
    if report.base is not None and report.base.utilisation is not None:
        base += f", {100.0 * report.base.utilisation:.0f} % used"
    return f"{report.title or 'Scene'}: {report.verdict}{base}"


def _frame(panel: Axes, width_mm: float, height_mm: float, title: str, up: str) -> None:
    """A view of the tank with its inner outline."""
    panel.set_title(title, loc="left", fontsize=10)
    panel.set_aspect("equal")
    panel.set_xlim(-0.02 * width_mm, 1.02 * width_mm)
    panel.set_ylim(-0.04 * height_mm, 1.04 * height_mm)
    panel.plot([0, width_mm, width_mm, 0, 0], [0, 0, height_mm, height_mm, 0], color=INK, lw=1.2)
    panel.set_xlabel("x, mm from the left")
    panel.set_ylabel(up)
    for side in ("top", "right", "left", "bottom"):
        panel.spines[side].set_visible(False)


def _footings(figure: Figure, panel: Axes, report: Report, carrier: Carrier) -> None:
    from matplotlib.collections import PolyCollection

    length_mm, depth_mm, _ = carrier.stage.scene.tank.inner_mm
    shown = report.footings
    where = f", {FILLED[shown[0].water]}" if shown else ""
    _frame(panel, length_mm, depth_mm, f"Where pieces press on the base, from above{where}", "y, mm from the front")
    _shadows(panel, carrier, (0, 1))
    spread = [one for one in shown if one.pressure_kpa is not None]
    points = [np.array(one.outline_mm).mean(axis=0) for one in shown if one.pressure_kpa is None]
    if spread:
        outlines = [np.array(one.outline_mm) for one in spread]
        areas = PolyCollection(outlines, cmap=COLOURS, edgecolor=INK, lw=0.6, zorder=3)
        pressure = np.array([one.pressure_kpa or 0.0 for one in spread])
        areas.set_array(pressure)
        areas.set_clim(0.0, float(pressure.max()) or 1.0)
        panel.add_collection(areas)
        figure.colorbar(areas, ax=panel, label="pressure, kPa", pad=0.01, fraction=0.03)
    if points:
        panel.plot(
            *np.array(points).T, "D", color=OVER, mec=INK, mew=0.6, ms=6, ls="none", zorder=5, label="point or line"
        )
    for one in sorted(shown, key=lambda one: -one.force_n)[:MOST_LABELS]:
        _label(panel, f"{one.piece}\n{significant(one.force_n, 2)} N", np.array(one.outline_mm).mean(axis=0))
    if not shown:
        panel.text(length_mm / 2, depth_mm / 2, NOTHING, ha="center", color=SOFT)
    _centres(panel, report)


def _centres(panel: Axes, report: Report) -> None:
    """Centre of mass, the tank's middle and the feet."""
    x, y = report.standing.centre_mm
    panel.plot(x, y, "+", color=OVER, ms=13, mew=2.2, zorder=6, label="centre of the full tank")
    if report.total.centre_mm is not None:
        panel.plot(*report.total.centre_mm[:2], "x", color=FINE, ms=9, mew=2.0, zorder=6, label="centre of the pieces")
    for k, foot in enumerate(report.standing.feet):
        panel.plot(*foot.at_mm, "s", color=INK, ms=8, zorder=5, clip_on=False, label="foot" if k == 0 else None)
        _label(panel, f"{significant(foot.force_kn.nominal, 2)} kN", np.array(foot.at_mm))
    panel.legend(loc="upper left", bbox_to_anchor=(0.0, -0.13), ncols=4, frameon=False, borderaxespad=0.0)


def _tension(figure: Figure, panel: Axes, report: Report, carrier: Carrier) -> None:
    length_mm, depth_mm, _ = carrier.stage.scene.tank.inner_mm
    found = carrier.load_map()
    if found is None:
        _frame(panel, length_mm, depth_mm, "Tension in the base pane", "y, mm from the front")
        panel.text(length_mm / 2, depth_mm / 2, NOTHING, ha="center", color=SOFT)
        return
    title = f"Tension in the base pane, either face, by loading alone, {FILLED[found.water.filling.value]}"
    _frame(panel, length_mm, depth_mm, title, "y, mm from the front")
    x, y, tension = found.x_m * MM_PER_M, found.y_m * MM_PER_M, found.tension_pa / PA_PER_MPA
    drawn = panel.contourf(x, y, tension, levels=np.linspace(0.0, max(float(tension.max()), 1e-3), 13), cmap=COLOURS)
    bar = figure.colorbar(drawn, ax=panel, label="tension, MPa", pad=0.01, fraction=0.03, format="%.2g")
    for one in found.footings:
        ring = np.vstack([one.outline_m, one.outline_m[:1]]) * MM_PER_M
        panel.plot(ring[:, 0], ring[:, 1], color=INK, lw=0.7)
    base = report.base
    limit = None if base is None else base.limit_mpa
    if limit is not None and tension.max() > limit:
        panel.contour(x, y, tension, levels=[limit], colors=[OVER], linewidths=2.0)
        bar.ax.axhline(limit, color=OVER, lw=2.0)
    if base is not None:
        known = "" if limit is None else f", limit {significant(limit, 2)} MPa"
        most = "" if base.max_tension_mpa is None else f"at most {significant(base.max_tension_mpa, 2)} MPa{known}"
        panel.plot(*base.at_mm, "o", mfc="none", mec=OVER, ms=13, mew=2.0, zorder=6)
        _label(panel, most, np.array(base.at_mm))


def _joints(panel: Axes, report: Report, carrier: Carrier) -> None:
    """Joints from the front, each by how much of its strength is used."""
    length_mm, _, height_mm = carrier.stage.scene.tank.inner_mm
    _frame(panel, length_mm, height_mm, "Joints, from the front", "z, mm above the glass")
    _shadows(panel, carrier, (0, 2))
    declared = carrier.stage.declared
    rows = sorted(
        ((report.joints[entry], joint) for entry, joint in zip(declared.entries, declared.joints, strict=True)),
        key=lambda row: -(np.inf if row[0].utilisation is None else row[0].utilisation),
    )
    for number, (one, joint) in enumerate(rows, 1):
        share = one.utilisation
        colour, mark = (SOFT, "D") if share is None else next(row[1:3] for row in MARKS if share <= row[0])
        place = joint.patch.centroid_m[[0, 2]] * MM_PER_M
        used = "not known" if share is None else f"{100 * share:.0f} %"
        words = f"{number}  {' - '.join(one.between)}: {used}" if number <= MOST_JOINTS else None
        panel.plot(*place, mark, color=colour, ms=9, mec=INK, mew=0.6, zorder=5, ls="none", label=words)
        if number <= MOST_JOINTS:
            _label(panel, str(number), place)
    if not rows:
        return
    panel.legend(
        title="joint: strength used, where it is used most\n(circle to 70 %, square to 100 %, cross over it)",
        loc="upper left",
        bbox_to_anchor=(1.01, 1.0),
        frameon=False,
        alignment="left",
    )


def _label(panel: Axes, text: str, place: np.ndarray[Any, Any]) -> None:
    panel.annotate(
        text,
        (float(place[0]), float(place[1])),
        (7, 5),
        textcoords="offset points",
        fontsize=8,
        zorder=8,
        bbox={"boxstyle": "round,pad=0.15", "fc": PAPER, "ec": "none", "alpha": 0.75},
    )


def _shadows(panel: Axes, carrier: Carrier, axes: tuple[int, int]) -> None:
    """Outlines of all pieces as seen along the third axis."""
    from scipy.spatial import ConvexHull

    for piece in carrier.stage.pieces:
        points = piece.vertices_m()[:, list(axes)] * MM_PER_M
        corners = points[ConvexHull(points).vertices]
        panel.fill(corners[:, 0], corners[:, 1], fc=STONE, ec=SOFT, lw=0.6, alpha=0.6, zorder=1)
