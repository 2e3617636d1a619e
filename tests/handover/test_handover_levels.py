"""The figures behind the pictures, against closed forms."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from handover_samples import content_of, response_set, tuned_job

from roomwright.handover.alignment import alignment
from roomwright.handover.bass import spread_db
from roomwright.handover.blocks import Table
from roomwright.handover.levels import SPL_OF_ONE_DB, gather, levels_of, mean_level_db
from roomwright.handover.wording import biquad, number, printed, quantity
from roomwright.model import Biquad, OutputTuning
from roomwright.tuning import predict


def pulses(sources, stations, gain, at):
    """Responses that are one pulse each, of `gain` (S, P) at sample `at` (S, P)."""
    base = response_set(sources, stations)
    samples = np.zeros_like(base.samples)
    np.put_along_axis(samples, np.asarray(at)[..., None], np.asarray(gain)[..., None], axis=-1)
    return dataclasses.replace(base, samples=samples)


def test_the_level_of_a_sine_20_db_below_full_scale():
    """A response of 1 Pa per full scale: 0.1 / sqrt 2 Pa rms, 70.97 dB re 20 uPa."""
    assert pytest.approx(20 * math.log10(0.1 / math.sqrt(2) / 20e-6)) == SPL_OF_ONE_DB


def test_pulses_are_flat_and_average_by_power():
    at = np.full((1, 2), 500)
    levels = levels_of(pulses(["M+000"], ["a", "b"], [[1.0, 2.0]], at))
    np.testing.assert_allclose(levels.level_db[0, 0], 0.0, atol=1e-5)
    np.testing.assert_allclose(levels.average_db(0), 10 * math.log10(2.5), atol=1e-5)
    assert mean_level_db(levels.frequency_hz, levels.level_db[0, 1], (500, 2000)) == pytest.approx(
        20 * math.log10(2), abs=1e-5
    )


def test_the_spread_over_two_seats_is_half_their_difference():
    job = tuned_job("5.1.2", rows=1, seats_per_row=2)
    stations = [s.id for s in job.stations if s.seat]
    measured = pulses(["M+000"], stations, [[1.0, 2.0]], np.full((1, 2), 500))
    content = dataclasses.replace(content_of(job), measured=measured)
    material = gather(content)
    spread = spread_db(material, material.measured, "M+000")
    np.testing.assert_allclose(spread, 10 * math.log10(2), atol=1e-5)


def test_before_is_the_prediction_with_crossovers_and_trims_only():
    """With no delay, polarity change or filter to leave out, before is the prediction itself."""
    job = tuned_job("5.1.2", rows=1, seats_per_row=2)
    outputs = tuple(
        OutputTuning(drives=o.drives, trim_db=o.trim_db, crossovers=o.crossovers)
        for o in job.tuning.outputs
    )
    plain = job.model_copy(update={"tuning": job.tuning.model_copy(update={"outputs": outputs})})
    content = content_of(plain)
    predicted = levels_of(predict(plain, plain.tuning, content.survey))
    material = gather(content)
    assert material.reference == "M+000"
    np.testing.assert_allclose(
        material.untuned.level_db[0],
        predicted.level_db[predicted.row("M+000")],
        atol=1e-3,  # samples are kept as float32
    )


def test_levels_and_arrivals_of_pulses_are_read_back():
    job = tuned_job("M+030,M-030,M+000", rows=1, seats_per_row=3)
    names = [c.id for c in job.channels]
    stations = [s.id for s in job.stations]
    gain = np.array([1.0, 2.0, 1.0])[:, None] * np.ones(len(stations))
    at = np.array([480, 480, 960])[:, None] * np.ones(len(stations), dtype=int)
    measured = pulses(names, stations, gain, at)
    material = gather(dataclasses.replace(content_of(job), measured=measured))
    table = next(b for b in alignment(material).blocks if isinstance(b, Table))
    rows = {row[0]: row for row in table.rows}
    assert rows[names[0]][4] == "10.00"
    assert rows[names[2]][4] == "20.00"
    assert rows[names[0]][6] == "71.0"
    # The mean of 0, 6.02 and 0 dB is 2.01 dB.
    assert rows[names[1]][7] == "+4.01"
    assert rows[names[0]][7] == "−2.01"


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (-4.06, "dB", "−4.1 dB"),
        (12.13, "dB2", "12.1 dB²"),
        (0.243, "s", "0.24 s"),
        (21.7, "NR", "NR 22"),
        (None, "ms", "–"),
        (float("nan"), "dB", "–"),
        (-0.0001, "ms", "< 0.01 ms"),
    ],
)
def test_quantities(value, unit, expected):
    assert quantity(value, unit) == expected


def test_numbers_and_sentences_have_true_minus_signs():
    assert number(-0.04, 1, signed=True) == "0.0"
    assert number(3.0, 1, signed=True) == "+3.0"
    assert printed("M-030 at S-R1-2: -3.0 dB, 12 dB2, 90 m3") == (
        "M-030 at S-R1-2: −3.0 dB, 12 dB², 90 m³"
    )


def test_a_filter_in_a_line():
    cut = Biquad(kind="peaking", frequency_hz=43.21, gain_db=-6.2, q=3.1)
    assert biquad(cut) == "peak 43.2 Hz −6.2 dB Q 3.10"
    assert biquad(Biquad(kind="all_pass", frequency_hz=1430, q=1)) == "all-pass 1.43 kHz Q 1.00"
