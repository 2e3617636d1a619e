"""Comparisons of takes on systems in the free field, whose truth is known in closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import butter, sosfilt, sosfiltfilt

from roomwright.analysis.wiring import HeardSystem, PlannedUnit, band_levels_db, compare
from roomwright.analysis.wiring.fronts import uprightness

RATE, SPEED_M_S = 48000, 343.0
STATIONS_M = np.array([[2.5, 4.0, 1.2], [1.8, 4.2, 1.2], [3.2, 3.6, 1.3], [2.8, 4.8, 1.1]])
PLACES_M = {
    "L": (1.0, 0.4, 1.2),
    "R": (4.0, 0.4, 1.2),
    "C": (2.5, 0.4, 1.0),
    "LS": (0.2, 3.4, 1.4),
    "RS1": (4.8, 3.4, 1.4),
    "RS2": (4.8, 4.6, 1.4),
}


def heard(places_m=None, stations_m=STATIONS_M, planned_m=STATIONS_M):
    """What loudspeakers at `places_m` give in the free field; they are planned at `PLACES_M`."""
    places_m = PLACES_M | (places_m or {})
    samples = np.zeros((len(PLACES_M), len(STATIONS_M), 4800))
    late_s = (
        np.linalg.norm(np.array(list(places_m.values()))[:, None] - stations_m[None], axis=-1)
        / SPEED_M_S
    )
    spectrum_hz = np.fft.rfftfreq(4800, 1 / RATE)
    samples += np.fft.irfft(np.exp(-2j * np.pi * spectrum_hz * late_s[..., None]), 4800)
    samples = sosfilt(butter(2, (60, 16000), "bandpass", fs=RATE, output="sos"), samples)
    samples /= late_s[..., None] * SPEED_M_S
    return HeardSystem(
        units=tuple(
            PlannedUnit(name, "main", place, 60.0, 16000.0) for name, place in PLACES_M.items()
        ),
        stations=tuple(f"S{k + 1}" for k in range(len(STATIONS_M))),
        station_m=planned_m,
        samples=samples,
        usable=np.ones(samples.shape[:2], dtype=bool),
        sampling_rate_hz=RATE,
        band_db=band_levels_db(samples, RATE),
        top_hz=np.full(samples.shape[:2], 20000.0),
    )


def named(system):
    return [(found.kind, set(found.sources)) for found in compare(system)]


def test_what_is_planned_is_in_order():
    assert named(heard()) == []


def test_a_swap_shows_at_the_one_station_off_the_middle():
    """RS1 and RS2 lie nearly alike for three stations; the fourth tells them apart."""
    stations_m = np.array([[2.5, 4.0, 1.2], [1.8, 4.02, 1.2], [3.2, 3.97, 1.3], [2.8, 4.8, 1.1]])
    swapped = {"RS1": PLACES_M["RS2"], "RS2": PLACES_M["RS1"]}
    assert named(heard(None, stations_m, stations_m)) == []
    assert named(heard(swapped, stations_m, stations_m)) == [("swapped", {"RS1", "RS2"})]


def test_a_loudspeaker_far_from_its_plan_is_named_alone():
    assert named(heard({"RS2": (4.2, 5.6, 1.4)})) == [("far_from_plan", {"RS2"})]


def test_what_comes_too_early_at_one_station_is_a_noise_there():
    """Nothing that plays in its place is heard before sound can have come from there."""
    system = heard()
    samples = system.samples.copy()
    early = round(0.8 / SPEED_M_S * RATE)
    samples[2, 1] = np.roll(samples[2, 1], -early)
    (found,) = compare(replace(system, samples=samples))
    assert (found.kind, found.sources, found.stations) == ("noise_event", ("C",), ("S2",))
    assert found.evidence == pytest.approx(0.8, abs=0.02)
    # what is late at one station alone may be behind something: nothing is said
    samples[2, 1] = np.roll(system.samples[2, 1], early)
    assert compare(replace(system, samples=samples)) == ()


def test_a_station_that_stands_wrongly_accuses_no_loudspeaker():
    moved_m = STATIONS_M.copy()
    moved_m[2] += (0.4, 0.5, 0.0)
    assert named(heard(None, moved_m)) == []


@pytest.mark.parametrize("order", [2, 4])
@pytest.mark.parametrize("polarity", [1.0, -1.0])
def test_fronts_of_subwoofers_stand_upright_by_their_roll_off(order, polarity):
    """Above its range a Butterworth low-pass of order n is (j w / w0)^-n: a pulse, differentiated.

    A pulse of two octaves without phase leans by 1/3: sidelobes of half its crest.
    """
    impulse = np.zeros(9600)
    impulse[4800] = polarity
    played = sosfilt(butter(order, 150.0, fs=RATE, output="sos"), impulse)
    twice = np.diff(played, 2)
    band = butter(2, (750.0, 3000.0), "bandpass", fs=RATE, output="sos")
    front = sosfiltfilt(band, twice)[4700:4900]
    leaning = uprightness([front], 6 * order)
    assert np.sign(leaning) == polarity
    assert abs(leaning) == pytest.approx(1 / 3, abs=0.12)


def test_odd_roll_offs_tell_nothing():
    assert uprightness([np.array([0.0, 1.0, 0.0])], 18) == 0.0
    assert uprightness([None], 12) == 0.0
