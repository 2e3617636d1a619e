"""The patch: every change gives a valid job or one sentence, and conflicts are said."""

from __future__ import annotations

import pytest

from roomwright._errors import InputError
from roomwright.commissioning.edits import outputs as edit_outputs
from roomwright.model import problems


def numbers(job):
    return {output.drives: output.number for output in job.outputs}


def test_rows_are_in_the_customary_order_with_the_channels_played(quick_job):
    rows = edit_outputs.output_rows(quick_job)
    assert [row.drives for row in rows][:3] == ["M+030", "M-030", "M+000"]
    assert {row.drives for row in rows} == {unit.id for unit in quick_job.units}
    by_unit = {row.drives: row for row in rows}
    assert by_unit["M+030"].channels == ("M+030",)
    assert by_unit["M+030"].english == "left"
    assert by_unit["SW1"].channels == ("LFE1",)
    assert not any(row.conflicts for row in rows)


def test_search_looks_at_every_column_for_every_word(quick_job):
    rows = edit_outputs.output_rows(quick_job)
    assert {row.drives for row in edit_outputs.found_rows(rows, "surround")} == {"M+110", "M-110"}
    assert [r.drives for r in edit_outputs.found_rows(rows, "RIGHT surround")] == ["M-110"]
    assert edit_outputs.found_rows(rows, "") == rows
    assert edit_outputs.found_rows(rows, "nothing like it") == ()


def test_a_taken_output_is_refused_or_swapped(quick_job):
    before = numbers(quick_job)
    with pytest.raises(InputError, match=r"drives M-030 already"):
        edit_outputs.assign_output(quick_job, "M+030", before["M-030"])
    swapped = edit_outputs.assign_output(quick_job, "M+030", before["M-030"], swap=True)
    after = numbers(swapped)
    assert after["M+030"] == before["M-030"]
    assert after["M-030"] == before["M+030"]
    assert problems(swapped) == ()


def test_a_unit_without_output_is_a_conflict_and_swapping_with_it_displaces(quick_job):
    job = edit_outputs.assign_output(quick_job, "M+030", None)
    row = edit_outputs.output_rows(job)[0]
    assert row.number is None
    assert row.conflicts == ("no output drives it",)
    assert numbers(quick_job)["M+030"] in edit_outputs.free_outputs(job)
    job = edit_outputs.assign_output(job, "M+030", numbers(job)["M-030"], swap=True)
    assert "M-030" not in numbers(job)
    assert problems(job) == ()


def test_filling_numbers_upwards_in_the_tables_order(quick_job):
    job = edit_outputs.fill_outputs(quick_job, ["M-030", "M+030"], 12)
    assert numbers(job)["M+030"] == 12
    assert numbers(job)["M-030"] == 13
    assert problems(job) == ()


def test_filling_says_everything_that_is_in_the_way(quick_job):
    taken = numbers(quick_job)
    with pytest.raises(InputError) as caught:
        edit_outputs.fill_outputs(quick_job, ["M+030", "M-030"], taken["M+110"])
    assert "M+110" in str(caught.value)
    with pytest.raises(InputError, match="end at 17"):
        edit_outputs.fill_outputs(quick_job, ["M+030", "M-030"], 16)


def test_filling_all_again_is_the_identity_on_numbers(quick_job):
    units = [unit.id for unit in quick_job.units]
    job = edit_outputs.fill_outputs(quick_job, units, 1)
    assert sorted(numbers(job).values()) == list(range(1, len(units) + 1))
    assert edit_outputs.fill_outputs(job, units, 1) == job


def test_network_channels_of_one_name_conflict(quick_job):
    job = edit_outputs.connect_outputs(quick_job, ["M+030", "M-030"], "network")
    job = edit_outputs.name_outputs(job, {"M+030": "stage 1", "M-030": " Stage 1 "})
    rows = {row.drives: row for row in edit_outputs.output_rows(job)}
    assert rows["M+030"].connection == "network"
    number = numbers(job)["M-030"]
    assert rows["M+030"].conflicts == (f"output {number} has the same name",)
    other = edit_outputs.connect_outputs(job, ["M-030"], "analogue")
    assert not any(row.conflicts for row in edit_outputs.output_rows(other))


def test_names_stay_with_the_unit_when_its_output_moves(quick_job):
    job = edit_outputs.name_outputs(quick_job, {"M+030": "front left"})
    job = edit_outputs.assign_output(job, "M+030", 16)
    assert {row.drives: row.name for row in edit_outputs.output_rows(job)}["M+030"] == "front left"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda job: edit_outputs.assign_output(job, "M+030", 0), "output 0 does not exist"),
        (lambda job: edit_outputs.assign_output(job, "M+030", 17), "outputs 1 to 16"),
        (lambda job: edit_outputs.assign_output(job, "X", 1), "X is not a loudspeaker"),
        (lambda job: edit_outputs.fill_outputs(job, [], 1), "nothing is chosen"),
        (lambda job: edit_outputs.connect_outputs(job, ["M+030"], "wireless"), "'wireless'"),
        (lambda job: edit_outputs.name_outputs(job, {"M+030": 41 * "n"}), "41 characters"),
        (lambda job: edit_outputs.resize_processor(job, 2), "outputs beyond 2"),
        (lambda job: edit_outputs.resize_processor(job, 0), "allowed are 1 to 256"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(quick_job, change, says):
    with pytest.raises(InputError, match=says):
        change(quick_job)


def test_a_unit_without_output_cannot_be_named(quick_job):
    job = edit_outputs.clear_outputs(quick_job, ["M+030"])
    with pytest.raises(InputError, match="no output drives M"):
        edit_outputs.name_outputs(job, {"M+030": "x"})


def test_a_larger_processor_takes_more_outputs(quick_job):
    job = edit_outputs.resize_processor(quick_job, 32)
    assert edit_outputs.assign_output(job, "M+030", 32).outputs[-1].number == 32
