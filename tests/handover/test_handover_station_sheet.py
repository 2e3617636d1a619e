"""The printed plan of the stations: true to scale, complete, readable."""

from __future__ import annotations

import re

import pytest

from roomwright._errors import InputError
from roomwright.handover import build_station_sheet
from roomwright.handover.station_drawing import station_drawing, wall_names
from roomwright.handover.station_sheet import station_table
from roomwright.model import Station

POINTS_PER_M = 72 / 0.0254


def metres(length_m):
    return f"{length_m:.2f} m"


def sheet(job, units="m"):
    return build_station_sheet(job, metres, units, "2026-11-25", "Two stations.")


def lines(drawn):
    return [
        [tuple(map(float, point.split(","))) for point in path.rstrip("Z").split()]
        for path in re.findall(r'<path d="M([^"]+)"', drawn.svg)
    ]


def test_the_room_has_its_true_size_on_paper(small_job):
    for scale in (25, 50):
        drawn = station_drawing(small_job, scale, metres, 1.0)
        outline = lines(drawn)[0]
        across = max(x for x, _ in outline) - min(x for x, _ in outline)
        down = max(y for _, y in outline) - min(y for _, y in outline)
        # Drawn to a hundredth of a point.
        assert across == pytest.approx(4.5 * POINTS_PER_M / scale, abs=0.02)
        assert down == pytest.approx(6.0 * POINTS_PER_M / scale, abs=0.02)
        assert f'width="{drawn.width_pt:g}pt"' in drawn.svg


def test_every_wall_is_dimensioned_and_named(small_job):
    words = station_drawing(small_job, 50, metres, 1.0).svg
    for name, length in (("front", 4.5), ("right", 6.0), ("back", 4.5), ("left", 6.0)):
        assert f"{name} wall · {length:.2f} m" in words


def test_a_crooked_room_shows_each_wall_and_the_overall_size(small_job):
    cut = ((0.0, 0.0), (4.5, 0.0), (4.5, 5.0), (3.5, 6.0), (0.0, 6.0))
    room = small_job.room.model_copy(
        update={"outline_m": cut, "walls": (*small_job.room.walls, small_job.room.walls[0])}
    )
    # A copy keeps what it has computed of the old outline.
    room = type(room).model_validate(room.model_dump())
    job = small_job.model_copy(update={"room": room})
    assert wall_names(job) == ("front wall", "right wall", "wall 3", "back wall", "left wall")
    words = station_drawing(job, 50, metres, 1.0).svg
    assert "wall 3 · 1.41 m" in words
    assert ">4.50 m<" in words
    assert ">6.00 m<" in words


def test_dimensions_stand_outside_the_room_whichever_way_its_corners_run(small_job):
    turned = tuple(reversed(small_job.room.outline_m))
    room = type(small_job.room).model_validate(small_job.room.model_dump() | {"outline_m": turned})
    for job in (small_job, small_job.model_copy(update={"room": room})):
        drawn = lines(station_drawing(job, 50, metres, 1.0))
        outline = drawn[0]
        left, right = min(x for x, _ in outline), max(x for x, _ in outline)
        top, bottom = min(y for _, y in outline), max(y for _, y in outline)
        # After the outline come, for each wall, its dimension line and four short strokes.
        for a, b in (drawn[1 + 5 * wall] for wall in range(4)):
            is_outside = (
                max(a[0], b[0]) < left
                or min(a[0], b[0]) > right
                or max(a[1], b[1]) < top
                or min(a[1], b[1]) > bottom
            )
            assert is_outside


def test_heights_at_one_place_share_a_label(small_job):
    places = ((1.0, 3.0, 1.1), (1.0, 3.0, 1.6), (1.0, 3.0, 2.1), (2.0, 3.0, 1.1), (2.0, 3.0, 1.6))
    stations = tuple(Station(id=f"B{n}", position_m=at) for n, at in enumerate(places, start=1))
    words = station_drawing(
        small_job.model_copy(update={"stations": stations}), 50, metres, 1.0
    ).svg
    assert ">1–3<" in words
    assert ">4, 5<" in words


def test_the_smallest_paper_that_fits_is_chosen(small_job):
    assert (sheet(small_job).paper, sheet(small_job).scale) == ("a4", 50)
    small = small_job.room.model_copy(
        update={"outline_m": ((0.0, 0.0), (3.4, 0.0), (3.4, 4.2), (0.0, 4.2))}
    )
    small = type(small).model_validate(small.model_dump())
    tiny = small_job.model_copy(update={"room": small})
    assert (sheet(tiny).paper, sheet(tiny).scale) == ("a4", 25)
    assert sheet(small_job, "ft").paper == "us-letter"
    assert sheet(small_job, "ft").scale == 48
    assert sheet(small_job).pdf.startswith(b"%PDF")


def test_the_table_names_the_walls_it_is_taped_from(small_job):
    moved = tuple((x - 1.0, y + 2.0) for x, y in small_job.room.outline_m)
    room = type(small_job.room).model_validate(small_job.room.model_dump() | {"outline_m": moved})
    head, rows = station_table(small_job.model_copy(update={"room": room}), metres)
    assert head[3:] == ("from the left wall", "from the front wall", "above the floor")
    # The station at (1.5, 3.6): the left wall is at x = -1, the front wall at y = 2.
    assert rows[0] == ("1", "S-R1-1", "R1-1", "2.50 m", "1.60 m", "1.20 m")


def test_in_a_room_without_a_straight_left_side_the_table_says_so(small_job):
    pointed = ((0.0, 0.0), (4.5, 0.0), (4.5, 6.0), (-0.5, 3.0))
    room = type(small_job.room).model_validate(small_job.room.model_dump() | {"outline_m": pointed})
    head, _ = station_table(small_job.model_copy(update={"room": room}), metres)
    assert head[3:5] == ("from the leftmost point", "from the front wall")


def test_stations_without_a_place_are_not_drawn_and_alone_refused(small_job):
    lost = Station(id="lost")
    with_one = small_job.model_copy(update={"stations": (*small_job.stations, lost)})
    assert sheet(with_one).pdf.startswith(b"%PDF")
    with pytest.raises(InputError, match="no station has a place"):
        sheet(small_job.model_copy(update={"stations": (lost,)}))
