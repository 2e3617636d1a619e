import math

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.acoustics import box_admittances, images, reflection_gain, speed_of_sound_m_s
from roomwright.commissioning import room_view
from roomwright.commissioning.create import box_room, new_job
from roomwright.commissioning.edits import layout as edit_layout
from roomwright.commissioning.edits import room as edit_room
from roomwright.commissioning.edits import surfaces as edit_surfaces
from roomwright.signals import amplitude_db

SIZE = (4.6, 6.0, 2.6)


@pytest.fixture(scope="module")
def job():
    return new_job("test", layout="5.2.2", room=box_room(SIZE), rows=1, seats_per_row=3)


@pytest.fixture(scope="module")
def hard(job):
    """Nearly rigid walls: the field of a mode stands alone at its frequency."""
    walls = edit_surfaces.with_absorption(job, "all walls", "hard", [0.01] * 8)
    for where in ("floor", "ceiling"):
        walls = edit_surfaces.with_absorption(walls, where, "hard", [0.01] * 8)
    return walls


def test_the_first_length_mode_has_its_node_in_the_middle(hard):
    """At c / 2L the pressure goes as cos(pi y / L): least in the middle, even across."""
    frequency = speed_of_sound_m_s(hard.room.temperature_c) / 2 / SIZE[1]
    one = edit_layout.moved(hard, "unit", "SW1", (0.3, 0.3, 0.25))
    found = room_view.pressure_map(one, ["SW1"], frequency)
    along = found.levels_db.mean(axis=1)
    assert abs(int(along.argmin()) - len(along) // 2) <= 1
    ends = along[[0, -1]]
    assert ends[0] == pytest.approx(ends[1], abs=1.5)
    row = found.levels_db[2]
    assert np.ptp(row) < 3.0
    shape = along - along[0]
    y = (np.arange(len(along)) + 0.5) / len(along) * SIZE[1]
    wanted = amplitude_db(np.abs(np.cos(np.pi * y / SIZE[1])))
    quarter = len(along) // 5
    assert shape[quarter] == pytest.approx(wanted[quarter] - wanted[0], abs=1.0)


def test_two_sources_at_opposite_ends_cancel_the_first_mode(hard):
    frequency = speed_of_sound_m_s(hard.room.temperature_c) / 2 / SIZE[1]
    both = edit_layout.moved(hard, "unit", "SW1", (2.3, 0.3, 0.25))
    both = edit_layout.moved(both, "unit", "SW2", (2.3, 5.7, 0.25))
    alone = room_view.pressure_map(both, ["SW1"], frequency)
    together = room_view.pressure_map(both, ["SW1", "SW2"], frequency)
    assert np.max(together.levels_db) < np.max(alone.levels_db) - 10


def test_the_map_agrees_with_the_curves(job):
    curves = room_view.seat_levels(job, ["SW1", "SW2"], 20, 200)
    number = 60
    found = room_view.pressure_map(job, ["SW1", "SW2"], float(curves.frequency_hz[number]))
    # Both leave out waves below 1e-4 of the direct sound.
    at_seats = [level for _, level in found.seats]
    assert at_seats == pytest.approx(list(curves.levels_db[:, number]), abs=0.01)
    assert found.spread_db == pytest.approx(curves.spread_db[number], abs=0.01)
    assert found.levels_db.shape == (48, 37)


def test_the_mean_is_of_powers_and_the_modes_are_axial(job):
    curves = room_view.seat_levels(job, ["SW1"])
    power = 10 ** (curves.levels_db / 10)
    assert curves.mean_db == pytest.approx(10 * np.log10(power.mean(axis=0)))
    speed = speed_of_sound_m_s(job.room.temperature_c)
    assert curves.modes_hz[0] == pytest.approx(speed / 2 / SIZE[1])


def test_a_source_in_the_plane_leaves_a_hole(job):
    ears = job.seat(job.main_seat).position_m[2]
    near = edit_layout.moved(job, "unit", "SW1", (2.3 - 2.3 / 37, 1.0625, ears))
    found = room_view.pressure_map(near, ["SW1"], 50.0)
    assert 1 <= np.isnan(found.levels_db).sum() <= 12


@pytest.mark.parametrize("loudspeaker", ["M+030", "U+090", "SW1"])
def test_reflections_touch_their_surface_and_are_as_long_as_their_image(job, loudspeaker):
    found = room_view.first_reflections(job, loudspeaker, "R1-1")
    assert found[0].surface == ""
    assert {one.surface for one in found[1:]} == {
        "left wall",
        "right wall",
        "front wall",
        "back wall",
        "floor",
        "ceiling",
    }
    speed = speed_of_sound_m_s(job.room.temperature_c)
    direct = math.dist(job.unit(loudspeaker).position_m, job.seat("R1-1").position_m)
    plane = {
        "left wall": (0, 0.0),
        "right wall": (0, SIZE[0]),
        "front wall": (1, 0.0),
        "back wall": (1, SIZE[1]),
        "floor": (2, 0.0),
        "ceiling": (2, SIZE[2]),
    }
    for one in found:
        assert one.points_m[0] == pytest.approx(job.unit(loudspeaker).position_m)
        assert one.points_m[-1] == pytest.approx(job.seat("R1-1").position_m)
        length = sum(math.dist(a, b) for a, b in zip(one.points_m, one.points_m[1:], strict=False))
        assert one.after_s * speed == pytest.approx(length - direct, abs=1e-9)
        if one.surface:
            assert len(one.points_m) == 3
            axis, place = plane[one.surface]
            assert one.points_m[1][axis] == pytest.approx(place, abs=1e-9)


def test_levels_of_a_subwoofers_reflections_are_spreading_and_absorption(job):
    """A source that radiates evenly: level is r0 / r times the plane-wave reflection factor."""
    found = room_view.first_reflections(job, "SW1", "R1-1")
    paths = images(SIZE, job.unit("SW1").position_m, job.seat("R1-1").position_m, 20.0)
    octaves = [1000.0, 2000.0, 4000.0, 8000.0]
    gain = reflection_gain(paths, box_admittances(job.room, octaves)) / paths.distance_m[:, None]
    level = 10 * np.log10(np.mean(gain**2, axis=1))
    first = np.flatnonzero(paths.hits.sum(axis=1) <= 1)
    assert [one.level_db for one in found] == pytest.approx(list(level[first] - level[0]))


def test_a_hard_floor_reflects_strongly_and_a_soft_one_does_not(job):
    def floor(changed):
        found = room_view.first_reflections(changed, "SW1", "R1-1")
        return next(one for one in found if one.surface == "floor")

    hard = floor(edit_surfaces.with_surface(job, "floor", {"plastered masonry": 1.0}))
    soft = floor(edit_surfaces.with_surface(job, "floor", {"mineral-wool 100 mm absorber": 1.0}))
    assert hard.strong
    assert soft.level_db < hard.level_db - 6


def test_rooms_that_are_no_box_say_so(job):
    bent = edit_room.with_outline(job, ((0, 0), (4.6, 0), (4.6, 5), (4.0, 6.0), (0, 6.0)))
    assert room_view.why_no_field(job) == ""
    assert "box rooms only" in room_view.why_no_field(bent)
    for compute in (
        lambda: room_view.pressure_map(bent, ["SW1"], 50.0),
        lambda: room_view.seat_levels(bent, ["SW1"]),
        lambda: room_view.first_reflections(bent, "M+030", "R1-1"),
    ):
        with pytest.raises(InputError, match=r"box rooms only"):
            compute()


@pytest.mark.parametrize(
    ("sources", "frequency", "says"),
    [
        ([], 50.0, r"nothing plays"),
        (["SW9"], 50.0, r"no loudspeaker or subwoofer SW9"),
        (["SW1"], 5.0, r"allowed is 15 to 300"),
        (["SW1"], math.nan, r"allowed is 15 to 300"),
    ],
)
def test_wrong_questions_are_refused(job, sources, frequency, says):
    with pytest.raises(InputError, match=says):
        room_view.pressure_map(job, sources, frequency)


def test_what_can_play(job):
    groups = dict(room_view.source_groups(job))
    assert groups["all subwoofers"] == ("SW1", "SW2")
    assert groups["M+030"] == ("M+030",)


def test_the_room_in_figures(job):
    figures = dict(room_view.room_says(job))
    assert figures["volume"] == "71.8 m³"
    speed = speed_of_sound_m_s(job.room.temperature_c)
    assert figures["lowest modes"].startswith(f"{speed / 12:.1f}, {speed / 9.2:.1f}")
