"""Boxes to keep clear and marks of an array on the plan; subwoofers followed while dragged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.commissioning import with_bass
from roomwright.commissioning.bass import plan as bass_plan
from roomwright.commissioning.bass.array import array_trouble
from roomwright.commissioning.bass.places import EFFORT
from roomwright.commissioning.bass.standing import stand, standing_from, stood
from roomwright.commissioning.bass.wishes import mark_of, with_mark
from roomwright.commissioning.plan_view import plan_view


@pytest.fixture(scope="module")
def cinema():
    return with_bass(commissioning.demo_job(), method="matched", held_back=())


def moved(job, name, place):
    placed = [
        one.model_copy(update={"position_m": place}) if one.id == name else one
        for one in job.subwoofers
    ]
    return job.model_copy(update={"subwoofers": tuple(placed)})


def test_a_box_is_drawn_with_what_moves_it_and_its_places_are_gone(cinema):
    job = bass_plan.with_new_box(cinema, (2.0, 0.0), (0.5, 0.9))
    view = bass_plan.with_places(plan_view(job), job, ((1.0, 1.0, 0.3),))
    assert [item.id for item in view.items[-3:]] == [
        "clear box 1",
        "corner 1 box 1",
        "corner 2 box 1",
    ]
    assert view.items[-3].position_m == (1.25, 0.45, 0.0)
    assert view.boxes[0].high_m == job.room.height_m
    places = np.array([spot.position_m for spot in view.spots if not spot.chosen])
    inside = (places[:, 0] > 0.5) & (places[:, 0] < 2.0) & (places[:, 1] < 0.9)
    assert not inside.any()
    assert [spot.position_m for spot in view.spots if spot.chosen] == [(1.0, 1.0, 0.3)]


def test_a_box_is_moved_by_its_middle_and_by_its_corners(cinema):
    job = bass_plan.with_new_box(bass_plan.with_new_box(cinema, (1.0, 1.0), (2.0, 2.0)))
    by_middle = bass_plan.with_box_moved(job, "clear box 1", (2.0, 1.5, 0.0))
    assert by_middle.bass.keep_clear[0].from_m == (1.5, 1.0)
    assert by_middle.bass.keep_clear[0].to_m == (2.5, 2.0)
    by_corner = bass_plan.with_box_moved(job, "corner 2 box 1", (3.0, 1.4, 0.0))
    assert by_corner.bass.keep_clear[0].to_m == (3.0, 1.4)
    assert [box.name for box in by_corner.bass.keep_clear] == ["box 1", "box 2"]
    renamed = bass_plan.with_box_renamed(job, "box 1", "side door")
    assert bass_plan.with_box_moved(renamed, "corner 1 side door", (0.5, 0.5, 0)) != renamed


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda job: bass_plan.with_new_box(job, (1, 1), (1.05, 2)), "at least 0.1 m"),
        (lambda job: bass_plan.with_box_moved(job, "clear door", (1, 1, 0)), "no box door"),
        (lambda job: bass_plan.with_box_renamed(job, "box 1", ""), "a name of"),
        (
            lambda job: bass_plan.with_box_renamed(bass_plan.with_new_box(job), "box 1", "box 2"),
            "another box box 2",
        ),
        (lambda job: with_mark(job, "SW9", "launches"), "no subwoofer SW9"),
    ],
)
def test_what_is_not_allowed_is_said(cinema, change, says):
    with pytest.raises(InputError, match=says):
        change(bass_plan.with_new_box(cinema))


def test_marks_are_set_one_by_one_and_drawn_in_words(cinema):
    job = with_mark(cinema, "SW1", "absorbs")
    assert mark_of(job, "SW1") == "absorbs"
    assert "SW1" not in job.bass.launching
    job = with_mark(job, "SW1", "launches")
    assert job.bass.launching == cinema.bass.launching
    items = {item.id: item for item in plan_view(job).items}
    assert (items["SW1"].mark, items["SW1"].badge) == ("launches", "launches")
    assert items["SW1"].aim_m[1] > items["SW1"].position_m[1]
    assert items["SW3"].note == "absorbs the wave"
    assert not array_trouble(job)
    assert "neither launches nor absorbs" in array_trouble(with_mark(job, "SW1", ""))
    plain = commissioning.mark_array(job, (), ())
    assert array_trouble(plain) == ""
    assert {item.mark for item in plan_view(plain).items} <= {"", "out"}


def test_a_dragged_subwoofer_gives_what_computing_all_anew_gives(cinema):
    before = stand(cinema)
    job = moved(cinema, "SW2", (4.5, 0.4, 0.9))
    after = stood(before, job)
    anew = stand(job)
    # The closed form is summed to 1e-6 of the direct field; alone, a place may need fewer terms.
    np.testing.assert_allclose(after.alike.pressure, anew.alike.pressure, rtol=1e-6, atol=1e-6)
    assert after.figures.alike_spread_db2 == pytest.approx(anew.figures.alike_spread_db2)
    assert after.figures.spread_db2 >= anew.figures.spread_db2 - 0.05
    back = stood(after, cinema)
    assert back.figures.spread_db2 == pytest.approx(before.figures.spread_db2, rel=1e-9)
    assert standing_from(job) != standing_from(cinema)
    assert stand(cinema.model_copy(update={"subwoofers": ()})) is None


def test_best_gains_are_better_than_alike_and_as_the_search_says(cinema):
    figures = stand(cinema).figures
    assert figures.spread_db2 < figures.alike_spread_db2
    found = commissioning.search_places(
        with_bass(cinema, spacing_m=3.0, count=2),
        effort=replace(EFFORT, designed=5, others=0),
    )
    assert figures.spread_db2 == pytest.approx(found.now.spread_db2)
    assert figures.level_db == pytest.approx(found.now.level_per_drive_db)
    assert found.certainty
