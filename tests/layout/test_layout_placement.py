import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point as FlatPoint

from roomwright._errors import InputError
from roomwright.layout import audit, direction, main_seat_of, place, role_of, rows_of_seats
from roomwright.model import Seat, problems
from roomwright.standards import bs2051

LAYOUTS = [
    *bs2051.SYSTEMS,
    "5.1",
    "5.1.2",
    "5.3.4",
    "7.2.4",
    "7.4.4",
    "9.4.6",
    "9.24.6",
    "M+030,M-030,M+000,M+SC,M-SC,T+000,LFE1",
    "M+045,M-045,U-090,B+135",
    "M+SC,M-SC,M+015,M-015,M+180,M-180",
]

SPACING_M = 0.3


def units(placed):
    return [*placed.loudspeakers, *placed.subwoofers]


def closest_m(placed):
    return min(
        (
            math.dist(a.position_m, b.position_m)
            for a, b in itertools.combinations(units(placed), 2)
        ),
        default=math.inf,
    )


def doubts(placed):
    return [note for note in placed.notes if note.severity == "doubt"]


@st.composite
def furnished(draw, size, from_wall):
    """Width, depth, height and seats of a box; the main seat keeps `from_wall` from the walls."""
    width, depth, height = (draw(st.floats(*limits)) for limits in size)

    def place_of(margin):
        return (
            draw(st.floats(margin, width - margin)),
            draw(st.floats(margin, depth - margin)),
            draw(st.floats(1.0, 1.5)),
        )

    others = draw(st.integers(0, 5))
    seats = [Seat(id="main", position_m=place_of(from_wall))]
    seats += [Seat(id=f"other{n}", position_m=place_of(0.4)) for n in range(others)]
    return (width, depth, height), tuple(seats)


@settings(max_examples=120)
@given(furnished(((3.0, 10.0), (3.5, 12.0), (2.2, 4.0)), 0.6), st.sampled_from(LAYOUTS))
def test_any_box_room_is_furnished(box, job, models, scene, layout):
    size, seats = scene
    room = box(*size)
    placed = place(room, seats, "main", layout, models=models)
    assert problems(job(room, seats, "main", layout, placed)) == ()
    for unit in units(placed):
        assert all(0 < at < end for at, end in zip(unit.position_m, size, strict=True))
    assert closest_m(placed) >= SPACING_M
    assert len({unit.id for unit in units(placed)}) == len(units(placed))


@settings(max_examples=80)
@given(
    furnished(((6.0, 10.0), (6.5, 12.0), (2.7, 3.6)), 2.0),
    st.sampled_from([layout for layout in LAYOUTS if layout[0] != "M"]),
)
def test_roomy_rooms_keep_every_allowed_range(box, job, models, scene, layout):
    size, seats = scene
    room = box(*size)
    placed = place(room, seats[:1], "main", layout, models=models)
    rows = audit(job(room, seats[:1], "main", layout, placed))
    assert [row for row in rows if not row.within] == []
    assert doubts(placed) == []


@settings(max_examples=40)
@given(
    st.floats(3.5, 9),
    st.floats(4, 10),
    st.floats(2.3, 3.6),
    st.sampled_from([*bs2051.SYSTEMS, "9.4.6"]),
)
def test_symmetric_room_is_furnished_symmetrically(box, models, width, depth, height, layout):
    seats = (Seat(id="main", position_m=(width / 2, depth * 0.6, 1.2)),)
    placed = place(box(width, depth, height), seats, "main", layout, models=models)
    at = {unit.id: unit.position_m for unit in placed.loudspeakers}
    for label, (x, y, z) in at.items():
        mirror = label.replace("+", "-") if "+" in label else label.replace("-", "+")
        # A place is rounded to 1 mm; what stands alone stands in the middle.
        expected = at.get(mirror, (x, y, z))
        assert (width - x, y, z) == pytest.approx(expected, abs=0.0015)


