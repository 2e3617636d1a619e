"""The level plan: its defaults are those of the standards, and nonsense is refused."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from roomwright.model import GroupOffset, Job, LevelPlan, LevelTrim, NoiseBand
from roomwright.standards import reference_levels
from roomwright.tuning.levels import LEVEL_BAND_HZ


def test_the_defaults_are_the_home_reference_level():
    plan = LevelPlan()
    assert plan.reference_db == reference_levels.HOME_LEVEL_DBC
    assert plan.noise_dbfs == reference_levels.HOME_NOISE_DBFS
    # Tuning compares levels in the band in which they were set.
    assert (plan.mains.low_hz, plan.mains.high_hz) == LEVEL_BAND_HZ


def test_a_job_from_before_there_were_levels_opens_with_the_defaults(small_job):
    old = small_job.model_dump(mode="json")
    del old["levels"]
    assert Job.model_validate(old) == small_job


def test_offsets_and_trims_are_0_where_none_are_set():
    plan = LevelPlan(
        offsets=(GroupOffset(group="subwoofers", offset_db=3.0),),
        trims=(LevelTrim(drives="SW1", trim_db=-2.5),),
    )
    assert plan.offset_db("subwoofers") == 3.0
    assert plan.offset_db("front") == 0.0
    assert plan.trim_db("SW1") == -2.5
    assert plan.trim_db("M+000") == 0.0
    assert LevelPlan.model_validate_json(plan.model_dump_json()) == plan


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"reference_db": 95.0}, "95 dB is wanted, above the ceiling of 90 dB SPL"),
        ({"offsets": ({"group": "front", "offset_db": 20.0},)}, "95 dB is wanted"),
        ({"ceiling_db": 70.0}, "75 dB is wanted"),
        ({"ceiling_dbfs": 1.0}, "less than or equal to 0"),
        ({"trims": ({"drives": "a", "trim_db": 1.0},) * 2}, "an output is listed twice"),
        ({"offsets": ({"group": "front", "offset_db": 1.0},) * 2}, "a group is listed twice"),
        ({"mains": {"low_hz": 2000.0, "high_hz": 500.0}}, "must start below"),
    ],
)
def test_what_cannot_be_is_refused(changes, words):
    with pytest.raises(ValidationError, match=words):
        LevelPlan.model_validate(changes)


def test_bands_are_compared_by_content():
    assert NoiseBand(low_hz=30.0, high_hz=80.0) == LevelPlan().subwoofers
