"""Noise dose by the NIOSH criterion against its published table."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.measurement.exposure import (
    Exposure,
    exposure,
    exposure_of_take,
    permitted_s,
    total,
)


# NIOSH Publication 98-126, table 1-1: hours at a level in dBA, as printed
@pytest.mark.parametrize(
    ("level_dba", "hours"),
    [(82, 16), (85, 8), (88, 4), (94, 1), (97, 0.5), (100, 0.25)],
)
def test_the_permitted_time_is_the_published_one(level_dba, hours):
    # exact: the table's steps are the exchange rate's
    assert permitted_s(level_dba) == pytest.approx(hours * 3600, rel=1e-12)
    assert exposure(level_dba, hours * 3600).dose_percent == pytest.approx(100, rel=1e-12)


def test_doses_add_up_over_takes():
    heard = total([exposure(94, 1800), exposure(85, 4 * 3600), exposure(70, 3600)])
    # half an hour of an hour, four hours of eight, and what is under 80 dBA does not count
    assert heard.dose_percent == pytest.approx(100)
    assert heard.duration_s == 1800 + 5 * 3600
    assert heard.over
    assert "leave the room" in heard.sentence(94)
    assert total([]) == Exposure()


def test_the_sentence_says_what_is_left():
    half = exposure(94, 1800)
    assert not half.over
    assert "30 minutes are left" in half.sentence(94)
    assert "left" not in half.sentence(60)


def test_above_the_ceiling_no_time_is_allowed():
    assert exposure(116, 0.1).over
    assert "115 dBA" in exposure(116, 0.1).sentence(116)


def test_a_take_counts_by_its_own_level():
    # 1 kHz, where A weighting is 0 dB: 1 Pa rms is 94.0 dB
    time = np.arange(48000) / 48000
    tone = np.sqrt(2) / 20 * np.sin(2 * np.pi * 1000 * time)
    heard = exposure_of_take(tone, 48000, 20.0)
    assert heard.highest_dba == pytest.approx(93.98, abs=0.02)
    assert heard.dose_percent == pytest.approx(100 / 3600 * 2 ** ((93.98 - 94) / 3), rel=0.01)


def test_a_negative_time_is_refused():
    with pytest.raises(InputError, match="duration"):
        exposure(90, -1)