def test_worked_check_7_4_4_two_rows_of_four(box, job, models):
    """7.4.4 in 6.2 x 7.6 x 2.9 m: every loudspeaker stands at its nominal direction."""
    room = box(6.2, 7.6, 2.9)
    seats = rows_of_seats(room, 2, 4)
    main = main_seat_of(seats)
    placed = place(room, seats, main, "7.4.4", models=models)
    assert problems(job(room, seats, main, "7.4.4", placed)) == ()
    assert doubts(placed) == []
    ears = next(seat.position_m for seat in seats if seat.id == main)
    nominal = {p.label: p for p in bs2051.system("J")}
    assert len(placed.loudspeakers) == 11
    assert [sub.id for sub in placed.subwoofers] == ["SW1", "SW2", "SW3", "SW4"]
    for unit in placed.loudspeakers:
        seen = direction(ears, unit.position_m)
        assert seen.azimuth_deg == pytest.approx(nominal[unit.id].azimuth_deg, abs=0.05)
        assert seen.elevation_deg == pytest.approx(nominal[unit.id].elevation_deg, abs=0.05)
        assert unit.aim_m == ears
    at = {unit.id: unit.position_m for unit in placed.loudspeakers}
    # By hand: main seat (2.725, 4.012, 1.2); front line at y = 0.15, heights at z = 2.75.
    ahead, up = 4.012 - 0.15, 2.75 - 1.2
    assert at["M+030"] == pytest.approx(
        (2.725 - ahead * math.tan(math.pi / 6), 0.15, 1.2), abs=1e-3
    )
    side = up / math.tan(math.pi / 6) * math.sqrt(0.5)
    assert at["U-135"] == pytest.approx((2.725 + side, 4.012 + side, 2.75), abs=1e-3)


def test_subwoofers_in_the_middle_of_the_walls(box, models):
    room = box(6.0, 8.0, 2.9)
    seats = rows_of_seats(room, 2, 3)
    placed = place(room, seats, main_seat_of(seats), "7.4.4", models=models)
    assert [sub.position_m[:2] for sub in placed.subwoofers] == [
        (3.0, 0.3),
        (3.0, 7.7),
        (0.3, 4.0),
        (5.7, 4.0),
    ]


def test_subwoofers_of_22_2_stand_at_the_angles_of_its_lfe_channels(box, models):
    room = box(6.2, 7.6, 2.9)
    seats = (Seat(id="main", position_m=(3.1, 4.2, 1.2)),)
    placed = place(room, seats, "main", "H", models=models)
    left, right = (direction(seats[0].position_m, sub.position_m) for sub in placed.subwoofers)
    assert 30 <= left.azimuth_deg <= 90
    assert -90 <= right.azimuth_deg <= -30
    assert -30.1 <= left.elevation_deg <= -14.9
    assert [c.id for c in placed.channels if c.role == "lfe"] == ["LFE1", "LFE2"]


OUTLINES = {
    "L": ((0, 0), (6, 0), (6, 4), (3.5, 4), (3.5, 8), (0, 8)),
    "trapezoid": ((0, 0), (6, 0), (7, 7), (-1, 7)),
    "cut corner": ((1, 0), (6, 0), (6, 8), (0, 8), (0, 1)),
    "hexagon": ((2, 0), (5, 0), (7, 3.5), (5, 7), (2, 7), (0, 3.5)),
    "triangle": ((0, 0), (7, 0), (3.5, 7)),
    "column": ((0, 0), (6, 0), (6, 3), (5.4, 3), (5.4, 3.6), (6, 3.6), (6, 8), (0, 8)),
}


@pytest.mark.parametrize("clockwise", [False, True])
@pytest.mark.parametrize("layout", ["J", "H", "9.5.6"])
@pytest.mark.parametrize("outline", OUTLINES.values(), ids=OUTLINES)
def test_any_polygon_is_furnished(prism, job, models, outline, layout, clockwise):
    room = prism(*(reversed(outline) if clockwise else outline))
    seats = (Seat(id="main", position_m=(2.6, 3.2, 1.2)), Seat(id="R", position_m=(3.2, 3.2, 1.2)))
    placed = place(room, seats, "main", layout, models=models)
    assert problems(job(room, seats, "main", layout, placed)) == ()
    assert all(room.polygon.contains(FlatPoint(unit.position_m)) for unit in units(placed))
    assert closest_m(placed) >= SPACING_M


