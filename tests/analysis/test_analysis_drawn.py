"""Subwoofers within their range against the drawn room, on rooms summed from image sources.

The drawing's field is the closed form of a box with even damping; what is heard is a sum over
mirror images, with walls that absorb unlike the drawing's, and the walls and places are a little
off it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import fft

from roomwright.acoustics import green_uniform, images, reflection_gain, sheet_response
from roomwright.analysis.wiring import DrawnBass, HeardSystem, PlannedUnit, band_levels_db, compare
from roomwright.model import LoudspeakerModel

RATE, SPEED_M_S, LENGTH = 4000, 343.0, 2000
#: What the damping leaves of later images is 4 %; nothing is compared above 120 Hz.
REACH_S, TOP_HZ = 0.1, 500.0
SIZE_M = (4.6, 6.2, 2.6)
STATIONS_M = np.array([[2.3, 3.8, 1.2], [1.6, 4.0, 1.2], [3.0, 3.5, 1.3], [2.6, 4.5, 1.1]])
PLACES_M = {"SW1": (0.4, 0.4, 0.25), "SW2": (4.2, 0.4, 0.25), "SW3": (0.4, 5.8, 0.25)}
MODEL = LoudspeakerModel(
    name="subwoofer",
    sensitivity_db=90.0,
    maximum_level_db=115.0,
    low_hz=25.0,
    high_hz=180.0,
    low_slope_db=24,
    directivity="omni",
)
DAMPING_PER_S = 1.0 / 0.03


@cache
def played(admittance, late_s=0.0, off_m=0.05):
    """Responses (S, P, n) by images; walls and microphone stand `off_m` from where they should."""
    grid = fft.rfftfreq(LENGTH, 1 / RATE)[1:]
    grid = grid[grid < TOP_HZ]
    size = tuple(np.add(SIZE_M, (off_m, off_m, 0.02)))
    spectra = np.zeros((len(PLACES_M), len(STATIONS_M), LENGTH // 2 + 1), dtype=complex)
    for s, place in enumerate(PLACES_M.values()):
        for p, station in enumerate(STATIONS_M + np.array([off_m, off_m, 0.0])):
            paths = images(size, place, tuple(station), REACH_S * SPEED_M_S)
            gain = reflection_gain(paths, np.full((6, 1), admittance))[:, 0] / paths.distance_m
            delay_s = paths.distance_m / SPEED_M_S + late_s
            sums = np.exp(-2j * np.pi * np.outer(grid, delay_s)) @ gain
            spectra[s, p, 1 : grid.size + 1] = sums * sheet_response(MODEL, grid)
    return fft.irfft(spectra, LENGTH)


def system(samples):
    """What the drawing and the plan say of `samples`, swept up to 180 Hz."""
    frequency_hz = np.geomspace(25.0, 120.0, 40)
    to_60_db = 3.0 * np.log(10.0)
    field = green_uniform(
        SIZE_M,
        list(PLACES_M.values()),
        STATIONS_M,
        frequency_hz,
        to_60_db / (DAMPING_PER_S + to_60_db / 0.4),
        SPEED_M_S,
    )
    shifted = frequency_hz - 1j * DAMPING_PER_S / (2.0 * np.pi)
    return HeardSystem(
        units=tuple(
            PlannedUnit(name, "subwoofer", place, 25.0, 180.0, 24, 12, subwoofer=True)
            for name, place in PLACES_M.items()
        ),
        stations=tuple(f"S{k + 1}" for k in range(len(STATIONS_M))),
        station_m=STATIONS_M,
        samples=samples,
        usable=np.ones(samples.shape[:2], dtype=bool),
        sampling_rate_hz=RATE,
        band_db=band_levels_db(samples, RATE),
        top_hz=np.full(samples.shape[:2], 180.0),
        drawn=DrawnBass(frequency_hz, DAMPING_PER_S, field * sheet_response(MODEL, shifted)),
    )


def named(heard):
    return [(found.kind, found.sources) for found in compare(heard)]


@pytest.mark.parametrize("admittance", [0.03, 0.15])
@pytest.mark.parametrize("late_s", [0.0, 0.006])
def test_swaps_and_polarity_show_within_the_range(admittance, late_s):
    """Whatever the walls absorb, and with a processor's delay on all subwoofers alike."""
    samples = played(admittance, late_s)
    assert named(system(samples)) == []
    assert named(system(samples[[1, 0, 2]])) == [("swapped", ("SW1", "SW2"))]
    for row, name in enumerate(PLACES_M):
        turned = samples.copy()
        turned[row] *= -1.0
        assert named(system(turned)) == [("subwoofer_reversed", (name,))]


def test_of_two_the_data_sheet_tells_which_is_reversed():
    samples = played(0.1)
    heard = system(samples * np.array([1.0, -1.0, 1.0])[:, None, None])
    two = replace(heard, usable=heard.usable & np.array([True, True, False])[:, None])
    assert named(two) == [("subwoofer_reversed", ("SW2",))]


def test_a_room_that_the_drawing_does_not_describe_accuses_nobody():
    """A microphone that stands far from where it should in a room far larger, and noise."""
    heard = system(played(0.05, 0.0, 1.5))
    assert named(heard) == []
    noise = np.random.default_rng(3).standard_normal(heard.samples.shape)
    assert named(system(noise)) == []


def test_without_the_drawing_or_the_time_nothing_is_said():
    turned = played(0.1) * np.array([1.0, -1.0, 1.0])[:, None, None]
    assert named(replace(system(turned), drawn=None)) == []
    assert named(replace(system(turned), timed=False)) == []
