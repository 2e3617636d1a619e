import math

import pytest

from roomwright._errors import InputError
from roomwright.commissioning.create import box_room, new_job
from roomwright.commissioning.edits import room as edit
from roomwright.commissioning.edits import surfaces as edit_surfaces
from roomwright.model import Take, problems
from roomwright.standards.materials import material


@pytest.fixture(scope="module")
def job():
    return new_job("test", layout="5.2.2", room=box_room((4.6, 6.0, 2.6)), rows=2, seats_per_row=3)


def with_take(job, source, station):
    take = Take(
        stage="survey",
        source=source,
        station=station,
        kind="response",
        file="takes/a.wav",
        sha256="0" * 64,
    )
    return job.model_copy(update={"takes": (*job.takes, take)})


@pytest.mark.parametrize("size", [(5.5, 8.0, 3.0), (4.0, 5.2, 2.4)])
def test_a_resized_room_takes_everything_with_it(job, size):
    changed = edit.resized(job, *size)
    assert changed.room.box_size_m == size
    assert problems(changed) == ()
    for before, after in zip(job.seats, changed.seats, strict=True):
        assert after.position_m[2] == before.position_m[2]
    for before, after in zip(job.units, changed.units, strict=True):
        for axis, (old, new) in enumerate(zip((4.6, 6.0, 2.6), size, strict=True)):
            if before.position_m[axis] < 0.35:
                assert after.position_m[axis] == pytest.approx(before.position_m[axis], abs=1e-3)
            if old - before.position_m[axis] < 0.35:
                assert new - after.position_m[axis] == pytest.approx(
                    old - before.position_m[axis], abs=2e-3
                )


def test_seats_keep_their_distances_in_a_resized_room(job):
    changed = edit.resized(job, 5.5, 8.0, 3.0)
    for one, other in zip(job.seats, job.seats[1:], strict=False):
        before = math.dist(one.position_m, other.position_m)
        after = math.dist(changed.seat(one.id).position_m, changed.seat(other.id).position_m)
        assert after == pytest.approx(before, abs=2e-3)
    main = changed.seat(changed.main_seat).position_m
    assert all(loudspeaker.aim_m == main for loudspeaker in changed.loudspeakers)


def test_resizing_there_and_back_changes_nothing(job):
    back = edit.resized(edit.resized(job, 5.5, 8.0, 3.0), 4.6, 6.0, 2.6)
    for before, after in zip(job.units, back.units, strict=True):
        # Each way rounds to a millimetre.
        assert after.position_m == pytest.approx(before.position_m, abs=2.5e-3)


@pytest.mark.parametrize("size", [(0.5, 6, 2.6), (4.6, 61, 2.6), (4.6, 6, math.nan)])
def test_sizes_nobody_builds_are_refused(job, size):
    with pytest.raises(InputError, match=r"allowed is 1 to 60 m"):
        edit.resized(job, *size)


def test_a_new_corner_keeps_the_walls(job):
    outline = ((0, 0), (4.6, 0), (4.6, 4), (4.0, 6), (0, 6))
    changed = edit.with_outline(job, outline)
    assert len(changed.room.walls) == 5
    assert changed.room.walls[0] == job.room.walls[0]
    assert changed.room.walls[4] == job.room.walls[3]
    assert changed.room.box_size_m is None


def test_an_outline_that_crosses_itself_is_refused(job):
    with pytest.raises(InputError, match=r"outline: .*crosses itself"):
        edit.with_outline(job, ((0, 0), (4, 6), (4, 0), (0, 6)))


def test_a_surface_is_covered_by_shares_and_says_so(job):
    changed = edit_surfaces.with_surface(job, "wall 1", {"glass": 0.25, "diffuser, timber": 0.75})
    wall = changed.room.walls[0]
    assert wall.absorption[0] == pytest.approx(
        0.25 * material("glass")[0] + 0.75 * material("diffuser, timber")[0]
    )
    assert edit_surfaces.shares_of(wall) == {"glass": 0.25, "diffuser, timber": 0.75}
    assert changed.room.walls[1:] == job.room.walls[1:]


def test_shares_of_every_new_room_are_read_back(job):
    for _, surface, _ in job.room.surfaces_with_areas():
        shares = edit_surfaces.shares_of(surface)
        assert sum(shares.values()) == pytest.approx(1.0)


