"""Drawing 100 curves of 2,000 points in the graph desk while it is zoomed and panned.

Timed is one redraw by the desk's own code, in a real browser: what has to fit between two frames.
A plain version draws every point of every curve with the same canvas, in the same page. How long
the browser then takes to put the picture on the screen depends on its graphics and is not timed.
Needs Chromium and playwright; says so if there are none.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request

import numpy as np

try:
    from playwright.sync_api import sync_playwright
except ImportError:
    sync_playwright = None

FLAGS = ("--no-sandbox", "--disable-quic", "--disable-background-networking", "--disable-sync")
FRAME_MS = 1000.0 / 60.0
PAGE = """
import sys
import numpy as np
from nicegui import ui
from roomwright.web.components.graph_desk import Axis, Curve, GraphDesk, distinct
F = np.geomspace(20.0, 20000.0, 2000)
@ui.page("/")
def page():
    rng = np.random.default_rng(1)
    with ui.element("div").style("width: 1200px; height: 620px"):
        desk = GraphDesk(y=Axis("level", "dB", 40.0, 110.0), name="many")
    desk.set_curves(
        Curve(f"c{n}", f"curve {n}", F, 80 + np.cumsum(rng.normal(0, 0.4, F.size)), **distinct(n))
        for n in range(100)
    )
ui.run(host="127.0.0.1", port=int(sys.argv[1]), show=False, reload=False,
       reconnect_timeout=120)
"""
READY = """() => {
  const element = document.querySelector('.roomwright-graph');
  const desk = window.did_handshake && element && getElement(Number(element.id.slice(1)));
  return desk && desk.place && desk.state.curves.length === 100;
}"""
DRAW = """async () => {
  const desk = getElement(Number(document.querySelector('.roomwright-graph').id.slice(1)));
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [1200, 620];
  const context = canvas.getContext('2d');
  const plain = () => {
    const [frame] = desk.place.frames;
    context.clearRect(0, 0, 1200, 620);
    for (const curve of desk.state.curves) {
      context.beginPath();
      for (let n = 0; n < curve.x.length; n += 1) {
        context.lineTo(frame.x.at(curve.x[n]), frame.y.at(curve.y[n]));
      }
      context.stroke();
    }
  };
  const ours = () => { desk.due = { base: true, over: true }; desk.paint(); };
  const timed = (draw) => {
    const start = performance.now();
    draw();
    return performance.now() - start;
  };
  const found = { zoom: [], pan: [], still: [], plain: [] };
  for (let step = 0; step < 40; step += 1) {
    desk.state.moving = true;
    desk.zoomView('x', step < 20 ? 0.93 : 1 / 0.93, 500);
    found.zoom.push(timed(ours));
    desk.moveView('x', desk.state.view.x, step % 20 < 10 ? 0.02 : -0.02);
    found.pan.push(timed(ours));
    found.plain.push(timed(plain));
    desk.state.moving = false;
    found.still.push(timed(ours));
    await new Promise(requestAnimationFrame);
  }
  return found;
}"""


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


def wait_for(address: str) -> None:
    until = time.monotonic() + 60.0
    while time.monotonic() < until:
        try:
            urllib.request.urlopen(address, timeout=5).close()  # noqa: S310
        except (urllib.error.URLError, OSError):
            time.sleep(0.2)
        else:
            return
    raise SystemExit("the page did not come up")


def measured(path: str) -> dict[str, list[float]]:
    port = free_port()
    command = [sys.executable, "-c", PAGE, str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as server:  # noqa: S603
        try:
            address = f"http://127.0.0.1:{port}/"
            wait_for(address)
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
                page = browser.new_page(viewport={"width": 1280, "height": 720})
                page.goto(address)
                page.wait_for_function(READY, timeout=120_000)
                found: dict[str, list[float]] = page.evaluate(DRAW)
                browser.close()
                return found
        finally:
            server.terminate()


def main() -> None:
    path = os.environ.get("ROOMWRIGHT_CHROMIUM") or shutil.which("chromium")
    if sync_playwright is None or path is None:
        raise SystemExit("playwright or chromium is missing: nothing was measured")
    found = measured(path)
    plain = np.median(found["plain"])
    for name in ("zoom", "pan", "still"):
        values = np.array(found[name])
        print(
            f"{name}: median {np.median(values):.1f} ms, best {values.min():.1f} ms, 95 % within "
            f"{np.percentile(values, 95):.1f} ms (a frame has {FRAME_MS:.1f} ms); every point "
            f"drawn plainly {plain:.1f} ms, {plain / np.median(values):.1f} times as long"
        )


if __name__ == "__main__":
    main()
