"""Reading and writing the job's document."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from roomwright._errors import JobError
from roomwright.model import SCHEMA_VERSION
from roomwright.store import dump_job, load_job

SHIPPED = sorted((Path(__file__).parent / "documents").glob("schema-*.json"))


def test_a_job_survives_the_round_trip(small_job):
    assert load_job(dump_job(small_job), "job.json") == small_job


@pytest.mark.parametrize("document", SHIPPED, ids=lambda path: path.stem)
def test_every_version_ever_shipped_opens(document):
    job = load_job(document.read_text("utf-8"), document.name)
    assert job.schema_version == SCHEMA_VERSION
    assert job.seats


def test_the_newest_version_is_among_those_shipped():
    assert f"schema-{SCHEMA_VERSION}" in [document.stem for document in SHIPPED]


def test_a_newer_version_is_refused_with_both_numbers(small_job):
    raw = json.loads(dump_job(small_job))
    raw["schema_version"] = SCHEMA_VERSION + 1
    with pytest.raises(JobError, match=rf"newer version .*schema {SCHEMA_VERSION + 1}.*"):
        load_job(json.dumps(raw), "job.json")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "job.json is not readable JSON"),
        ("{", "at line 1"),
        ("[]", "states no schema_version"),
        ('{"name": "x"}', "states no schema_version"),
        ('{"schema_version": 0}', "schema 0, which was never in use"),
    ],
)
def test_text_that_is_no_job_gets_one_sentence(text, says):
    with pytest.raises(JobError, match=says):
        load_job(text, "job.json")


def test_everything_wrong_is_listed_at_once_and_says_where(small_job):
    raw = json.loads(dump_job(small_job))
    raw["seats"][1]["position_m"] = [2.0, "far", 1.2]
    raw["room"]["floor"]["absorption"][3] = 1.5
    raw["colour"] = "red"
    with pytest.raises(JobError) as caught:
        load_job(json.dumps(raw), "job.json")
    problems = "\n".join(caught.value.problems)
    assert len(caught.value.problems) == 3
    assert "seats R1-2 position_m" in problems
    assert "'far'" in problems
    assert "room floor absorption number 4" in problems
    assert "colour" in problems


def test_faults_between_parts_are_listed_at_once(small_job):
    raw = json.loads(dump_job(small_job))
    raw["seats"][2]["position_m"] = [4.9, 3.6, 1.2]
    raw["main_seat"] = "R9-9"
    with pytest.raises(JobError) as caught:
        load_job(json.dumps(raw), "job.json")
    assert set(caught.value.problems) == {
        "seat R1-3 stands 0.4 m outside the room",
        "the main seat R9-9 is not one of the seats (R1-1, R1-2, R1-3)",
    }
