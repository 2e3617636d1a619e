"""How long a survey takes, against counting by hand and against the passes themselves."""

from __future__ import annotations

import pytest

from roomwright._errors import InputError
from roomwright.measurement import duration_s, pass_signals, plan_pass, survey_time
from roomwright.model import Sweep

RATE = 48000
SWEEP = Sweep(duration_s=5.0)


def test_one_after_another_is_counted_by_hand():
    # 0.1 + 0.1 + 0.3 + 5 + 1 + 0.1 + 0.3 s of signal and 1 s between, 16 times at 12 stations.
    found = survey_time(SWEEP, [16] * 12, RATE, window_s=0.6, move_s=40.0, between_s=1.0)
    assert duration_s(SWEEP) == pytest.approx(6.9)
    assert found.moving_s == 12 * 40.0
    assert found.one_after_another_s == pytest.approx(12 * (40.0 + 16 * 7.9))


def test_a_pass_lasts_as_long_as_what_is_played():
    planned = plan_pass(SWEEP, 7, RATE, window_s=0.5)
    played = pass_signals(planned, range(1, 8), RATE)[1]
    found = survey_time(SWEEP, [7], RATE, window_s=0.5, move_s=0.0, between_s=0.0)
    assert found.overlapped_s == pytest.approx(played.size / RATE, abs=1e-3)


def test_sixteen_channels_overlapped_take_a_third_of_the_time():
    found = survey_time(SWEEP, [16], RATE, window_s=0.4, move_s=0.0, between_s=1.0)
    assert found.overlapped_s <= found.one_after_another_s / 3


def test_nobody_goes_where_nothing_is_left():
    some = survey_time(SWEEP, [3, 0, 2], RATE, window_s=0.4, noise_s=4.0)
    assert some == survey_time(SWEEP, [2, 3], RATE, window_s=0.4, noise_s=4.0)
    assert survey_time(SWEEP, [0, 0], RATE, window_s=0.4).one_after_another_s == 0.0
    assert survey_time(SWEEP, [], RATE, window_s=0.4).overlapped_s == 0.0


def test_a_sweep_too_short_to_overlap_says_so():
    found = survey_time(Sweep(duration_s=1.0), [4], RATE, window_s=1.5)
    assert found.overlapped_s is None
    assert "must last at least" in found.not_overlapped


def test_negative_numbers_are_refused():
    with pytest.raises(InputError, match="0 or more"):
        survey_time(SWEEP, [-1], RATE, window_s=0.4)
