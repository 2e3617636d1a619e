"""Figures of the bass, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.analysis.bass import (
    bass_evenness,
    group_delay_limit_s,
    group_delay_verdict,
    late_energy_db,
)

RATE = 8000
SIXTY_DB = 3 * np.log(10)


def ringing(frequency_hz, decay_time_s, length_s=2.0, start_s=0.05):
    """One decaying tone, silent before its start."""
    time = np.arange(int(length_s * RATE)) / RATE - start_s
    tone = np.sin(2 * np.pi * frequency_hz * time) * np.exp(-SIXTY_DB * time / decay_time_s)
    return np.where(time >= 0, tone, 0.0)


def test_evenness_of_levels_by_hand():
    """Two seats 2 and 4 dB apart at two frequencies: variances 1 and 4."""
    even = bass_evenness([[10.0, 14.0], [12.0, 10.0]])
    assert even.mean_spatial_variance_db2 == pytest.approx(2.5)
    assert even.deviation_db == pytest.approx(1.5)
    assert even.range_db == pytest.approx(3.0)
    assert even.mean_output_level_db == pytest.approx(11.5)
    assert even.flatness_db == pytest.approx(0.5)


def test_a_gain_moves_the_level_alone_and_seats_may_change_places():
    level = np.random.default_rng(0).normal(size=(3, 7, 20))
    one, louder, turned = (bass_evenness(x) for x in (level, level + 6.0, level[:, ::-1]))
    for name in ("mean_spatial_variance_db2", "deviation_db", "range_db", "flatness_db"):
        assert getattr(louder, name) == pytest.approx(getattr(one, name))
        assert getattr(turned, name) == pytest.approx(getattr(one, name))
    assert louder.mean_output_level_db == pytest.approx(one.mean_output_level_db + 6.0)
    assert one.range_db.shape == (3,)


@pytest.mark.parametrize("decay_time_s", [0.3, 0.6, 1.2])
def test_late_energy_of_a_decaying_tone(decay_time_s):
    """After 100 ms 60 dB x 0.1 s / T are gone; the band's edges smear by less than 1 dB."""
    late = late_energy_db(ringing(50.0, decay_time_s), RATE)
    assert late == pytest.approx(-6.0 / decay_time_s, abs=1.0)


def test_late_energy_looks_at_its_band_alone():
    """A louder tone outside it only makes the arrival clearer, some ms of 12 dB in 100 ms."""
    long = ringing(300.0, 1.5) * 10.0
    tone = ringing(50.0, 0.5)
    assert late_energy_db(tone + long, RATE) == pytest.approx(late_energy_db(tone, RATE), abs=1.0)
    both = late_energy_db(np.stack([tone, long]), RATE, band_hz=(200.0, 400.0))
    assert both[1] == pytest.approx(-4.0, abs=0.5)


def test_late_energy_needs_a_band_and_a_long_enough_response():
    with pytest.raises(InputError, match="no band"):
        late_energy_db(ringing(50.0, 0.5), RATE, band_hz=(120.0, 20.0))
    with pytest.raises(InputError, match="ends before"):
        late_energy_db(ringing(50.0, 0.5, length_s=0.12), RATE)


def test_the_threshold_of_group_delay():
    """One period up to 100 Hz, 6 ms to 250 Hz, 2 ms from 500 Hz."""
    limit = group_delay_limit_s([25.0, 50.0, 100.0, 120.0, 250.0, 500.0, 2000.0])
    assert limit == pytest.approx([0.04, 0.02, 0.01, 0.006, 0.006, 0.002, 0.002])
    assert np.all(np.diff(group_delay_limit_s(np.geomspace(20, 500, 50))) <= 1e-15)
    with pytest.raises(InputError, match="above 0"):
        group_delay_limit_s([0.0, 10.0])


def test_a_common_delay_is_not_heard_but_a_jump_is():
    frequency = np.geomspace(20.0, 200.0, 41)
    delay = np.full((2, 41), 0.123)
    delay[1, frequency > 150.0] += 0.012
    verdict = group_delay_verdict(delay, frequency)
    assert verdict.worst == pytest.approx([0.0, 2.0])
    assert verdict.share.shape == (2, 41)
