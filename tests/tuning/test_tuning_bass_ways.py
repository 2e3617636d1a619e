"""Ways to feed the subwoofers: their fields, filters and figures against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from roomwright import commissioning
from roomwright.acoustics import sheet_response
from roomwright.commissioning import with_bass
from roomwright.model import OutputTuning
from roomwright.tuning.arrays import ControlBand
from roomwright.tuning.bass_ways import drawn_field, drawn_survey, figures_of, low_case
from roomwright.tuning.bass_ways.joined import joined
from roomwright.tuning.bass_ways.way import Way, coefficients_of
from roomwright.tuning.chain import output_response


@pytest.fixture(scope="module")
def case():
    job = with_bass(commissioning.demo_job(), method="even_seats")
    return low_case(job, drawn_survey(job))


def in_free_numbers(case, frequency):
    """The subwoofers at the stations straight from the closed form, re one of them at 1 m."""
    field = drawn_field(case.job.room, case.position_m, case.points_m, frequency)
    return field * sheet_response(case.job.model_of(case.job.subwoofers[0]), frequency)


def test_responses_of_the_drawing_hold_its_field(case):
    """Through responses and back: what has not died away after a second is lost, -50 dB or so."""
    frequency = case.grid.frequencies_hz
    inside = (frequency > 20.0) & (frequency < 120.0)
    wanted = in_free_numbers(case, frequency[inside])
    got = case.field[..., inside]
    scale = np.vdot(wanted, got) / np.vdot(wanted, wanted)
    assert abs(np.angle(scale)) < 1e-3
    assert np.linalg.norm(got / scale - wanted) < 0.01 * np.linalg.norm(wanted)


def test_the_spread_of_all_alike_is_that_of_the_closed_form(case):
    alike = Way("alike", np.ones((4, case.grid.bins), dtype=complex), ())
    (figures,) = figures_of(case, (alike,), absolute=True)
    pressure = in_free_numbers(case, figures.frequency_hz).sum(axis=0)
    level = 20 * np.log10(np.abs(pressure))
    for held, value in ((case.held, figures.spread_db2), (~case.held, figures.designed_spread_db2)):
        assert value == pytest.approx(np.var(level[held], axis=0).mean(), rel=0.03)
    assert figures.level_db == 0.0
    assert figures.drive_db == pytest.approx(np.zeros(4), abs=1e-9)


def test_a_quieter_subwoofer_costs_level_and_drive(case):
    """Four at one place: with one of them off, three must give 20 lg 4/3 more each."""
    one = replace(case, field=np.repeat(case.field[:1], 4, axis=0))
    drive = np.ones((4, case.grid.bins), dtype=complex)
    off = drive.copy()
    off[3] = 0.0
    alike, three = figures_of(
        one, (Way("alike", drive, ()), Way("gain and delay", off, ())), absolute=False
    )
    more = 20 * np.log10(4 / 3)
    assert three.level_db == pytest.approx(-more, abs=0.01)
    assert three.drive_db[:3] == pytest.approx(more, abs=0.01)
    assert three.spread_db2 == pytest.approx(alike.spread_db2, rel=1e-6)
    assert three.reach_db is None


def test_energy_ahead_and_late_is_read_where_it_is(case):
    """A click at every station with an echo 150 ms behind or 30 ms ahead of it."""
    grid = case.grid
    frequency = grid.frequencies_hz
    way_s = case.arrival_s()[None, :, None]

    def clicks(apart_s, level):
        turn = np.exp(-2j * np.pi * frequency * way_s)
        return turn * (1.0 + level * np.exp(-2j * np.pi * frequency * apart_s))

    drive = np.ones((1, grid.bins), dtype=complex)
    alone = Way("alike", drive, ())

    def figures(apart_s, level):
        heard = replace(case, names=case.names[:1], field=clicks(apart_s, level))
        return figures_of(heard, (alone,), absolute=False)[0]

    # A click through the band is some 20 ms long and rings on a little beyond 100 ms.
    click, behind, ahead = figures(0.0, 0.0), figures(0.15, 0.1), figures(-0.03, 0.1)
    # An echo 20 dB down adds 1 % of the energy where it is, and next to nothing elsewhere.
    late = 10 * np.log10(10 ** (click.late_db / 10) + 0.01)
    assert behind.late_db == pytest.approx(late, abs=1.0)
    assert ahead.ahead_db == pytest.approx([-20.0, -20.0, -20.0], abs=1.0)
    assert ahead.late_db == pytest.approx(click.late_db, abs=1.5)
    assert max(behind.ahead_db.max(), click.ahead_db.max()) < -50.0


def test_filters_give_the_drives_they_were_made_from(case):
    """A causal drive that is shorter than the filter: decaying, late by 15 ms, ended at 150 Hz."""
    frequency = case.grid.frequencies_hz
    fade = np.cos(0.5 * np.pi * np.clip((frequency - 100.0) / 60.0, 0.0, 1.0)) ** 2
    shapes = [1.0 / (1.0 + 1j * frequency / 60.0), -0.5 / (1.0 + 1j * frequency / 120.0)]
    high_pass = (1j * frequency / (20.0 + 1j * frequency)) ** 2
    drive = np.array(shapes) * high_pass * fade * np.exp(-2j * np.pi * frequency * 0.025)
    filters = coefficients_of(drive, case.grid)
    rate = case.job.sampling_rate_hz
    got = np.array(
        [output_response(OutputTuning(drives="SW1", fir=fir), frequency, rate) for fir in filters]
    )
    scale = np.vdot(drive, got) / np.vdot(drive, drive)
    assert np.abs(got / scale - drive).max() < 0.03 * np.abs(drive).max()
    assert np.abs(got).max() == pytest.approx(1.0, abs=0.01)


def test_what_takes_over_above_an_array_adds_up_with_it(case):
    """The same field on both sides, one reversed and 4 ms late: found, and summed without a dip."""
    frequency = case.grid.frequencies_hz
    band = ControlBand(20.0, 60.0)
    latency = 0.02
    share = np.where(frequency > 60.0, band.share(frequency), 1.0)
    one = np.zeros((4, case.grid.bins), dtype=complex)
    one[0] = 1.0
    flat = replace(case, field=np.ones_like(case.field))
    below = one * share * np.exp(-2j * np.pi * frequency * latency)
    above = -one * np.exp(2j * np.pi * frequency * 0.004)
    drive = joined(flat, below, band, above, latency)
    inside = (frequency > 25.0) & (frequency < 170.0)
    wanted = np.exp(-2j * np.pi * frequency * latency)
    # Delays are tried in steps of 0.25 ms: an eighth of them is 7 degrees at 160 Hz.
    assert np.abs(drive[0] / wanted - 1.0)[inside].max() < 0.3
    assert np.abs(np.abs(drive[0])[inside & (frequency < 60)] - 1.0).max() < 1e-9
