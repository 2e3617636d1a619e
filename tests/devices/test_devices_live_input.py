"""Noise through the real sound server: softly first, and no louder than the ceiling allows."""

from __future__ import annotations

import time

import numpy as np
import pytest
from sound_server import WIRE

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.commissioning.edits.levels import with_level_trim, with_levels
from roomwright.commissioning.levels.live_input import live_input
from roomwright.store import create_job

#: A microphone of which 20 Pa reach full scale hears 87 dB of noise of -30 dBFS by the wire.
HEARD_DB = 87.0


@pytest.fixture
def folder(tmp_path):
    job = commissioning.new_job(
        "Softly",
        layout="M+030,M-030",
        room=commissioning.box_room((3.6, 4.8, 2.5)),
        rows=1,
        seats_per_row=1,
    )
    changes = {
        "interface": WIRE.model_copy(update={"ceiling_dbfs": -6.0}),
        "microphone": job.microphone.model_copy(update={"sensitivity_pa": 20.0}),
    }
    with create_job(tmp_path / "job", job.model_copy(update=changes)) as made:
        yield made


def loudest(monitor, seconds):
    """Highest sample of what the microphone hears in some time."""
    until, peak = time.monotonic() + seconds, 0.0
    while time.monotonic() < until:
        heard = monitor.read()[0]
        peak = max(peak, float(np.abs(heard).max(initial=0.0)))
        time.sleep(0.02)
    return peak


def test_noise_that_would_pass_the_ceiling_is_not_played(wire, folder):
    folder.save(with_level_trim(with_levels(folder.job, ramp_s=0.2), "M+030", 10.0))
    source = live_input(folder, "interface")
    try:
        heard = source._device.monitor()
        with pytest.raises(InputError, match=r"would reach 9\d dB SPL, the ceiling is 90"):
            source.play("M+030")
        # The soft noise, 20 dB below -20 dBFS, with its crest; the ring holds 4 s.
        assert 0.0 < loudest(heard, 0.5) < 10 ** (-24 / 20)
    finally:
        source.close()


def test_noise_under_the_ceiling_is_played_after_the_soft_one(wire, folder):
    folder.save(with_levels(folder.job, ramp_s=0.2))
    source = live_input(folder, "interface")
    try:
        source.play("M+030")
        assert source._heard_db(1.0) == pytest.approx(HEARD_DB, abs=2.0)
        # A step is not begun anew; a stop ends it.
        folder.save(with_level_trim(folder.job, "M+030", 2.0))
        source.play("M+030")
        assert source._heard_db(1.0) == pytest.approx(HEARD_DB + 2.0, abs=2.0)
        source.stop()
        assert source._heard_db(1.5) < HEARD_DB - 30.0
    finally:
        source.close()
