"""Pressure over the seating plane of the demo job, as it is drawn while a frequency is dragged.

Against the same levels with the points taken pair by pair; both alone and beside a thread that
never lets go of the interpreter, as the server's other work may. That thread costs a wait of the
interpreter's switch interval for every pause of a computation, so the one the server sets is
measured beside Python's own.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable

import numpy as np

from roomwright import commissioning
from roomwright.acoustics import box_admittances, green_walls
from roomwright.commissioning.room_view import pressure_map, source_groups
from roomwright.model import Job
from roomwright.web.server import SWITCH_INTERVAL_S

FREQUENCY_HZ = np.geomspace(20.0, 200.0, 21)
LIMIT_MS = 50.0


def pair_by_pair(job: Job, sources: tuple[str, ...], frequency_hz: float) -> float:
    found = pressure_map(job, sources, 40.0)
    rows, columns = found.levels_db.shape
    width, length = found.size_m
    xs, ys = (np.arange(columns) + 0.5) / columns * width, (np.arange(rows) + 0.5) / rows * length
    grid = np.stack(np.meshgrid(xs, ys, [found.height_m]), axis=-1).reshape(-1, 3)
    places = np.array([unit.position_m for unit in job.units if unit.id in sources])
    near = np.linalg.norm(grid[:, None] - places, axis=-1).min(axis=1) < 0.1
    walls = np.maximum(box_admittances(job.room, np.array([frequency_hz])), 0.001)
    start = time.perf_counter()
    green_walls(job.room.box_size_m, places, grid[~near], [frequency_hz], walls, tolerance=1e-4)
    return 1e3 * (time.perf_counter() - start)


def lattice(job: Job, sources: tuple[str, ...], frequency_hz: float) -> float:
    start = time.perf_counter()
    pressure_map(job, sources, frequency_hz)
    return 1e3 * (time.perf_counter() - start)


def spent(measure: Callable[[float], float], *, busy: bool) -> np.ndarray:
    going = threading.Event()
    going.set()

    def hold() -> None:
        while going.is_set():
            pass

    other = threading.Thread(target=hold)
    if busy:
        other.start()
    try:
        return np.array([measure(float(frequency)) for frequency in FREQUENCY_HZ])
    finally:
        going.clear()
        if busy:
            other.join()


def main() -> None:
    job = commissioning.demo_job()
    usual = sys.getswitchinterval()
    subs = dict(source_groups(job))["all subwoofers"]
    groups = {"all subwoofers": subs, "one loudspeaker": (job.loudspeakers[0].id,)}
    for name, sources in groups.items():
        pressure_map(job, sources, 40.0)
        for busy in (False, True):
            plain = spent(lambda f, s=sources: pair_by_pair(job, s, f), busy=busy)
            before = spent(lambda f, s=sources: lattice(job, s, f), busy=busy)
            sys.setswitchinterval(SWITCH_INTERVAL_S)
            here = spent(lambda f, s=sources: lattice(job, s, f), busy=busy)
            sys.setswitchinterval(usual)
            median = np.median(here)
            print(
                f"{name}, {'beside a busy thread' if busy else 'alone'}: pair by pair "
                f"{np.median(plain):.0f} ms, lattice {np.median(before):.0f} ms, as served "
                f"{median:.0f} ms (95 % within {np.percentile(here, 95):.0f} ms, limit "
                f"{LIMIT_MS:.0f} ms); {np.median(plain) / median:.0f} times faster"
            )


if __name__ == "__main__":
    main()