def test_every_loudspeaker_of_a_corner_room_can_be_seen_from_the_main_seat(prism, models):
    room = prism(*OUTLINES["L"])
    ears = (1.5, 6.5, 1.2)
    placed = place(room, (Seat(id="main", position_m=ears),), "main", "J", models=models)
    for unit in placed.loudspeakers:
        for share in (0.25, 0.5, 0.75, 1.0):
            x, y, _ = (e + share * (p - e) for e, p in zip(ears, unit.position_m, strict=True))
            assert room.polygon.contains(FlatPoint(x, y))


def test_what_cannot_stand_at_its_angles_is_said(box, job, models):
    # 0.65 m ahead there is no room for five loudspeakers within 30 degrees either side.
    room = box(3.0, 3.6, 2.3)
    seats = (Seat(id="main", position_m=(1.5, 0.8, 1.2)),)
    placed = place(room, seats, "main", "G", models=models)
    outside = {row.label for row in audit(job(room, seats, "main", "G", placed)) if not row.within}
    assert outside
    assert outside <= {note.where for note in doubts(placed)}
    assert closest_m(placed) >= SPACING_M


def test_loudspeaker_near_ears_is_said(box, models):
    room = box(4.0, 5.0, 2.5)
    seats = (
        Seat(id="main", position_m=(2.0, 3.0, 1.2)),
        Seat(id="front", position_m=(2.0, 0.5, 1.2)),
        Seat(id="side", position_m=(0.5, 3.0, 1.2)),
    )
    placed = place(room, seats, "main", "J", models=models)
    # M+000 is allowed one direction only, and somebody sits there; M+090 moves along the wall.
    assert [note.where for note in doubts(placed)] == ["M+000"]
    assert "0.35 m from the nearest ears" in doubts(placed)[0].text
    side = next(unit for unit in placed.loudspeakers if unit.id == "M+090")
    assert math.dist(side.position_m, (0.5, 3.0, 1.2)) >= 0.5 - 0.001


def test_main_seat_off_the_middle_is_said(box, models):
    room = box(6.0, 7.0, 2.8)
    off = place(room, (Seat(id="main", position_m=(2.5, 4.0, 1.2)),), "main", "J", models=models)
    assert "0.50 m left of the middle" in off.notes[0].text
    middle = place(room, (Seat(id="main", position_m=(3.0, 4.0, 1.2)),), "main", "J", models=models)
    assert middle.notes == ()


def test_channels_roles_and_models(box, models):
    seats = (Seat(id="main", position_m=(3.0, 4.0, 1.2)),)
    placed = place(box(6.0, 7.0, 2.8), seats, "main", "9.2.4", models=models)
    roles = {channel.id: channel.role for channel in placed.channels}
    assert roles["M+030"] == roles["M+000"] == "front"
    assert roles["M+060"] == roles["M-135"] == "surround"
    assert roles["U+045"] == "height"
    assert roles["LFE1"] == "lfe"
    assert role_of("B+000") == "front"
    assert {c.id: c.loudspeakers for c in placed.channels}["LFE1"] == ()
    used = {unit.id: unit.model for unit in units(placed)}
    assert (used["M+000"], used["M+090"], used["U-135"], used["SW1"]) == (
        "large",
        "small",
        "small",
        "bass",
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"main_seat_id": "R9-9"}, "the main seat R9-9 is not one of the seats"),
        ({"layout": "K"}, "the layout 'K' is not known"),
        ({"models": {"front": "large"}}, "for surround, height, subwoofer"),
        ({"seats": (Seat(id="main", position_m=(9.0, 1.0, 1.2)),)}, "is not within the room"),
        ({"seats": (Seat(id="main", position_m=(3.0, 1.0, 2.8)),)}, "is not within the room"),
    ],
)
def test_bad_input_is_refused(box, models, change, said):
    asked = {
        "room": box(6.0, 7.0, 2.8),
        "seats": (Seat(id="main", position_m=(3.0, 4.0, 1.2)),),
        "main_seat_id": "main",
        "layout": "J",
        "models": models,
    } | change
    with pytest.raises(InputError, match=said):
        place(**asked)
