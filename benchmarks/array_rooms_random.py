"""Plane-wave arrays in the random rooms: ideal places, and 0.3 m off, by gains and by filters."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

import numpy as np
from random_rooms import SPEED_M_S, RandomRoom
from scipy import fft, signal

from roomwright.tuning.arrays import (
    NEAR_FIELD_HARMLESS,
    ArrayDesign,
    ArrayOptions,
    ControlBand,
    Drivers,
    Emitters,
    Grid,
    SimpleArray,
    absorbing_gain,
    design_grid,
    designed_array,
    emitters,
    evidence,
    front_delays_s,
    near_field,
    places_on_wall,
    plane_wave,
    proposed_array,
    response_spectra,
    simple_array,
    station_grid,
)

RATE, PERIOD_S, TOP_HZ, LEAK_HZ = 1200, 2.4, 250.0, 3.0
RESPONSE_S = 0.8
FROM_WALL_M, OFF_M = 0.15, 0.3
BAND = ControlBand(25.0, 100.0)
#: A decay this close to the shortest that can be read is as good as that.
AT_LIMIT = 1.15
#: Walls that keep their own admittance while all others have the mean.
UNLIKE = {
    "all walls alike": [],
    "side walls unlike": [0, 1],
    "front and back unlike": [2, 3],
    "floor and ceiling unlike": [4, 5],
}

T = TypeVar("T")


def on_wall(room: RandomRoom, at_m: float, count: int) -> list[tuple[float, float, float]]:
    """Two by two for four; else a row near the floor, half a spacing from the side walls."""
    if count == 4:
        return list(places_on_wall(room.size_m, 1, at_m, 2, 2))
    width = room.size_m[0]
    return [(width * (2 * n + 1) / (2 * count), at_m, 0.3) for n in range(count)]


def array_in_place(room: RandomRoom, *, robust: bool) -> Emitters:
    """The array that is proposed up to the top of the band, two across and two up or more."""
    found = proposed_array(
        room.size_m, room.admittance, BAND.high_hz, robust=robust, seats_m=room.seats_m
    )
    return found.array


def array_of(room: RandomRoom, count: int) -> Emitters:
    """Half of the subwoofers in front, one more if odd."""
    front, back = FROM_WALL_M, room.size_m[1] - FROM_WALL_M
    launching = (count + 1) // 2
    places = on_wall(room, front, launching) + on_wall(room, back, count - launching)
    marks = [n < launching for n in range(count)]
    return emitters([f"S{n + 1}" for n in range(count)], places, marks, room.size_m, room.seats_m)


def moved(room: RandomRoom, array: Emitters) -> Emitters:
    """Every emitter off along its wall at random."""
    places = np.array(array.position_m)
    rng = np.random.default_rng((room.seed, 3))
    places[:, [0, 2]] += rng.uniform(-OFF_M, OFF_M, (len(places), 2))
    for axis in (0, 2):
        places[:, axis] = places[:, axis].clip(FROM_WALL_M, room.size_m[axis] - FROM_WALL_M)
    return emitters(array.names, places, array.launches, room.size_m, room.seats_m)


def stations_m(room: RandomRoom) -> np.ndarray:
    """A grid of at most 0.8 m over the seats and 0.35 m beyond, 0.2 m below and above the ears."""
    low, high = room.seats_m.min(axis=0) - 0.35, room.seats_m.max(axis=0) + 0.35
    high[1] = min(high[1], room.size_m[1] - 0.35)
    steps = [max(3, int(np.ceil((high[k] - low[k]) / 0.8)) + 1) for k in (0, 1)]
    x, y = (np.linspace(low[k], high[k], steps[k]) for k in (0, 1))
    ear = [room.seats_m[np.argmin(np.abs(room.seats_m[:, 1] - b)), 2] for b in y]
    return np.array(
        [(a, b, e + dz) for b, e in zip(y, ear, strict=True) for a in x for dz in (-0.2, 0.2)]
    )


def responses(room: RandomRoom, sources_m: np.ndarray, points_m: np.ndarray) -> np.ndarray:
    """Impulse responses with a leak below 3 Hz and a causal low-pass at 180 Hz, faded out."""
    grid = np.arange(1, round(PERIOD_S * TOP_HZ) + 1) / PERIOD_S
    shape = (1j * grid / (LEAK_HZ + 1j * grid)) ** 2
    shape *= signal.freqz_sos(signal.butter(6, 180.0, fs=RATE, output="sos"), grid, fs=RATE)[1]
    count = round(PERIOD_S * RATE)
    spectrum = np.zeros((len(sources_m), len(points_m), count // 2 + 1), complex)
    spectrum[..., 1 : grid.size + 1] = room.field(sources_m, points_m, grid) * shape
    response = fft.irfft(spectrum, count)[..., : int(RESPONSE_S * RATE)]
    faded = response.shape[-1] // 10
    response[..., -faded:] *= np.cos(np.pi / 2 * np.arange(faded) / faded) ** 2
    return response.astype(np.float32)


@dataclass(frozen=True, slots=True)
class Judged:
    """What an array gives at the heads: spread in dB2, slowest decay re what can be read."""

    spread_db2: float
    slowest: float


def gains_and_delays(room: RandomRoom, array: Emitters, *, leaning: bool = True) -> SimpleArray:
    """From the walls; in step if not `leaning`."""
    gain = absorbing_gain(room.size_m, room.admittance, room.size_m[1])
    front_s = front_delays_s(array, room.admittance, SPEED_M_S) if leaning else 0.0
    return simple_array(array, gain, SPEED_M_S, front_s)


def heads_m(room: RandomRoom) -> np.ndarray:
    """Places of the heads that no design looked at, all ahead of the absorbing subwoofers."""
    points = room.held_back_m()
    points[:, 1] = np.minimum(points[:, 1], room.size_m[1] - 0.35)
    return points


class Heads:
    """An array heard at some points of a room."""

    def __init__(self, room: RandomRoom, array: Emitters, points_m: np.ndarray, grid: Grid) -> None:
        """Compute the responses."""
        self.array, self.points_m, self.grid = array, points_m, grid
        self.heard = response_spectra(responses(room, array.position_m, points_m), grid)

    def judged(
        self, drive: np.ndarray, late_s: float = 0.0, at: np.ndarray | slice = slice(None)
    ) -> Judged:
        """Drives (S, bins) judged at the points, or at some of them."""
        points, frequency = self.points_m[at], self.grid.frequencies_hz
        wave = plane_wave(self.array, points, frequency)
        wave *= np.exp(-2j * np.pi * frequency * late_s)
        arrival = points[:, 1] / SPEED_M_S + late_s
        endless = np.full((frequency.size, len(drive)), 1e3)
        heard = self.heard[:, at]
        found = evidence(heard, drive.T, wave, arrival, endless, BAND, self.grid)
        return Judged(found.spatial_variance_db2, found.decay.slowest)


def designed(room: RandomRoom, array: Emitters) -> ArrayDesign:
    points, count = stations_m(room), len(array.names)
    grid = station_grid(responses(room, array.position_m, points), RATE, points, timed=True)
    limits = Drivers(np.full(count, 6.0), np.full(count, 20.0))
    return designed_array(array, gains_and_delays(room, array), grid, limits)


def of_gains(room: RandomRoom, array: Emitters, name: str) -> tuple[dict[str, Judged], Heads]:
    """Gains and delays alone, as they are."""
    grid = design_grid(RATE, ArrayOptions().filter_s, RESPONSE_S, BAND.fades_out_hz)
    heads = Heads(room, array, heads_m(room), grid)
    drives = gains_and_delays(room, array).drives(heads.grid.frequencies_hz)
    return {f"{name}, gains and delays": heads.judged(drives)}, heads


def _with_filters(room: RandomRoom, array: Emitters, name: str) -> tuple[dict[str, Judged], Heads]:
    """Gains and delays, filters, and which of them the design chose."""
    design = designed(room, array)
    heads = Heads(room, array, heads_m(room), design.grid)
    taps = design.taps[:, :: design.grid.factor] * design.grid.factor
    simple = heads.judged(design.simple.drives(design.grid.frequencies_hz) * design.equaliser)
    filters = heads.judged(design.grid.spectrum(taps), design.latency_s)
    return {
        f"{name}, gains and delays": simple,
        f"{name}, filters": filters,
        f"{name}, as chosen": filters if design.chosen == "filters" else simple,
    }, heads


def arrays_of_room(room: RandomRoom, *, filters: bool = True) -> dict[str, Judged]:
    """Every array of one room; walls of one kind show what unlike ones cost."""
    of_design = _with_filters if filters else of_gains
    array = array_of(room, 8)
    rows, heads = of_design(room, array, "ideal places")
    enough = array if is_suited(room) else array_in_place(room, robust=True)
    rows |= of_design(room, enough, "as many as needed")[0]
    frequency = heads.grid.frequencies_hz
    in_step = gains_and_delays(room, array, leaning=False).drives(frequency)
    rows["ideal, all in step"] = heads.judged(in_step)
    mean = np.full(6, np.exp(np.log(room.admittance).mean()))
    for name, unlike in UNLIKE.items():
        walls = mean.copy()
        walls[unlike] = room.admittance[unlike]
        other = replace(room, admittance=walls)
        heard = Heads(other, array, heads.points_m, heads.grid)
        drives = gains_and_delays(other, array, leaning=False).drives(frequency)
        rows[f"ideal, all in step, {name}"] = heard.judged(drives)
    rows |= of_design(room, moved(room, array), "off by up to 0.3 m")[0]
    rows |= of_design(room, moved(room, enough), "off by up to 0.3 m, as many as needed")[0]
    return rows


def print_arrays(rooms: list[RandomRoom], processes: int, *, filters: bool) -> dict[str, float]:
    """The arrays of all rooms, 25 to 100 Hz; shares of rooms that meet the aims."""
    if not rooms:
        return {}
    figures = {}
    print(f"\n4 + 4 arrays in {len(rooms)} rooms, 25 to 100 Hz, at held-back places of the heads")
    rows: dict[str, list[Judged]] = {}
    for room, found in zip(
        rooms, each_room(partial(arrays_of_room, filters=filters), rooms, processes), strict=True
    ):
        for name, judged in found.items():
            rows.setdefault(name, []).append(judged)
        print(f"room {room.seed}", flush=True)
    print("| array | spread, median (90 %), dB2 | rooms below aim | slowest decay re its limit |")
    print("|---|---|---|---|")
    for name, results in rows.items():
        figures |= print_row(name, results, len(rooms))
    fit = [n for n, room in enumerate(rooms) if is_suited(room)]
    print(f"of these, {len(fit)} rooms where no head hears single emitters:")
    for name in [name for name in rows if name.startswith("ideal places")] if fit else ():
        kept = [rows[name][n] for n in fit]
        figures |= print_row(f"{name}, suited rooms", kept, len(fit))
    return figures


def is_suited(room: RandomRoom) -> bool:
    """Whether no head hears single ones of the 4 + 4."""
    heard = near_field(array_of(room, 8), heads_m(room), BAND.high_hz, SPEED_M_S)
    return bool(heard.max() <= NEAR_FIELD_HARMLESS)


def print_row(name: str, results: list[Judged], rooms: int) -> dict[str, float]:
    """One array in all rooms that have it; the shares that meet the aims, of filters."""
    spread = np.array([found.spread_db2 for found in results])
    decay = np.array([found.slowest for found in results])
    aim = 1.0 if name.startswith("off") else 0.2
    even, dry = (100.0 * float(np.mean(met)) for met in (spread < aim, decay < AT_LIMIT))
    few = "" if len(results) == rooms else f" ({len(results)} rooms)"
    print(
        f"| {name}{few} | {np.median(spread):.2f} ({np.quantile(spread, 0.9):.2f}) | "
        f"{even:.0f} % below {aim:g} dB2 | "
        f"{np.median(decay):.1f} (90 %: {np.quantile(decay, 0.9):.1f}), "
        f"{dry:.0f} % below {AT_LIMIT:g} |"
    )
    return {
        f"array, {name}: below {aim:g} dB2, % of rooms": even,
        f"array, {name}: decay at the limit, % of rooms": dry,
    }


def each_room(
    work: Callable[[RandomRoom], T], rooms: list[RandomRoom], processes: int
) -> Iterator[T]:
    """Work done for every room, in their order, by some processes at once."""
    if processes == 1:
        yield from map(work, rooms)
        return
    with ProcessPoolExecutor(processes) as pool:
        yield from pool.map(work, rooms)
