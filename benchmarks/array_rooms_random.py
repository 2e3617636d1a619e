"""Plane-wave arrays in the random rooms: ideal places, and 0.3 m off, by gains and by filters."""

from __future__ import annotations

import numpy as np
from random_rooms import SPEED_M_S, RandomRoom
from scipy import fft, signal

from roomwright.tuning.arrays import (
    ArrayDesign,
    ControlBand,
    Drivers,
    Emitters,
    Evidence,
    absorbing_gain,
    designed_array,
    emitters,
    evidence,
    places_on_wall,
    plane_wave,
    response_spectra,
    simple_array,
    station_grid,
)

RATE, PERIOD_S, TOP_HZ, LEAK_HZ = 1200, 2.4, 250.0, 3.0
FROM_WALL_M, OFF_M = 0.15, 0.3
BAND = ControlBand(25.0, 100.0)


def on_wall(room: RandomRoom, at_m: float, count: int) -> list[tuple[float, float, float]]:
    """Two by two for four; else a row near the floor, half a spacing from the side walls."""
    if count == 4:
        return list(places_on_wall(room.size_m, 1, at_m, 2, 2))
    width = room.size_m[0]
    return [(width * (2 * n + 1) / (2 * count), at_m, 0.3) for n in range(count)]


def array_of(room: RandomRoom, count: int, off_m: float = 0.0) -> Emitters:
    """Half of the subwoofers in front, one more if odd; off along the walls at random."""
    front, back = FROM_WALL_M, room.size_m[1] - FROM_WALL_M
    launching = (count + 1) // 2
    places = on_wall(room, front, launching) + on_wall(room, back, count - launching)
    rng = np.random.default_rng((room.seed, 3))
    places = np.array(places)
    places[:, [0, 2]] += rng.uniform(-off_m, off_m, (count, 2))
    for axis in (0, 2):
        places[:, axis] = places[:, axis].clip(FROM_WALL_M, room.size_m[axis] - FROM_WALL_M)
    marks = [n < launching for n in range(count)]
    return emitters([f"S{n + 1}" for n in range(count)], places, marks, room.size_m, room.seats_m)


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
    response = fft.irfft(spectrum, count)[..., : int(0.8 * count)]
    faded = response.shape[-1] // 10
    response[..., -faded:] *= np.cos(np.pi / 2 * np.arange(faded) / faded) ** 2
    return response.astype(np.float32)


def designed(room: RandomRoom, array: Emitters) -> ArrayDesign:
    simple = simple_array(array, absorbing_gain(room.size_m, room.admittance, room.size_m[1]))
    points = stations_m(room)
    grid = station_grid(responses(room, array.position_m, points), RATE, points, timed=True)
    count = len(array.names)
    return designed_array(array, simple, grid, Drivers(np.full(count, 6.0), np.full(count, 20.0)))


def judged_at_heads(room: RandomRoom, array: Emitters, design: ArrayDesign) -> list[Evidence]:
    """Gains and delays, then filters, at places of the heads that no design looked at."""
    points, grid = room.held_back_m(), design.grid
    points[:, 1] = np.minimum(points[:, 1], room.size_m[1] - 0.35)
    frequency = grid.frequencies_hz
    heard = response_spectra(responses(room, array.position_m, points), grid)
    limit = Drivers(np.full(len(array.names), 6.0), np.full(len(array.names), 20.0))
    low_rate = design.taps[:, :: grid.factor] * grid.factor
    found = []
    for drive, late_s in (
        ((design.simple.drives(frequency) * design.equaliser).T, 0.0),
        (grid.spectrum(low_rate).T, design.latency_s),
    ):
        wave = plane_wave(array, points, frequency) * np.exp(-2j * np.pi * frequency * late_s)
        arrival = points[:, 1] / SPEED_M_S + late_s
        found.append(evidence(heard, drive, wave, arrival, limit.limit(frequency), BAND, grid))
    return found


def slowest(found: Evidence) -> float:
    """Decay of the third octave that is slowest against what can be read, median over points."""
    return found.decay.slowest


def print_arrays(rooms: list[RandomRoom]) -> None:
    """The arrays of all rooms, 25 to 100 Hz."""
    if not rooms:
        return
    print(f"\n4 + 4 arrays in {len(rooms)} rooms, 25 to 100 Hz, at held-back places of the heads")
    rows: dict[str, list[Evidence]] = {}
    chosen = 0
    for room in rooms:
        for off_m, names in ((0.0, ("ideal, gains", "")), (OFF_M, ("off, gains", "off, filters"))):
            array = array_of(room, 8, off_m)
            design = designed(room, array)
            chosen += off_m > 0 and design.chosen == "filters"
            for name, found in zip(names, judged_at_heads(room, array, design), strict=True):
                if name:
                    rows.setdefault(name, []).append(found)
        figures = (f"{found[-1].spatial_variance_db2:.2f}" for found in rows.values())
        print(f"room {room.seed}: {', '.join(figures)} dB2", flush=True)
    print("| array | spread, median (90 %), dB2 | rooms below aim | slowest decay re its limit |")
    print("|---|---|---|---|")
    for name, results in rows.items():
        spread = np.array([found.spatial_variance_db2 for found in results])
        decay = np.array([slowest(found) for found in results])
        aim = 0.2 if name.startswith("ideal") else 1.0
        print(
            f"| {name} | {np.median(spread):.2f} ({np.quantile(spread, 0.9):.2f}) | "
            f"{100 * np.mean(spread < aim):.0f} % below {aim:g} dB2 | "
            f"{np.median(decay):.1f} (90 %: {np.quantile(decay, 0.9):.1f}) |"
        )
    print(f"filters chosen by the design's own held-back stations in {chosen} of {len(rooms)}")
