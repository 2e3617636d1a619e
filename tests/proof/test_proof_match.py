import numpy as np
import pytest

from roomwright.proof import judge
from roomwright.signals import fractional_delay


def verdict(job, responses, criterion):
    return {v.criterion: v for v in judge(job, responses)}[criterion]


def pair(on_target, left, right):
    """M+030 and M-030 the same at both stations but for a factor and a delay in samples each."""
    rows = [factor * fractional_delay(on_target, delay) for factor, delay in (left, right)]
    return np.stack([[row, row] for row in rows])


@pytest.mark.parametrize(("difference_db", "passed"), [(0.0, True), (0.9, True), (1.1, False)])
def test_a_level_difference_departs_by_half_from_the_mean(
    small_job, response_set, on_target, difference_db, passed
):
    samples = pair(on_target, (10 ** (difference_db / 20), 0), (1.0, 0))
    found = verdict(small_job, response_set(samples), "level_match")
    assert found.value == pytest.approx(difference_db / 2, abs=1e-3)
    assert found.passed is passed
    assert dict(found.detail)["M+030"] == pytest.approx(difference_db / 2, abs=1e-3)


@pytest.mark.parametrize(
    ("late_samples", "passed", "words"),
    [(2.4, True, "meets"), (24, True, "does not meet"), (60, False, "does not meet")],
)
def test_a_late_channel(small_job, response_set, on_target, late_samples, passed, words):
    samples = pair(on_target, (1.0, 0), (1.0, late_samples))
    found = verdict(small_job, response_set(samples), "arrival_match")
    assert found.value == pytest.approx(late_samples / 48, abs=0.002)
    assert found.passed is passed
    assert "M-030" in found.reason
    assert words in found.reason


def test_without_a_common_time_zero_arrival_is_not_judged(small_job, response_set, on_target):
    samples = pair(on_target, (1.0, 0), (1.0, 0))
    found = verdict(small_job, response_set(samples, timed=False), "arrival_match")
    assert found.passed is None
    assert "time zero" in found.reason


def test_without_a_station_at_the_main_seat_neither_is_judged(small_job, response_set, on_target):
    job = small_job.model_copy(update={"main_seat": "R1-3"})
    responses = response_set(pair(on_target, (1.0, 0), (1.0, 0)))
    for criterion in ("level_match", "arrival_match", "response_above_main_seat"):
        found = verdict(job, responses, criterion)
        assert found.passed is None
        assert "R1-3" in found.reason


def test_a_channel_that_cannot_be_trusted_is_named_and_keeps_the_rest_from_passing(
    small_job, response_set, on_target
):
    job = small_job.model_copy(
        update={
            "channels": (
                *small_job.channels[:2],
                small_job.channels[2].model_copy(update={"role": "front"}),
            )
        }
    )
    samples = np.concatenate((pair(on_target, (1.0, 0), (1.0, 0)), np.zeros((1, 2, 48000))))
    trusted_hz = np.tile([15.0, 20000.0], (3, 2, 1))
    trusted_hz[2] = 0.0
    responses = response_set(samples, trusted_hz=trusted_hz)
    for criterion in ("level_match", "arrival_match"):
        found = verdict(job, responses, criterion)
        assert found.passed is None
        assert "LFE1" in found.reason
        assert found.value == pytest.approx(0.0, abs=1e-3)


def test_one_channel_alone_matches_nothing(small_job, response_set, on_target):
    found = verdict(small_job, response_set(np.tile(on_target, (1, 2, 1))), "level_match")
    assert found.passed is None
    assert "fewer than two" in found.reason
