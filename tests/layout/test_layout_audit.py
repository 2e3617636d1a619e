import pytest

from roomwright.layout import audit, place
from roomwright.model import Channel, Loudspeaker, Seat

SEATS = (Seat(id="A", position_m=(3.0, 4.0, 1.2)), Seat(id="B", position_m=(3.8, 4.0, 1.2)))


@pytest.fixture
def furnished(box, job, models):
    room = box(6.0, 7.0, 2.8)
    return job(room, SEATS, "A", "J", place(room, SEATS, "A", "J", models=models))


def test_one_row_for_each_seat_and_loudspeaker(furnished):
    rows = audit(furnished)
    assert len(rows) == 2 * 11
    assert [row.seat for row in rows] == ["A"] * 11 + ["B"] * 11
    assert [row.label for row in rows[:3]] == ["M+030", "M-030", "M+000"]
    assert (rows[0].iec, rows[0].english) == ("FL", "left")


def test_main_seat_is_within_and_its_neighbour_is_not(furnished):
    rows = audit(furnished)
    assert all(row.within for row in rows if row.seat == "A")
    centre = next(row for row in rows if row.seat == "B" and row.label == "M+000")
    assert centre.azimuth_deg > 0  # the neighbour sits to the right of the centre loudspeaker
    assert not centre.within
    assert centre.azimuth_range_deg == (0, 0)


def test_22_2_names_its_own_front_left(box, job, models):
    room = box(6.0, 7.0, 2.8)
    furnished = job(room, SEATS, "A", "H", place(room, SEATS, "A", "H", models=models))
    names = {row.label: row.iec for row in audit(furnished)}
    assert names["M+060"] == "FL"
    assert names["M+030"] == "FLc"


def test_channel_of_several_loudspeakers_has_a_row_for_each(furnished):
    extra = Loudspeaker(id="extra", model="small", position_m=(0.2, 5.0, 1.2), aim_m=(3, 4, 1.2))
    channels = tuple(
        Channel(id=c.id, role=c.role, loudspeakers=(*c.loudspeakers, "extra"))
        if c.id == "M+090"
        else c
        for c in furnished.channels
    )
    changed = furnished.model_copy(
        update={"loudspeakers": (*furnished.loudspeakers, extra), "channels": channels}
    )
    rows = [row for row in audit(changed) if row.label == "M+090" and row.seat == "A"]
    assert [row.loudspeaker for row in rows] == ["M+090", "extra"]


def test_unknown_layout_is_judged_by_labels_alone(furnished):
    rows = audit(furnished.model_copy(update={"layout": "as found"}))
    assert len(rows) == 22
    left = next(row for row in rows if row.label == "M+030")
    assert left.azimuth_range_deg == (22.5, 45)  # the widest any system of BS.2051 allows


def test_channel_that_is_no_label_has_no_row(furnished):
    channels = (
        *furnished.channels,
        Channel(id="talkback", role="surround", loudspeakers=("M+000",)),
    )
    assert len(audit(furnished.model_copy(update={"channels": channels}))) == 22
