import numpy as np
import pytest

from roomwright.proof import judge
from roomwright.standards.nc import noise_criterion_levels_db

#: Octaves 16 Hz to 8 kHz: a worked example of ANSI/ASA S12.2-2019, NC-40 governed by 250 Hz.
EXAMPLE_DB = [79.0, 69.0, 59.0, 51.0, 50.0, 39.0, 36.0, 34.0, 33.0, 32.0]

#: NR 15 of ISO/R 1996:1971, 31.5 Hz to 8 kHz, behind a harmless 16 Hz.
NR_15_DB = [50.0, 65.6, 47.4, 35.0, 26.0, 19.4, 15.0, 11.7, 9.3, 7.5]


def noise_verdicts(job, response_set, on_target, background_db):
    responses = response_set(
        np.tile(on_target, (2, 2, 1)), background_db=np.array(background_db, dtype=float)
    )
    found = {v.criterion: v for v in judge(job, responses)}
    return found["background_noise_nr"], found["background_noise_nc"]


def test_the_worked_example(small_job, response_set, on_target):
    quiet = [0.0] * 10
    nr, nc = noise_verdicts(small_job, response_set, on_target, [EXAMPLE_DB, quiet])
    assert nc.value == pytest.approx(40.0, abs=0.5)
    assert nc.passed is False
    assert "250 Hz" in nc.reason
    assert "S-R1-1" in nc.reason
    # NR from L = a + b NR: (50 - 12) / 0.93 at 250 Hz.
    assert nr.value == pytest.approx(40.86, abs=0.05)


@pytest.mark.parametrize(("louder_db", "passed"), [(-0.2, True), (0.2, False)])
def test_nr_15_is_the_limit(small_job, response_set, on_target, louder_db, passed):
    """ITU-R BS.1116 and EBU Tech 3276, from memory: NR 15 at most."""
    levels = np.array(NR_15_DB) + louder_db
    nr, _ = noise_verdicts(small_job, response_set, on_target, [levels, levels - 10])
    assert nr.passed is passed
    assert nr.value == pytest.approx(15.0, abs=0.5)


@pytest.mark.parametrize(("shift_db", "passed"), [(-1.5, True), (-1.0, False)])
def test_nc_20_is_the_limit(small_job, response_set, on_target, shift_db, passed):
    """CTA/CEDIA-CEB22, from memory. The curve NC-20 has a mean from 500 Hz to 4 kHz of 21.25 dB,
    which by ANSI/ASA S12.2-2019 is its rating: 1.25 dB less is NC 20.
    """
    levels = noise_criterion_levels_db(20.0) + shift_db
    _, nc = noise_verdicts(small_job, response_set, on_target, [levels, levels])
    assert nc.passed is passed


def test_without_a_recording_of_known_level_nothing_is_judged(small_job, response_set, on_target):
    nothing = np.full((2, 10), np.nan)
    for verdict in noise_verdicts(small_job, response_set, on_target, nothing):
        assert verdict.passed is None
        assert "absolute level" in verdict.reason


def test_one_recorded_seat_is_enough(small_job, response_set, on_target):
    background = np.full((2, 10), np.nan)
    background[1] = np.array(NR_15_DB) - 3
    nr, _ = noise_verdicts(small_job, response_set, on_target, background)
    assert nr.passed is True
    assert "S-R1-2" in nr.computed_from
