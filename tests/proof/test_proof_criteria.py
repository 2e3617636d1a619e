import numpy as np
import pytest

from roomwright.proof import judge

CRITERIA = [
    "level_match",
    "arrival_match",
    "response_below_main_seat",
    "response_above_main_seat",
    "response_below_average",
    "response_above_average",
    "spread_below",
    "spread_above",
    "modal_decay",
    "reverberation_mean",
    "reverberation_mask",
    "background_noise_nr",
    "background_noise_nc",
]


def sets(response_set, on_target):
    """A good set, one of silence, one where nothing was measured, one with LFE alone."""
    good = np.tile(on_target, (3, 2, 1))
    return {
        "good": response_set(good),
        "silent": response_set(0 * good, trusted_hz=np.zeros((3, 2, 2))),
        "absent": response_set(
            0 * good, present=np.zeros((3, 2), bool), trusted_hz=np.zeros((3, 2, 2))
        ),
        "lfe alone": response_set(good[:1], sources=("LFE1",)),
    }


@pytest.mark.parametrize("kind", ["good", "silent", "absent", "lfe alone"])
def test_the_same_criteria_are_always_judged_in_the_same_order(
    small_job, response_set, on_target, kind
):
    found = judge(small_job, sets(response_set, on_target)[kind])
    assert [verdict.criterion for verdict in found] == CRITERIA
    for verdict in found:
        assert verdict.reason.endswith(".")
        assert verdict.source
        assert verdict.limit
        assert verdict.computed_from
        assert (verdict.value is None) <= (verdict.passed is None)
        assert all(isinstance(number, float) for _, number in verdict.detail)


@pytest.mark.parametrize("kind", ["silent", "absent", "lfe alone"])
def test_nothing_passes_that_was_not_measured(small_job, response_set, on_target, kind):
    found = judge(small_job, sets(response_set, on_target)[kind])
    assert not any(verdict.passed for verdict in found if verdict.criterion != "modal_decay")


def test_judging_changes_nothing(small_job, response_set, on_target):
    responses = response_set(np.tile(on_target, (3, 2, 1)))
    before = responses.samples.copy()
    assert judge(small_job, responses) == judge(small_job, responses)
    assert np.array_equal(responses.samples, before)
