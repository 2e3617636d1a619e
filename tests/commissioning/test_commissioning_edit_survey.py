"""Stations, sweep and planted faults: each change gives a valid job or one sentence."""

from __future__ import annotations

import pytest

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.commissioning.edits import survey as edit_survey
from roomwright.model import Take, problems


def with_take_at(job, station):
    take = Take(
        stage="survey",
        source="M+030",
        station=station,
        kind="response",
        file="t.wav",
        sha256="0" * 64,
    )
    return job.model_copy(update={"takes": (take,)})


def test_a_new_station_takes_the_first_free_name(quick_job):
    job = edit_survey.with_another_station(quick_job, (1.0, 2.0, 1.2))
    again = edit_survey.with_another_station(job, (1.1, 2.0, 1.2))
    new = [station.id for station in again.stations if station not in quick_job.stations]
    assert len(new) == len(set(new)) == 2
    assert problems(again) == ()


def test_a_station_goes_with_its_takes(quick_job):
    first, second = quick_job.stations[:2]
    job = edit_survey.without_stations(with_take_at(quick_job, first.id), [first.id])
    assert job.takes == ()
    assert first not in job.stations
    assert second in job.stations
    assert problems(job) == ()


def test_the_last_station_stays(quick_job):
    with pytest.raises(InputError, match="at least one station"):
        edit_survey.without_stations(quick_job, [s.id for s in quick_job.stations])


def test_stations_without_takes_are_unused_once_something_is_measured(quick_job):
    assert edit_survey.unused_stations(quick_job) == ()
    used = quick_job.stations[0].id
    job = with_take_at(quick_job, used)
    assert edit_survey.unused_stations(job) == tuple(
        station.id for station in quick_job.stations if station.id != used
    )


def test_faults_are_planted_by_what_the_output_drives_and_taken_out(quick_job):
    job = edit_survey.with_fault(quick_job, "quiet", "M-030", amount=-6.0)
    job = edit_survey.with_fault(job, "swapped", "M+030", other="M+000")
    assert problems(job) == ()
    words = [edit_survey.fault_words(job, fault) for fault in job.rehearsal.faults]
    assert words == ["M-030: -6 dB", "M+030: swapped with M+000"]
    assert edit_survey.without_fault(job, 0).rehearsal.faults == job.rehearsal.faults[1:]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda job: edit_survey.with_sweep(job, duration_s=-1.0), "sweep duration_s: "),
        (lambda job: edit_survey.with_sweep(job, start_hz=30000.0), "must start below"),
        (lambda job: edit_survey.with_rehearsal(job, clock_error_ppm=900.0), "500"),
        (lambda job: edit_survey.with_fault(job, "dead", "X"), "no output drives X"),
        (lambda job: edit_survey.with_fault(job, "haunted", "M+030"), "fault kind"),
        (lambda job: edit_survey.with_fault(job, "swapped", "M+030"), "other output"),
        (lambda job: edit_survey.without_fault(job, 0), "no planted fault 1"),
        (lambda job: edit_survey.without_stations(job, ["nowhere"]), "no station nowhere"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(quick_job, change, says):
    with pytest.raises(InputError, match=says):
        change(quick_job)


def test_a_job_is_laid_out_for_the_labels_of_recordings(quick_job):
    labels = [
        f"{layer}{sign}{azimuth}"
        for layer in "MU"
        for sign in "+-"
        for azimuth in ("030", "045", "090", "110", "135")
    ]
    job = edit_survey.laid_out_for(quick_job, [*labels, "T+000"])
    assert {unit.id for unit in job.units} == {*labels, "T+000"}
    assert job.subwoofers == ()
    assert not any(row.conflicts for row in commissioning.output_rows(job))
    assert problems(job) == ()
