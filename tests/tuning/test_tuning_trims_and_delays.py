"""Trims to a common level and delays to a common arrival, on numbers alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright.model import CapabilitySheet, OutputTuning
from roomwright.tuning.delays import delays_to_latest, delays_within, shifted
from roomwright.tuning.trims import common_level_db, trims_db

levels = st.lists(st.floats(60, 100), min_size=1, max_size=12).map(np.array)


@given(level=levels, boost=st.floats(0, 6), step=st.sampled_from([0.1, 0.25, 0.5]))
def test_no_trim_and_boost_together_exceed_0_db(level, boost, step):
    boosts = np.full(level.shape, boost)
    trims = trims_db(level, boosts, common_level_db(level, boosts, step), step)
    assert (trims + boosts).max() <= 1e-9
    np.testing.assert_allclose(trims / step, np.round(trims / step), atol=1e-6)


@given(level=st.lists(st.floats(80, 89), min_size=1, max_size=12).map(np.array))
def test_channels_end_at_one_level_within_half_a_step(level):
    none = np.zeros(level.size)
    reached = level + trims_db(level, none, common_level_db(level, none, 0.1), 0.1)
    assert np.ptp(reached) <= 0.1 + 1e-6
    # The smallest correction: the quietest is lowered by a rounding step at most.
    assert reached.min() >= level.min() - 0.1 - 1e-6


def test_a_faulty_channel_does_not_hold_the_others_down():
    level = np.array([85.0, 84.0, 86.0, 60.0])
    trims = trims_db(level, np.zeros(4), common_level_db(level, np.zeros(4), 0.1), 0.1)
    np.testing.assert_allclose(level[:3] + trims[:3], 84, atol=0.11)
    assert trims[3] == 0


@given(arrival=st.lists(st.floats(0, 0.05), min_size=1, max_size=12).map(np.array))
def test_all_arrive_with_the_latest(arrival):
    step = 1 / 48000
    delays = delays_to_latest(arrival, step)
    assert delays.min() >= 0
    assert delays[np.argmax(arrival)] == 0
    np.testing.assert_allclose(arrival + delays, arrival.max(), atol=step / 2 + 1e-9)


def test_an_unknown_arrival_is_not_delayed():
    np.testing.assert_allclose(
        delays_to_latest(np.array([0.01, np.nan, 0.02]), 0.001), [0.01, 0, 0]
    )
    np.testing.assert_array_equal(delays_to_latest(np.full(2, np.nan), 0.001), 0)


def test_what_all_share_is_taken_away_and_the_rest_limited():
    outputs = {
        name: OutputTuning(drives=name, delay_s=delay)
        for name, delay in (("A", 0.010), ("B", 0.012), ("C", 0.050))
    }
    processor = CapabilitySheet(maximum_delay_s=0.02, delay_step_s=0.001)
    held, findings = delays_within(outputs, processor)
    assert [output.delay_s for output in held.values()] == pytest.approx([0.0, 0.002, 0.02])
    assert [finding.where for finding in findings] == ["C"]
    assert "40.0 ms" in findings[0].text


def test_shifting_delays_only_those_named():
    outputs = {name: OutputTuning(drives=name, delay_s=0.001) for name in "AB"}
    moved = shifted(outputs, ["B"], 0.00249, 0.001)
    assert moved["A"].delay_s == 0.001
    assert moved["B"].delay_s == pytest.approx(0.003)
