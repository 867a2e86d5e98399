"""The camera of a photo of the empty tank, from its inner corners.

Lens and pose are moved until the corners, drawn through the glass of the front pane, fall on the clicked ones.
In a square-on photo the outlines of front and back differ in size as D + Z differs from D: only that tells focal
length and distance apart. What the clicks leave open is refused, with what to add; nothing is guessed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sim.errors import BedjointError
from sim.scene import Camera
from sim.shot.camera import View
from sim.shot.clicks import CORNERS, Clicks, corner_m
from sim.shot.fitting import Fit, Task, fit, focus_m, lens_from, uncertainties
from sim.shot.framing import FRAMES, frame_m
from sim.shot.lens import Lens
from sim.shot.refraction import Tank
from sim.units import MM_PER_M

Floats = NDArray[np.float64]

CLICK_SHARE = 1.0 / 3000.0  # of the photo's width: what a careful click is off by, 2 px of 6000; judgement
VAGUE_SHARE = 0.10  # uncertainty of focal length or distance beyond which it counts as not fixed; judgement
VAGUE_DISTORTION = 0.05  # the same of k1; judgement
LEAST_EDGE_POINTS = 6
BAD_FIT_SHARE = 0.01  # residual, of the photo's width, that no click explains; judgement
SURPLUS = 4  # numbers more than sought, from which on the clicks' own scatter tells their error
DECIMALS = 6  # of a mm or a degree in the scene file
GOOD_CLICKS = 1.4  # times a careful click's error: below, no other start is tried


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """A camera found from a photo; an uncertainty ('off') is one standard deviation.

    Attributes
    ----------
    lens : Lens
        As `sim.shot.lens.lens_of` would make it from `camera`.
    camera : Camera
        For a scene file.
    distance_m : float
        From the lens to the front pane's outer face.
    turn_off_deg : (3,)
        About the camera's right, down and forward axes.
    distortion_off : float or None
        None: not sought, distortion taken as 0.
    click_px, click_known : float, bool
        Error of a click that the uncertainties reckon with; from the clicks' own scatter, or assumed.
    """

    lens: Lens
    camera: Camera
    focal_mm: float
    focal_off_mm: float
    distance_m: float
    distance_off_m: float
    position_off_m: tuple[float, float, float]
    turn_off_deg: tuple[float, float, float]
    distortion: float
    distortion_off: float | None
    click_px: float
    click_known: bool
    worst_corner: str
    worst_px: float
    rms_px: float
    cautions: tuple[str, ...]


def match_camera(
    tank: Tank, clicks: Clicks, size_px: tuple[int, int], camera: Camera, focal_mm: float | None = None
) -> Match:
    """Find lens and pose from clicked corners of a dry tank.

    Parameters
    ----------
    tank : Tank
        Dry.
    size_px : width and height of the photo
    camera : Camera
        Gives sensor, frame, aperture and focus.
    focal_mm : float, optional
        The focal length, where it is known; else it is sought.

    Returns
    -------
    Match

    Raises
    ------
    BedjointError
        When the clicks do not fix the camera, with what to add; or fit no tank of that size.

    References
    ----------
    Hartley & Zisserman, Multiple View Geometry, chapter 7; Caprile & Torre 1990, Using vanishing points for camera
    calibration, IJCV 4; Zhang 2000, A flexible new technique for camera calibration, PAMI 22 (from memory).
    """
    careful_px = CLICK_SHARE * size_px[0]
    with_k1 = len(clicks.edge_px) >= LEAST_EDGE_POINTS
    task = _task(tank, clicks, size_px, camera, focal_mm, with_k1)
    _enough(task, clicks)
    found = _best(task, clicks, careful_px)
    cautions: list[str] = []
    if with_k1 and uncertainties(found, careful_px)[-1] > VAGUE_DISTORTION:
        cautions.append("The points along edges do not fix the distortion: spread them along the long edges.")
        task = _task(tank, clicks, size_px, camera, focal_mm, with_k1=False)
        _enough(task, clicks)
        found = _best(task, clicks, careful_px)
    if not task.with_k1:
        cautions.append(
            "Distortion is taken as 0. A k1 of -0.03 that nobody notices shifts the distance by some 30 mm: "
            f"click {LEAST_EDGE_POINTS} or more points along the long edges."
        )
    _believable(task, clicks, found)
    _fixed(task, clicks, found, careful_px)
    return _answer(task, clicks, found, camera, tuple(cautions))


def frame_of_photo(size_px: tuple[int, int], camera: Camera) -> Camera:
    """The camera with a sensor and a frame of the photo's shape.

    An upright photo is one of a turned sensor. A shape that is neither the sensor's nor a usual frame's
    is taken as cut from the full width.
    """
    shape = size_px[0] / size_px[1]
    long, short = max(camera.sensor_mm), min(camera.sensor_mm)
    sensor = (long, short) if shape >= 1.0 else (short, long)
    if abs(sensor[0] / sensor[1] / shape - 1.0) < 0.01:
        return camera.model_copy(update={"sensor_mm": sensor, "crop": "sensor"})
    for crop, wanted in FRAMES.items():
        if abs(wanted / shape - 1.0) < 0.01:
            return camera.model_copy(update={"sensor_mm": sensor, "crop": crop})
    return camera.model_copy(update={"sensor_mm": (sensor[0], round(sensor[0] / shape, 6)), "crop": "sensor"})


def _task(
    tank: Tank, clicks: Clicks, size_px: tuple[int, int], camera: Camera, focal_mm: float | None, with_k1: bool
) -> Task:
    names = [name for name in CORNERS if name in clicks.corners]
    pixels = np.array([clicks.corners[name] for name in names], dtype=np.float64).reshape(-1, 2)
    edges = sorted(set(clicks.edges))
    for what, points in (("corner", pixels), ("edge point", clicks.edge_px)):
        if ((points < 0.0) | (points > np.array(size_px))).any():
            raise BedjointError(
                f"a clicked {what} lies outside the photo of {size_px[0]} x {size_px[1]} px. "
                "Give pixels of the photo as it is shown, from its upper left corner."
            )
    return Task(
        tank=tank,
        size_px=size_px,
        corners_m=np.array([corner_m(name, tank) for name in names]).reshape(-1, 3),
        corners_px=pixels,
        edges_m=np.array([[corner_m(end, tank) for end in edge] for edge in edges]).reshape(-1, 2, 3),
        edge_of=np.array([edges.index(edge) for edge in clicks.edges], dtype=np.intp),
        edge_px=clicks.edge_px,
        frame_m=frame_m(camera.sensor_mm, camera.crop),
        sensor_m=(camera.sensor_mm[0] / MM_PER_M, camera.sensor_mm[1] / MM_PER_M),
        aperture=camera.aperture,
        focus_m=None if camera.focus_mm is None else camera.focus_mm / MM_PER_M,
        focal_m=None if focal_mm is None else focal_mm / MM_PER_M,
        with_k1=with_k1,
    )


def _enough(task: Task, clicks: Clicks) -> None:
    corners = len(task.corners_px)
    if corners < 3 or task.equations < task.unknowns:
        raise BedjointError(
            f"{corners} corner{'' if corners == 1 else 's'} cannot fix a camera: {task.equations} numbers for "
            f"{task.unknowns} unknowns. {_to_add(task, clicks)}"
        )


def _best(task: Task, clicks: Clicks, careful_px: float) -> Fit:
    """The best camera; refused when few clicks are drawn as well by quite another one."""
    good_px = GOOD_CLICKS * careful_px
    best, _ = fit(task, good_px)
    fixed = _vagueness(task, best, careful_px) <= VAGUE_SHARE
    if not fixed or task.equations - task.unknowns >= SURPLUS:
        return best
    best, others = fit(task, good_px, all_starts=True)
    at = 0 if task.focal_m is None else 5
    logs = [other.sought[at] for other in others]
    if others and max(logs) - min(logs) > VAGUE_SHARE:
        raise BedjointError(f"quite different cameras draw these clicks alike. {_to_add(task, clicks)}")
    return best


def _believable(task: Task, clicks: Clicks, found: Fit) -> None:
    if found.rms_px <= BAD_FIT_SHARE * task.size_px[0]:
        return
    name, off = _worst(clicks, found)
    length, depth, height = (side * MM_PER_M for side in task.tank.inner_m)
    raise BedjointError(
        f"the clicks fit no photo of a tank of {length:g} x {depth:g} x {height:g} mm: {name} is off by {off:.0f} px. "
        "Check the names of the corners (left and right as in the photo), the inner sizes of the tank, and that "
        "the tank is empty."
    )


def _fixed(task: Task, clicks: Clicks, found: Fit, careful_px: float) -> None:
    """Refuse a camera that the clicks do not fix."""
    vague = _vagueness(task, found, careful_px)
    if not vague <= VAGUE_SHARE:
        how = f"by {vague:.0%} or more" if np.isfinite(vague) and vague < 10.0 else "without limit"
        both = "focal length and distance" if task.focal_m is None else "the distance"
        raise BedjointError(f"the clicks leave {both} open {how}. {_to_add(task, clicks)}")


def _vagueness(task: Task, found: Fit, careful_px: float) -> float:
    """The larger of the relative uncertainties of focal length, where it is sought, and distance."""
    off = uncertainties(found, careful_px)
    return float(off[5] if task.focal_m is not None else max(off[0], off[6]))


def _to_add(task: Task, clicks: Clicks) -> str:
    missing = [name for name in CORNERS if name not in clicks.corners]
    back = [name for name in missing if name.startswith("back")]
    front = [name for name in missing if name.startswith("front")]
    known = "" if task.focal_m is not None else ", or give the focal length with --lens"
    for side, names in (("back", back), ("front", front)):
        if len(names) >= 3:
            return f"Add two or more inner corners of the {side} pane ({', '.join(names)}){known}."
    if missing:
        return f"Add corners: {', '.join(missing)}{known}."
    return f"Take the photo from nearer, with a wider lens{known}."


def _worst(clicks: Clicks, found: Fit) -> tuple[str, float]:
    names = [name for name in CORNERS if name in clicks.corners]
    off = np.linalg.norm(found.residuals[: 2 * len(names)].reshape(-1, 2), axis=1)
    return names[int(np.argmax(off))], float(off.max())


def _answer(task: Task, clicks: Clicks, found: Fit, camera: Camera, cautions: tuple[str, ...]) -> Match:
    surplus = task.equations - task.unknowns
    known = surplus >= SURPLUS
    click_px = float(np.sqrt((found.residuals**2).sum() / surplus)) if known else CLICK_SHARE * task.size_px[0]
    off = list(uncertainties(found, click_px))
    log_focal_off = off.pop(0) if task.focal_m is None else 0.0
    drawn = lens_from(task, found.sought)
    sharp = focus_m(task, drawn.position_m, drawn.axes[2])
    image = drawn.image_m
    lens = _focused(drawn, image * sharp / (image + sharp), sharp)
    distance = float(-lens.position_m[1] - task.tank.side_m)
    name, worst = _worst(clicks, found)
    return Match(
        lens=lens,
        camera=_for_the_file(lens, camera, task.focus_m is None),
        focal_mm=lens.focal_m * MM_PER_M,
        focal_off_mm=lens.focal_m * MM_PER_M * log_focal_off,
        distance_m=distance,
        distance_off_m=distance * off[5],
        position_off_m=(off[3], distance * off[5], off[4]),
        turn_off_deg=(math.degrees(off[0]), math.degrees(off[1]), math.degrees(off[2])),
        distortion=lens.distortion,
        distortion_off=off[6] if task.with_k1 else None,
        click_px=click_px,
        click_known=known,
        worst_corner=name,
        worst_px=worst,
        rms_px=found.rms_px,
        cautions=cautions,
    )


def _focused(lens: Lens, focal_m: float, sharp_m: float) -> Lens:
    return replace(lens, focal_m=focal_m, focus_m=sharp_m)


def _for_the_file(lens: Lens, camera: Camera, focus_open: bool) -> Camera:
    """The keys of [camera] that make this lens again; the point looked at is where the lens is sharp."""
    right, _, forward = lens.axes
    reach = lens.focus_m if focus_open else 1.0
    level = View(lens.position_m, lens.position_m + forward, 1.0, (1.0, 1.0)).axes()
    roll = math.degrees(math.atan2(float(right @ level[1]), float(right @ level[0])))
    update = {
        "position_mm": _mm(lens.position_m),
        "look_at_mm": _mm(lens.position_m + reach * forward),
        "focal_mm": round(lens.focal_m * MM_PER_M, DECIMALS),
        "roll_deg": round(roll, DECIMALS),
        "distortion": round(lens.distortion, 8),
        "sensor_mm": camera.sensor_mm,
        "crop": camera.crop,
    }
    return camera.model_copy(update=update)


def _mm(point_m: Floats) -> tuple[float, float, float]:
    x, y, z = (round(float(value) * MM_PER_M, DECIMALS) for value in point_m)
    return (x, y, z)
