"""From a pointer that moves to the prediction redrawn, in a real browser on the demo job.

Timed in the page: from the pointer event of one step of a drag until the frame that shows the
predicted curve it gave. Each step waits for the one before; then the pointer goes on without
waiting, as a hand does, and the time between one redrawn curve and the next is shown. The plain
version computes the tuning of all outputs and the prediction of all channels anew, in the same
run and without a browser. Needs Chromium and playwright; says so if there are none. The folder of
a finished demo job may be given; otherwise one is measured first, which takes half a minute.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from bench_web import FLAGS, SERVE, serving

from roomwright import commissioning
from roomwright.commissioning.edits import target as edit_target
from roomwright.store import create_job, open_job
from roomwright.tuning import design, predict

try:
    from playwright.sync_api import sync_playwright
except ImportError:
    sync_playwright = None

LIMIT_MS = 100.0
STEPS, HAND_MOVES, HAND_EVERY_MS = 40, 60, 20
SETTLED = "tuned; the solver follows every change"
WATCH = """() => {
  const graph = document.querySelector('.rw-tune .roomwright-graph');
  const desk = getElement(Number(graph.id.slice(1)));
  const curve = () => desk.state.curves.find((one) => one.id === 'seat');
  const afterFrame = (go) => requestAnimationFrame(() => setTimeout(go));
  let moved = 0;
  addEventListener('pointermove', () => { moved = performance.now(); }, true);
  window.expectCurve = () => {
    const before = curve();
    window.curveCame = new Promise((tell) => {
      const look = () => {
        const drawn = curve() !== before && !desk.due.base;
        if (drawn) tell(performance.now() - moved); else afterFrame(look);
      };
      look();
    });
  };
  window.noteCurves = () => {
    const times = [];
    let before = curve(), on = true;
    const look = () => {
      if (curve() !== before && !desk.due.base) { before = curve(); times.push(performance.now()); }
      if (on) afterFrame(look);
    };
    look();
    window.curvesCame = () => { on = false; return times; };
  };
}"""


def finished(place: Path, given: Path | None) -> Path:
    folder = place / "demo"
    if given is not None:
        shutil.copytree(given, folder)
        return folder
    with create_job(folder, commissioning.demo_job()) as made:
        commissioning.rehearse(made)
        commissioning.tune(made)
    return folder


def plain_ms(path: Path) -> float:
    """What it takes to do for all outputs and channels what a drag does for one."""
    with open_job(path) as folder:
        job, survey = folder.job, commissioning.responses(folder, "survey")
    moved = edit_target.move_point(job, ("M+030",), 2, 150.0, 3.0)
    start = time.perf_counter()
    tuning, _ = design(moved, survey)
    predict(moved, tuning, survey)
    return 1e3 * (time.perf_counter() - start)


def centre(thing: Any) -> tuple[float, float]:  # noqa: ANN401
    box = thing.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def dragged(page: Any, thing: Any) -> tuple[np.ndarray, np.ndarray]:  # noqa: ANN401
    """Milliseconds a step, and between redrawn curves while a hand goes on."""
    thing.wait_for()
    x, y = centre(thing)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y - 2)
    page.wait_for_timeout(500)
    steps = []
    for number in range(STEPS):
        page.evaluate("expectCurve()")
        page.mouse.move(x, y + 25 * np.sin(0.7 * (number + 1)))
        steps.append(page.evaluate("curveCame"))
    page.evaluate("noteCurves()")
    for number in range(HAND_MOVES):
        page.mouse.move(x, y + 25 * np.sin(0.2 * (number + 1)))
        page.wait_for_timeout(HAND_EVERY_MS)
    page.wait_for_timeout(300)
    between = np.diff(page.evaluate("curvesCame()"))
    page.keyboard.press("Escape")
    page.mouse.up()
    return np.array(steps), between


def choose(page: Any, channel: str, drawn: str) -> None:  # noqa: ANN401
    page.wait_for_timeout(1000)
    page.get_by_text(SETTLED).wait_for()
    page.locator(".rw-tune-head .q-select").first.click()
    page.get_by_role("option", name=channel).click()
    page.get_by_role("button", name=drawn, exact=True).click()
    page.wait_for_timeout(1500)


def measure(page: Any, plain: float) -> None:  # noqa: ANN401
    for channel, drawn, thing in (
        ("M+030", "target", ".rg-handle"),
        ("M+030", "filters", ".rg-point"),
        ("M+030", "levels", ".rg-handle"),
        ("LFE1", "target", ".rg-handle"),
        ("LFE1", "levels", ".rg-handle"),
    ):
        choose(page, channel, drawn)
        steps, between = dragged(page, page.locator(thing).nth(0 if drawn == "levels" else 1))
        print(
            f"{channel}, {drawn}: median {np.median(steps):.0f} ms, 95 % within "
            f"{np.percentile(steps, 95):.0f} ms (limit {LIMIT_MS:.0f} ms); a hand sees a new curve "
            f"every {np.median(between):.0f} ms, 95 % within {np.percentile(between, 95):.0f} ms; "
            f"{plain / np.median(steps):.0f} times faster than all computed anew"
        )


def main() -> None:
    path = os.environ.get("ROOMWRIGHT_CHROMIUM") or shutil.which("chromium")
    if sync_playwright is None or path is None:
        raise SystemExit("playwright or chromium is missing: nothing was measured")
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        folder = finished(Path(place), Path(sys.argv[1]) if len(sys.argv) > 1 else None)
        plain = plain_ms(folder)
        print(f"all outputs and channels anew: {plain:.0f} ms")
        browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        with serving(SERVE, "open", str(folder), "--no-browser") as (address, _took, _pid):
            page = browser.new_page(viewport={"width": 1280, "height": 720})
            page.set_default_timeout(60_000)
            page.goto(f"{address}job/demo?stage=tuning")
            page.locator(".rg-handle").first.wait_for()
            page.evaluate(WATCH)
            measure(page, plain)
        browser.close()


if __name__ == "__main__":
    main()
