"""Time that a hand waits at the yard: opening, dragging, setting down, the quick verdict after it, and the page.

Run: PYTHONPATH=tests/support python tests/benchmarks/bench_yard.py [PIECES] [FACES]
Rows of generated slabs, three high, set down by the session itself. Each figure is wall time and processor time of
this process, in seconds, of the second run of two, so that nothing compiles; the load of the machine is printed
beside them, for wall time means little on a busy one. The page is that of `bedjoint open` in Chromium without a
graphics card, 1440 by 900: the first of its three runs finds no stones in the cache, the others do.
"""

from __future__ import annotations

import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

from browsing import READY, VENDOR, Server, chromium, drawn, launched, take_hold, until

from sim.yard.protocol import PoseTo
from sim.yard.quick import QuickVerdict
from sim.yard.session import Session
from sim.yard.touching import Touching
from sim.yard.wire import written

HIGH = 3
STEP_X_MM, STEP_Y_MM, STEP_Z_MM = 165.0, 120.0, 46.0
REPEATS = 5
PAGES = 3

HEAD = """\
format = 1
[tank]
inner_mm = [1800, 700, 500]
base_mm = 12
side_mm = 12
glass = "annealed"
under_stones = { kind = "grid", thickness_mm = 5 }
"""


def scene_text(pieces: int, faces: int) -> str:
    """Columns of three slabs each."""
    blocks = [HEAD]
    for k in range(pieces):
        column, level = divmod(k, HIGH)
        x, y = 110.0 + column % 10 * STEP_X_MM, 90.0 + column // 10 * STEP_Y_MM
        blocks.append(
            f'\n[[piece]]\nid = "s_{k}"\ngenerate = {{ shape = "slab", seed = {k + 1}, size_mm = [{150 - 12 * level}, '
            f'{105 - 10 * level}, 38], faces = {faces} }}\nrock = "sandstone"\n'
            f"at_mm = [{x}, {y}, {5.0 + STEP_Z_MM * level}]\n"
        )
    return "".join(blocks)


def timed(what: str, work: Callable[[], object], repeats: int = REPEATS) -> None:
    """Print the median of wall and processor time."""
    work()
    walls, cpus = [], []
    for _ in range(repeats):
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    print(f"{what:<44}{statistics.median(walls):>8.3f}{statistics.median(cpus):>8.3f}", flush=True)


def verdict_of(session: Session, touching: Touching, step_m: float) -> None:
    """The states of a version in which the last piece has moved."""
    k = len(session.laid.pieces) - 1
    place = session.laid.poses.position_m[k] + [step_m, 0.0, 0.0]
    laid = session.laid.with_poses({k: (session.laid.poses.rotation[k], place)})
    QuickVerdict(0, laid, (), touching, lambda: False).verdict()


def main() -> None:
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    faces = int(sys.argv[2]) if len(sys.argv) > 2 else 6000
    print(f"{pieces} slabs of about {faces} triangles; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"{'':<44}{'wall s':>8}{'cpu s':>8}")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "wall.toml"
        file.write_text(scene_text(pieces, faces))
        wall, cpu = time.perf_counter(), time.process_time()
        session = Session(file, judged=False)
        print(f"{'open':<44}{time.perf_counter() - wall:>8.3f}{time.process_time() - cpu:>8.3f}")
        wall, cpu = time.perf_counter(), time.process_time()
        session.set_down([piece.id for piece in session.laid.pieces])
        print(f"{'set all down':<44}{time.perf_counter() - wall:>8.3f}{time.process_time() - cpu:>8.3f}", flush=True)
        measured(session)
        session.save()
        session.close()
        if chromium() and VENDOR.is_file():
            page(file)
    print(f"most memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def measured(session: Session) -> None:
    """What a hand waits for."""
    last = session.laid.pieces[-1].id
    at_mm = session.laid.scene.piece[-1].at_mm
    touching, steps = Touching(), iter(range(1000))
    timed("drag: faults of the piece under the hand", lambda: session.drag([PoseTo(last, at_mm=(*at_mm[:2], 130.0))]))
    timed("move and undo, each with all faults", lambda: (session.move([last], (0.1, 0, 0)), session.undo()))
    timed("set down", lambda: (session.move([last], (0, 0, 5)), session.set_down([last])))
    timed("quick verdict after one piece moved", lambda: verdict_of(session, touching, 1.0e-5 * next(steps)))
    verdict = QuickVerdict(0, session.laid, session.faults, touching, lambda: False)
    print(f"  {verdict.verdict().verdict}: {verdict.verdict().reason or 'nothing moves'}")
    timed("whole answer: loads, margins of all pieces", lambda: verdict.run(lambda _: None), 1)
    timed("state as text", lambda: written(session.state()))
    print(f"  {len(written(session.state())) / 1000:.0f} kB")
    meshes = {piece.mesh for piece in session.state().pieces}
    wall = time.perf_counter()
    size = sum(len(session.meshes.blob(key)) for key in meshes)
    print(f"{'display meshes, first time':<44}{time.perf_counter() - wall:>8.3f}  {size / 1e6:.1f} MB")


def page(file: Path) -> None:
    """What a user sees: from the command to stones on the screen, and a stone dragged."""
    with launched() as browser:
        for _ in range(PAGES):
            served = Server(file, file.with_name("cache"))
            try:
                began = time.perf_counter()
                served.start()
                print(f"page: command to listening {time.perf_counter() - began:.2f} s; load {os.getloadavg()[0]:.1f}")
                seen(browser, served)
            finally:
                served.end()


def seen(browser: Any, served: Server) -> None:
    """One window."""
    window = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
    asked = time.perf_counter()
    window.goto(served.address, wait_until="commit")
    until(window, READY)
    drawn(window)
    print(f"  page to stones drawn {time.perf_counter() - asked:.2f} s")
    until(window, "yard.store.verdict")
    print(f"  page to first verdict {time.perf_counter() - asked:.2f} s")
    dragged(window)
    heap_mb = window.evaluate("performance.memory.usedJSHeapSize") / 1e6
    assert served.process is not None
    most_kb = int(Path(f"/proc/{served.process.pid}/status").read_text().split("VmHWM:")[1].split()[0])
    print(f"  most memory of the server {most_kb / 1024:.0f} MB, of the page's scripts {heap_mb:.0f} MB", flush=True)
    window.context.close()


def dragged(window: Any) -> None:
    """The last stone pulled up by its handle: time between pictures, and until the session has answered."""
    name = window.evaluate("yard.store.state.pieces.at(-1).id")
    window.evaluate(
        f"""(yard.store.pick({name!r}), window.pictures = [], window.heard = [], window.sent = 0,
             yard.view.after.push(() => pictures.push(performance.now())),
             yard.link.drag = (send => drag => {{
               sent ||= performance.now();
               send.call(yard.link, drag);
             }})(yard.link.drag),
             yard.link.hear('dragged', () => {{ if (sent) heard.push(performance.now() - sent); sent = 0; }}), 0)"""
    )
    x, y = take_hold(window, name, 60)
    window.evaluate("(pictures.length = 0, heard.length = 0)")
    for k in range(60):
        window.mouse.move(x, y - 2 * k)
        window.wait_for_timeout(30)
    window.mouse.up()
    pictures, heard = window.evaluate("[pictures, heard]")
    apart = statistics.median(b - a for a, b in pairwise(pictures))
    print(f"  drag: pictures every {apart:.0f} ms, answered after {statistics.median(heard):.0f} ms")


if __name__ == "__main__":
    main()