def test_stated_absorption_has_no_shares(job):
    changed = edit_surfaces.with_absorption(job, "floor", "cork tiles", [0.1] * 8)
    assert changed.room.floor.absorption == (0.1,) * 8
    assert edit_surfaces.shares_of(changed.room.floor) == {}


@pytest.mark.parametrize(
    ("where", "shares", "says"),
    [
        ("floor", {"glass": 0.5}, r"add up to 50 %"),
        ("floor", {"jelly": 1.0}, r"no known material"),
        ("wall 9", {"glass": 1.0}, r"no surface"),
        ("floor", {"glass": 1.5, "wood floor": -0.5}, r"0 or more"),
    ],
)
def test_wrong_surfaces_are_refused(job, where, shares, says):
    with pytest.raises(InputError, match=says):
        edit_surfaces.with_surface(job, where, shares)


@pytest.mark.parametrize("absorption", [[0.1] * 7, [0.1] * 7 + [1.2]])
def test_wrong_absorption_is_refused(job, absorption):
    with pytest.raises(InputError, match=r"8 numbers from 0 to 1"):
        edit_surfaces.with_absorption(job, "floor", "", absorption)


def test_air_out_of_range_is_refused(job):
    assert edit.with_air(job, humidity_percent=60).room.humidity_percent == 60
    with pytest.raises(InputError, match=r"temperature: .*50"):
        edit.with_air(job, temperature_c=80)


def test_a_moved_seat_takes_its_stations_and_aims_along(job):
    main = job.main_seat
    x, y, z = job.seat(main).position_m
    changed = edit.with_seat_at(job, main, (x + 0.2, y, z))
    assert changed.station(f"S-{main}").position_m == pytest.approx((x + 0.2, y, z))
    around = [s for s in job.stations if s.seat is None]
    for station in around:
        before, after = station.position_m, changed.station(station.id).position_m
        assert after[0] - before[0] == pytest.approx(0.2)
    assert all(one.aim_m == (x + 0.2, y, z) for one in changed.loudspeakers)
    assert [s.position_m for s in changed.stations if s.seat not in {None, main}] == [
        s.position_m for s in job.stations if s.seat not in {None, main}
    ]


def test_removing_a_seat_removes_its_station_and_takes(job):
    measured = with_take(with_take(job, "SW1", "S-R1-1"), "SW1", "S-R1-3")
    changed = edit.without_seat(measured, "R1-1")
    assert problems(changed) == ()
    assert [take.station for take in changed.takes] == ["S-R1-3"]


def test_removing_the_main_seat_chooses_another(job):
    changed = edit.without_seat(job, job.main_seat)
    assert changed.main_seat != job.main_seat
    assert problems(changed) == ()


def test_the_only_seat_stays(job):
    one = edit.with_rows(job, 1, 1)
    with pytest.raises(InputError, match=r"only seat"):
        edit.without_seat(one, one.seats[0].id)


def test_rows_are_set_out_anew_with_stations(job):
    changed = edit.with_rows(job, 1, 2)
    assert [seat.id for seat in changed.seats] == ["R1-1", "R1-2"]
    assert [s.id for s in changed.stations if s.seat] == ["S-R1-1", "S-R1-2"]
    assert problems(changed) == ()


def test_another_seat_comes_with_a_station(job):
    changed = edit.with_another_seat(edit.with_rows(job, 1, 2))
    assert [seat.id for seat in changed.seats] == ["R1-1", "R1-2", "R1-3"]
    assert changed.station("S-R1-3").position_m == changed.seat("R1-3").position_m
    assert problems(changed) == ()


def test_walls_are_called_by_where_they_stand(job):
    names = dict(edit_surfaces.surface_names(job))
    assert names["wall 1"] == "front wall"
    assert {names[f"wall {n}"] for n in range(1, 5)} == {
        "front wall",
        "right wall",
        "back wall",
        "left wall",
    }
    bent = edit.with_outline(job, ((0, 0), (4.6, 0), (4.6, 3), (4.5, 6), (0, 6)))
    assert "right wall (2)" in dict(edit_surfaces.surface_names(bent)).values()
