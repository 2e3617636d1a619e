"""A survey through the real sound server, with the rehearsal room on its other end.

The command is killed at a random point, as by a flat battery, and resumed.
"""

from __future__ import annotations

import secrets
import time

import numpy as np
import pytest
from sound_cinema import dry, heard_in
from sound_engineer import Engineer
from sound_server import JACK, RATE, why_not

from roomwright import commissioning
from roomwright.commissioning.survey.rehearse import with_simulated_microphone
from roomwright.model import Interface, RehearsalSetup, Sweep
from roomwright.store import create_job, open_job


@pytest.fixture(scope="module")
def cinema():
    """A 7.1.4 with four subwoofers, so dry that short sweeps overlap; two stations."""
    job = commissioning.new_job(
        "Whole survey",
        layout="7.4.4",
        room=commissioning.box_room((3.6, 4.8, 2.5)),
        rows=1,
        seats_per_row=2,
        sweep=Sweep(start_hz=20, stop_hz=12000, duration_s=1.8, lead_s=0.05, gap_s=0.15),
    )
    outputs = len(job.outputs)
    return dry(job).model_copy(
        update={
            "stations": job.stations[:2],
            # Nobody sits there: the noise is to be far below.
            "levels": job.levels.model_copy(update={"ceiling_db": 110.0}),
            "rehearsal": RehearsalSetup(latency_s=0.0, clock_error_ppm=0.0, distortion_percent=0.0),
            "interface": Interface(
                device="cinema",
                host_api=JACK,
                loop_back_input=2,
                loop_back_output=outputs + 1,
                ceiling_dbfs=-6.0,
            ),
        }
    )


@pytest.fixture(scope="module")
def heard(cinema):
    """The rehearsal room's responses, wires and microphone included: (2, outputs + 1, 2, n)."""
    return heard_in(cinema)


def new_folder(path, cinema):
    with create_job(path, cinema) as folder:
        folder.save(with_simulated_microphone(folder, cinema))
    return path


def files(path):
    return len(list((path / "takes").glob("*.wav")))


def responses(path):
    with open_job(path) as folder:
        assert commissioning.missing_pairs(folder.job) == ()
        return folder.job, commissioning.responses(folder, "survey")


@pytest.mark.skipif(bool(why_not()), reason=why_not())
def test_a_survey_that_is_killed_and_resumed_gives_what_one_in_one_go_gives(
    tmp_path, heard, cinema
):
    seed = secrets.randbelow(10_000)
    rng = np.random.default_rng(seed)
    whole, parts = (new_folder(tmp_path / name, cinema) for name in ("whole", "parts"))
    started = time.monotonic()
    once = Engineer(whole, heard, cinema)
    assert once.wait() == 0, once.said
    each_s = (time.monotonic() - started) / files(whole)

    killed = Engineer(parts, heard, cinema)
    wanted = rng.integers(1, files(whole) - 1)
    while killed.runs and files(parts) < wanted:
        time.sleep(0.01)
    time.sleep(rng.uniform(0, each_s))
    killed.kill()
    with open_job(parts) as folder:
        before = folder.job.takes
    resumed = Engineer(parts, heard, cinema, "--missing")
    assert resumed.wait() == 0, (seed, resumed.said)

    job, one = responses(whole)
    after_job, other = responses(parts)
    assert set(before) <= set(after_job.takes), seed
    assert len(job.takes) == 15 * 2 + 1
    # All but the first of each band at the first station.
    assert sum(take.overlap is not None for take in job.takes) == 15 * 2 - 4
    assert set(one.sources) == set(other.sources)
    assert one.timed
    assert one.present.all()
    assert other.present.all()
    # The shortest window that either kept, without the fade at its end.
    windows = [take.overlap.window_s for take in (*job.takes, *after_job.takes) if take.overlap]
    common = int(0.9 * min(windows) * RATE)
    for source in one.sources:
        for station in one.stations:
            first = one.samples[one.index(source, station)][:common].astype(float)
            second = other.samples[other.index(source, station)][:common].astype(float)
            noise = np.hypot(
                one.noise_rms[one.index(source, station)],
                other.noise_rms[other.index(source, station)],
            )
            # Two noises of their own, and of each other's responses what is left 60 dB down; the
            # spread of the noise's level over a few hundred independent samples is under 1.5 dB.
            allowed = 10 ** (1.5 / 20) * noise + 1e-3 * np.sqrt(np.mean(first**2))
            assert np.std(first - second) < allowed, (seed, source, station)
