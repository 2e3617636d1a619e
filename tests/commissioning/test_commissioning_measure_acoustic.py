"""A survey timed by the chirps of one loudspeaker, without any cable."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy

from roomwright import commissioning
from roomwright.commissioning.survey.rigs import RehearsalRig
from roomwright.measurement import LOOP_BACK
from roomwright.model import RehearsalSetup
from roomwright.store import create_job

LATENCY_S, CLOCK_PPM = 0.0431, 137.0


class Uncabled(RehearsalRig):
    """The rehearsal room behind an interface whose outputs are all taken: one input, no cable."""

    origin = "device"
    timing = "acoustic"

    def play(self, signals, ceiling_dbfs=0.0):
        played = {number: signal for number, signal in signals.items() if number != LOOP_BACK}
        recording = super().play(played, ceiling_dbfs)
        return replace(recording, samples=recording.samples[:1])


class Cabled(RehearsalRig):
    """The same with a loop-back."""

    origin = "device"


def later_s(response, other, rate):
    """By how much one response comes later than another of the same shape."""
    n = 2 * response.size
    cross = np.fft.irfft(np.fft.rfft(response, n) * np.conj(np.fft.rfft(other, n)), n)
    at = int(np.argmax(cross))
    around = scipy.signal.resample(np.roll(cross, 64 - at)[:128], 128 * 64)
    return ((np.argmax(around) / 64 - 64) + (at if at < n / 2 else at - n)) / rate


@pytest.fixture(scope="module")
def surveys(tmp_path_factory):
    """The same outputs at a station, timed by the centre's chirps and by cable."""
    job = commissioning.new_job(
        "Chirps",
        layout="M+030,M+000,LFE1",
        room=commissioning.box_room((4.4, 5.6, 2.6)),
        rows=1,
        seats_per_row=2,
    )
    centre = next(o.number for o in job.outputs if o.drives == "M+000")
    job = job.model_copy(
        update={
            "sweep": job.sweep.model_copy(update={"duration_s": 2.0}),
            "stations": job.stations[:1],
            "microphone": job.microphone.model_copy(update={"sensitivity_pa": 20.0}),
            "interface": job.interface.model_copy(update={"reference_output": centre}),
            "rehearsal": RehearsalSetup(latency_s=LATENCY_S, clock_error_ppm=CLOCK_PPM),
            "levels": job.levels.model_copy(update={"ceiling_db": 110.0}),
        }
    )
    done = []
    for name, kind in (("acoustic", Uncabled), ("cable", Cabled)):
        with create_job(tmp_path_factory.mktemp(name) / "job", job) as folder:
            done.append((commissioning.measure(folder, kind(job)), folder.job))
    return done


def test_arrivals_re_the_reference_are_right_to_5_microseconds(surveys):
    (acoustic, job), (cable, _) = surveys
    assert acoustic.responses.present.all()
    assert acoustic.responses.timed
    assert {t.chirps_from for t in job.takes if t.kind == "take"} == {"M+000"}
    rate = job.sampling_rate_hz
    for station in acoustic.responses.stations:
        late = {}
        for source in acoustic.responses.sources:
            one, other = (
                s.responses.samples[s.responses.index(source, station)] for s in (acoustic, cable)
            )
            late[source] = later_s(one.astype(float), other.astype(float), rate)
        # What time zero is off by is the same for all: where the reference stands.
        for source, seconds in late.items():
            assert seconds - late["M+000"] == pytest.approx(0.0, abs=5e-6), source
        # Its place is as planned here, so time zero is right too, to a small part of a millimetre.
        assert late["M+000"] == pytest.approx(0.0, abs=20e-6)


def test_the_clock_error_is_found_by_the_chirps(surveys):
    (acoustic, _), _ = surveys
    found = acoustic.responses.clock_error_ppm
    assert found == pytest.approx(np.full(found.shape, CLOCK_PPM), abs=0.5)
