"""Planning stations in a job: what has takes stays, undo brings everything back."""

from __future__ import annotations

import pytest

from roomwright._errors import InputError
from roomwright.commissioning.survey.plan_stations import plan_stations
from roomwright.layout import walk_m
from roomwright.model import KeepClear, Take, problems
from roomwright.store import create_job


def take_at(station):
    return Take(
        stage="survey",
        source="M+030",
        station=station,
        kind="response",
        file=f"takes/{station}.wav",
        sha256="0" * 64,
    )


def test_seats_alone_and_with_others_around_them(quick_job):
    seats = plan_stations(quick_job, "seats")
    assert {station.seat for station in seats.job.stations} == {s.id for s in quick_job.seats}
    around = plan_stations(quick_job, "seats and around", around_each=2)
    assert len(around.job.stations) == 3 * len(quick_job.seats)
    assert seats.kept == around.kept == ()
    assert not problems(around.job)


def test_the_bass_grid_has_the_seats_too_and_is_numbered_as_it_is_walked(quick_job):
    plan = plan_stations(quick_job, "bass grid")
    assert plan.grid is not None
    stations = plan.job.stations
    assert len(stations) == len(plan.grid.points_m) + len(quick_job.seats)
    numbered = [station.id for station in stations if station.id.startswith("B")]
    assert numbered == [f"B{number}" for number in range(1, len(numbered) + 1)]
    assert plan.walk_m == pytest.approx(walk_m(stations))
    assert not problems(plan.job)


def test_the_upper_frequency_is_the_end_of_the_band_of_the_bass(quick_job):
    bass = quick_job.bass.model_copy(update={"band_hz": (20.0, 240.0)})
    higher = plan_stations(quick_job.model_copy(update={"bass": bass}), "bass grid")
    assert higher.grid == plan_stations(quick_job, "bass grid", upper_hz=240.0).grid
    assert higher.grid.spacing_m < plan_stations(quick_job, "bass grid").grid.spacing_m


def test_boxes_kept_clear_hold_no_station_and_that_is_said(quick_job):
    x, y, _ = plan_stations(quick_job, "bass grid").grid.points_m[0]
    table = KeepClear(name="table", from_m=(x - 1, y - 1), to_m=(x + 0.1, y + 5), high_m=1.3)
    bass = quick_job.bass.model_copy(update={"keep_clear": (table,)})
    plan = plan_stations(quick_job.model_copy(update={"bass": bass}), "bass grid")
    assert plan.grid.left_out > 0
    assert plan.findings[0].severity == "doubt"
    assert all(at[0] > x + 0.1 or at[2] > 1.3 for at in plan.grid.points_m)


def test_stations_that_are_gone_are_no_longer_held_back(quick_job):
    grid = plan_stations(quick_job, "bass grid").job
    bass = grid.bass.model_copy(update={"held_back": ("B1", "B2")})
    seats = plan_stations(grid.model_copy(update={"bass": bass}), "seats").job
    assert not problems(seats)


def test_stations_with_takes_stay_where_they_are(quick_job):
    grid = plan_stations(quick_job, "bass grid").job
    measured = [grid.stations[0].id, "B3"]
    recorded = grid.model_copy(update={"takes": tuple(take_at(name) for name in measured)})
    again = plan_stations(recorded, "bass grid", upper_hz=220.0)
    assert set(again.kept) == set(measured)
    for name in measured:
        assert again.job.station(name) == recorded.station(name)
    names = [station.id for station in again.job.stations]
    assert len(set(names)) == len(names)
    assert again.job.takes == recorded.takes
    assert not problems(again.job)
    same = plan_stations(recorded, "bass grid")
    assert {s.position_m for s in same.job.stations} == {s.position_m for s in grid.stations}


def test_a_plan_is_undone_like_any_other_change(quick_job, tmp_path):
    with create_job(tmp_path / "job", quick_job) as folder:
        folder.save(plan_stations(folder.job, "bass grid").job)
        assert folder.job != quick_job
        assert folder.undo() == quick_job


def test_an_unknown_task_is_refused(quick_job):
    with pytest.raises(InputError, match="there is no task 'sofa'"):
        plan_stations(quick_job, "sofa")
