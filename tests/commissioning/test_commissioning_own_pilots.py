"""Who plays the pilots of a take with a loop-back, and within which band."""

from __future__ import annotations

import numpy as np
from fault_rooms import RATE, drawn_job

from roomwright.commissioning.survey.passes import PlannedTake, own_sweep
from roomwright.measurement import LOOP_BACK, plan_pass
from roomwright.signals import pilot_samples, timeline

JOB = drawn_job(1)
NUMBERS = {output.drives: output.number for output in JOB.outputs}


def test_a_loudspeaker_plays_the_pilots_within_its_band_at_its_level():
    sweep = own_sweep(JOB, "M000", -40.0, "loop-back")
    signals = PlannedTake(("M000",), (sweep,)).signals(JOB)
    places, played = timeline(sweep, RATE), signals[NUMBERS["M000"]]
    pilot = pilot_samples(sweep.model_copy(update={"pilot_band_hz": (250.0, sweep.stop_hz)}), RATE)
    for start in (places.pilot_1, places.pilot_2):
        np.testing.assert_array_equal(played[start : start + pilot.size], pilot)
        assert signals[LOOP_BACK][start : start + pilot.size].any()
    power = np.abs(np.fft.rfft(pilot.astype(float), RATE)) ** 2
    # the faded chirp's skirt below the loudspeaker's band: a thousandth, -30 dB, is no strain
    assert power[: round(sweep.start_hz)].sum() < 1e-3 * power.sum()
    assert np.abs(played).max() <= 10 ** (-40.0 / 20) * 1.001


def test_a_subwoofer_plays_its_sweep_alone():
    sweep = own_sweep(JOB, "SW1", -40.0, "loop-back")
    played = PlannedTake(("SW1",), (sweep,)).signals(JOB)[NUMBERS["SW1"]]
    places = timeline(sweep, RATE)
    assert not played[: places.sweep_start].any()
    assert not played[places.sweep_stop :].any()


def test_of_several_sources_one_plays_the_pilots():
    sweep = own_sweep(JOB, "LS1", -40.0, "loop-back").model_copy(update={"duration_s": 4.0})
    together = plan_pass(sweep, 2, RATE, window_s=0.6)
    take = PlannedTake(("LS1", "RS1"), together.sweeps, together.overlaps)
    signals, places = take.signals(JOB), timeline(take.sweep, RATE)
    heard = [bool(signals[NUMBERS[name]][places.pilot_2 :].any()) for name in ("LS1", "RS1")]
    assert sum(heard) == 1
