"""Filters for a correction, rounded and held within limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from roomwright.model import Biquad, CapabilitySheet, OutputTuning, TuningLimits
from roomwright.signals import amplitude_db, cascade_sos, log_frequencies, response
from roomwright.tuning import Wanted, output_response
from roomwright.tuning.correction import Correction
from roomwright.tuning.equaliser import filters_for, fir_curve, fir_taps_allowed, hold_within

RATE = 48000
GRID = log_frequencies(15, 20000, 24)
FINE = log_frequencies(15, 20000, 48)
BAND = (30.0, 12000.0)


def correction_of(level_db, ceiling_db=4.0, floor_db=-12.0, trust=1.0) -> Correction:
    ones = np.ones(GRID.size)
    ceiling, floor = ceiling_db * ones, floor_db * ones
    level = np.clip(
        level_db * ones, np.where(floor < 0, floor, 0), np.where(ceiling < 1, 0, ceiling)
    )
    return Correction(
        Wanted(GRID, level, trust * ones, ceiling, floor), trust * ones, BAND, (), 30, 0
    )


def smooth_random(seed, size=12.0):
    rng = np.random.default_rng(seed)
    return np.convolve(rng.normal(0, size, GRID.size), np.hanning(11) / 5, "same")


def level_of(biquads):
    return amplitude_db(response(cascade_sos(biquads, RATE), FINE, RATE))


@settings(max_examples=25)
@given(
    seed=st.integers(0, 10_000),
    boost=st.sampled_from([0.0, 2.5, 4.0, 6.0]),
    cut=st.sampled_from([0.0, 6.0, 12.0]),
    q=st.floats(0.3, 10),
    q_above=st.floats(0.3, 3),
    step=st.sampled_from([0.1, 0.25, 0.5]),
    sheet=st.integers(0, 12),
)
def test_limits_and_sheet_are_never_exceeded(job, seed, boost, cut, q, q_above, step, sheet):
    limits = TuningLimits(
        maximum_boost_db=boost,
        maximum_cut_db=cut,
        maximum_q=q,
        maximum_q_above_transition=q_above,
    )
    tight = job.model_copy(
        update={
            "limits": limits,
            "processor": CapabilitySheet(biquads_per_output=sheet, gain_step_db=step),
        }
    )
    ceiling = np.where((GRID > 50) & (np.abs(np.log2(GRID / 300)) > 0.3), boost, min(0.5, boost))
    correction = correction_of(smooth_random(seed), ceiling, -cut)
    fields, _ = filters_for(tight, "M000", correction, 150.0, use_fir=False)
    biquads = fields.get("biquads", ())
    assert len(biquads) <= min(sheet, limits.biquads_per_output)
    for biquad in biquads:
        assert BAND[0] <= biquad.frequency_hz <= BAND[1]
        assert -cut - 1e-9 <= biquad.gain_db <= boost + 1e-9
        assert biquad.gain_db / step == pytest.approx(round(biquad.gain_db / step), abs=1e-6)
        highest = q if biquad.frequency_hz <= 150.0 * 1.001 else min(q, q_above)
        assert biquad.q <= highest + 1e-4
    if biquads:
        level = level_of(biquads)
        loose = np.interp(np.log(FINE), np.log(GRID), ceiling)
        # Between two points of the ceiling's grid the straight line may lie above the lower one.
        assert (level - loose).max() <= 1e-6
        assert level.min() >= -cut - 1e-6


def test_holding_within_leaves_what_is_within():
    biquads = (Biquad(kind="peaking", frequency_hz=100.0, gain_db=3.0, q=2.0),)
    assert hold_within(biquads, correction_of(0.0).wanted, 0.1, RATE) == biquads


def test_holding_within_takes_gain_away_until_the_sum_fits():
    two = tuple(Biquad(kind="peaking", frequency_hz=f, gain_db=3.0, q=1.0) for f in (100.0, 115.0))
    held = hold_within(two, correction_of(0.0).wanted, 0.1, RATE)
    assert level_of(held).max() == pytest.approx(4.0, abs=0.1)
    assert level_of(held).max() <= 4.0


def test_holding_within_drops_what_is_not_allowed_at_all():
    two = tuple(Biquad(kind="peaking", frequency_hz=f, gain_db=3.0, q=1.0) for f in (100.0, 9e3))
    assert hold_within(two, correction_of(0.0, ceiling_db=0.0).wanted, 0.1, RATE) == ()


def test_a_fir_follows_what_is_wanted_within_a_tenth_of_a_decibel():
    """Broad shapes at 8192 taps: from 60 Hz, ten times the taps' resolution, 0.1 dB."""
    shape = 5 * np.sin(2 * np.pi * np.log2(GRID / 100) / 3) * (GRID > 100) * (GRID < 12800)
    correction = correction_of(np.minimum(shape, 4.0))
    curve = fir_curve(correction, 8192)
    level = amplitude_db(output_response(OutputTuning(drives="M000", fir=curve), GRID, RATE))
    inside = GRID > 60
    # Straight lines between the curve's points; corners are rounded by the finite length.
    np.testing.assert_allclose(level[inside], correction.wanted.level_db[inside], atol=0.1)


def test_a_fir_corrects_by_the_share_that_is_trusted():
    curve = fir_curve(correction_of(-6.0, trust=0.5), 1024)
    np.testing.assert_allclose(curve.level_db, -3.0)


def test_a_fir_too_short_for_its_curve_is_named(job):
    small = job.model_copy(update={"processor": CapabilitySheet(fir_taps_per_output=256)})
    narrow = -8 * np.exp(-((np.log2(GRID / 60) / 0.08) ** 2))
    fields, findings = filters_for(small, "M000", correction_of(narrow), 150.0, use_fir=True)
    assert fields["fir"].taps == 256
    assert any("256 taps" in finding.text for finding in findings)


def test_taps_are_the_lesser_of_limit_and_sheet(job):
    assert fir_taps_allowed(job) == 4096
    none = job.model_copy(update={"processor": CapabilitySheet(fir_taps_per_output=0)})
    assert fir_taps_allowed(none) == 0


def test_without_filters_nothing_is_equalised_and_said(job):
    none = job.model_copy(update={"processor": CapabilitySheet(biquads_per_output=0)})
    fields, findings = filters_for(none, "M000", correction_of(-6.0), 150.0, use_fir=False)
    assert fields == {}
    assert "no filter is allowed" in findings[0].text
