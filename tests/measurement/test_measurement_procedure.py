"""The order of work of a survey."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import measurement
from roomwright._errors import Cancelled
from roomwright.model import Station, Sweep
from roomwright.signals import excitation

RATE = 48000
SWEEP = Sweep(duration_s=0.5, tail_s=0.2)


class Wire:
    """A device whose microphone hears the sum of its outputs."""

    name = "wire"
    sampling_rate_hz = RATE
    output_count = 4
    input_count = 1

    def __init__(self):
        self.played = []

    def play_and_record(self, signals):
        self.played.append(dict(signals))
        return measurement.Recording(sum(signals.values())[None], RATE)

    def record(self, duration_s):
        return measurement.Recording(np.zeros((1, round(duration_s * RATE)), np.float32), RATE)


def run(device, progress=lambda fraction, doing: None):
    placed, takes = [], []
    ready = {3: np.full(10, 0.25, np.float32), 4: np.full(10, 0.5, np.float32)}
    measurement.survey(
        device,
        [Station(id="S1"), Station(id="S2")],
        {"L": 1, "sub": ready},
        SWEEP,
        place=lambda station: placed.append(station.id),
        on_take=lambda source, station, recording: takes.append((source, station, recording)),
        progress=progress,
    )
    return placed, takes


def test_station_by_station():
    device: measurement.Device = Wire()
    told = []
    placed, takes = run(device, lambda fraction, doing: told.append((fraction, doing)))
    assert placed == ["S1", "S2"]
    pairs = [(source, station) for source, station, _ in takes]
    assert pairs == [("L", "S1"), ("sub", "S1"), ("L", "S2"), ("sub", "S2")]
    np.testing.assert_array_equal(takes[0][2].microphone, excitation(SWEEP, RATE))
    np.testing.assert_array_equal(takes[1][2].microphone, np.full(10, 0.75))
    assert takes[0][2].reference is None
    assert [fraction for fraction, _ in told] == [0, 0.25, 0.5, 0.75, 1.0]
    assert told[1][1] == "sub at S1"


def test_what_was_taken_before_a_cancellation_stays():
    taken = []

    def stop(fraction, doing):
        if fraction >= 0.5:
            raise Cancelled(doing)

    device = Wire()
    with pytest.raises(Cancelled):
        measurement.survey(
            device,
            [Station(id="S1"), Station(id="S2")],
            {"L": 1, "R": 2},
            SWEEP,
            place=lambda station: None,
            on_take=lambda source, station, recording: taken.append((source, station)),
            progress=stop,
        )
    assert taken == [("L", "S1"), ("R", "S1")]
