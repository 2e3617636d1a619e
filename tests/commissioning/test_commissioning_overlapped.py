"""Several sources in one recording: each judged for itself as far as that can be told."""

from __future__ import annotations

from functools import cache

import numpy as np
from fault_rooms import RATE, drawn_job

from roomwright.commissioning.survey.passes import PlannedTake, own_sweep
from roomwright.measurement import divided, plan_pass
from roomwright.measurement.quality import judge_pass, judge_source
from roomwright.model import Fault
from roomwright.rehearsal import RehearsalRoom
from roomwright.signals import timeline

SOURCES = ("LS1", "RS1", "RS2")
WINDOW_S = 0.6


@cache
def planned():
    job = drawn_job(1)
    sweep = own_sweep(job, SOURCES[0], -12.0, "loop-back").model_copy(update={"duration_s": 4.0})
    together = plan_pass(sweep, len(SOURCES), RATE, window_s=WINDOW_S)
    return job, PlannedTake(SOURCES, together.sweeps, together.overlaps)


def judged(*faults, crack_s=None):
    """Kinds of what is found in each source's part of a recording in a room with `faults`.

    At `crack_s` after the first sweep began something else in the room cracks.
    """
    job, take = planned()
    room = RehearsalRoom(
        job.model_copy(update={"rehearsal": job.rehearsal.model_copy(update={"faults": faults})})
    )
    room.place_microphone(job.stations[0].position_m)
    quiet = float(np.std(room.record(0.5).microphone))
    recording = room.play_and_record(take.signals(job))
    microphone, reference = recording.microphone.copy(), recording.reference
    if crack_s is not None:
        at = timeline(take.sweep, RATE).sweep_start + round(crack_s * RATE)
        crack = np.random.default_rng(8).standard_normal(round(0.2 * RATE))
        microphone[at : at + crack.size] += (1e-3 * crack).astype(np.float32)
    whole = divided(microphone, reference, take.sweep, RATE, sensitivity_pa=20.0, overlapped=True)
    shared = judge_pass(whole, microphone, reference, quiet)
    found = {}
    for source, overlap in zip(SOURCES, take.overlaps, strict=True):
        model = job.model_of(job.unit(source))
        band = (model.low_hz, model.high_hz)
        one = judge_source(whole, shared, microphone, overlap, band_hz=band, background_rms=quiet)
        found[source] = tuple(diagnosis.kind for diagnosis in one.diagnoses)
    return found


def output_of(source):
    return next(o.number for o in planned()[0].outputs if o.drives == source)


def test_healthy_sources_are_not_accused():
    assert judged() == dict.fromkeys(SOURCES, ())


def test_a_dead_source_is_named_among_others_that_play():
    assert judged(Fault(kind="dead", output=output_of("RS1"))) == {
        "LS1": (),
        "RS1": ("dead_output",),
        "RS2": (),
    }


def test_a_soft_source_is_named_among_others():
    found = judged(Fault(kind="quiet", output=output_of("RS2"), amount=50.0))
    assert found["LS1"] == found["RS1"] == ()
    assert found["RS2"][0] in ("noisy", "low_level")


def test_a_broken_source_distorts_where_its_harmonics_stand_apart():
    _, take = planned()
    assert all(overlap.harmonics_apart for overlap in take.overlaps)
    found = judged(Fault(kind="distorting", output=output_of("RS1"), amount=40.0))
    assert found == {"LS1": (), "RS1": ("distortion",), "RS2": ()}


def test_a_noise_is_named_with_the_sources_that_it_met():
    """Late in the last sweep, when the responses to the others are over."""
    _, take = planned()
    ends_s = [overlap.offset_s + take.sweep.duration_s + WINDOW_S for overlap in take.overlaps]
    crack_s = ends_s[1] + 0.6
    assert crack_s < ends_s[2] - 1.0
    assert judged(crack_s=crack_s) == {"LS1": (), "RS1": (), "RS2": ("noise_event",)}


def test_lost_samples_refuse_all_of_the_recording():
    found = judged(Fault(kind="dropout", output=output_of("LS1"), amount=0.01))
    assert found == dict.fromkeys(SOURCES, ("dropout",))
