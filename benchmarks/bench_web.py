"""How long the web app takes to start, and to show its first page and a job in a real browser.

Each of several rounds starts a server of its own on the demo job. The server counts as started
when its address is printed, as that is when it can be reached; a page as shown when the browser
has painted its contents and is connected. A bare page of the same toolkit is timed in the same
way, for the share that is not ours. Needs Chromium and playwright; says so if there are none. The
folder of a demo job may be given; otherwise one is made.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from roomwright import commissioning
from roomwright.store import create_job

try:
    from playwright.sync_api import sync_playwright
except ImportError:
    sync_playwright = None

ROUNDS = 3
START_LIMIT_S, PAGE_LIMIT_S = 3.0, 2.0
SETTLE_S, IDLE_S = 10.0, 5.0
FLAGS = ("--no-sandbox", "--disable-quic", "--disable-background-networking", "--disable-sync")
SERVE = "from roomwright.cli import main; main()"
BARE = """
import socket, uvicorn
from fastapi import FastAPI
from nicegui import app, ui
@ui.page("/")
def page():
    ui.element("main").props("class=rw-home")
listening = socket.create_server(("127.0.0.1", 0))
app.on_startup(lambda: print(f"at http://127.0.0.1:{listening.getsockname()[1]}/ ", flush=True))
bare = FastAPI()
ui.run_with(bare, show_welcome_message=False)
uvicorn.Server(uvicorn.Config(bare, log_level="warning")).run(sockets=[listening])
"""


@contextlib.contextmanager
def serving(program: str, *arguments: str) -> Iterator[tuple[str, float, int]]:
    """A server of its own: its address, the seconds it took to start, its process."""
    start = time.perf_counter()
    command = [sys.executable, "-c", program, *arguments]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:  # noqa: S603
        try:
            line = process.stdout.readline()
            took = time.perf_counter() - start
            yield re.search(r"http://[^/]+/", line)[0], took, process.pid
        finally:
            process.terminate()


def shown_s(browser: object, address: str, element: str) -> float:
    """Seconds until a fresh browser window shows an element and is connected."""
    context = browser.new_context(viewport={"width": 1280, "height": 720})
    page = context.new_page()
    start = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_selector(element, state="attached")
    page.wait_for_function("window.did_handshake")
    took = time.perf_counter() - start
    context.close()
    return took


def idle(pid: int) -> tuple[float, float]:
    """Share of one processor over some seconds, and megabytes in use; Linux only."""
    ticks = os.sysconf("SC_CLK_TCK")

    def spent() -> float:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / ticks

    before = spent()
    time.sleep(IDLE_S)
    share = (spent() - before) / IDLE_S
    resident = next(
        line for line in Path(f"/proc/{pid}/status").read_text().splitlines() if "VmRSS" in line
    )
    return share, int(resident.split()[1]) / 1024


def measure(browser: object, folder: Path) -> None:
    found: dict[str, list[float]] = {}
    for _ in range(ROUNDS):
        with serving(BARE) as (address, took, _pid):
            found.setdefault("bare server", []).append(took)
            found.setdefault("bare page", []).append(shown_s(browser, address, ".rw-home"))
        with serving(SERVE, "open", str(folder.parent), "--no-browser") as (address, took, _pid):
            found.setdefault("server", []).append(took)
            found.setdefault("first page at once", []).append(
                shown_s(browser, address, ".rw-home .rw-job")
            )
            found.setdefault("first page again", []).append(
                shown_s(browser, address, ".rw-home .rw-job")
            )
        with serving(SERVE, "open", str(folder), "--no-browser") as (address, _took, pid):
            for name in ("job at once", "job again"):
                took = shown_s(browser, f"{address}job/demo", ".rw-plan .item")
                found.setdefault(name, []).append(took)
            time.sleep(SETTLE_S)
            share, memory = idle(pid)
            found.setdefault("idle, per cent of one processor", []).append(100 * share)
            found.setdefault("memory, MB", []).append(memory)
    for name, values in found.items():
        print(f"{name}: median {np.median(values):.2f}, best {min(values):.2f}")
    server, page = np.median(found["server"]), np.median(found["first page at once"])
    print(f"server {server / np.median(found['bare server']):.1f} times the bare one's start")
    print(f"first page {page / np.median(found['bare page']):.1f} times the bare one's")
    print(f"limits: server {START_LIMIT_S:g} s, first page {PAGE_LIMIT_S:g} s")


def main() -> None:
    if sync_playwright is None:
        raise SystemExit("playwright is not installed: nothing was measured")
    path = os.environ.get("ROOMWRIGHT_CHROMIUM") or shutil.which("chromium")
    if path is None:
        raise SystemExit("there is no chromium (ROOMWRIGHT_CHROMIUM can name one)")
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        folder = Path(place) / "demo"
        if len(sys.argv) > 1:
            shutil.copytree(sys.argv[1], folder)
        else:
            with create_job(folder, commissioning.demo_job()):
                pass
        browser = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
        measure(browser, folder)
        browser.close()


if __name__ == "__main__":
    main()
