import math

import pytest

from roomwright._errors import InputError
from roomwright.commissioning import misplaced
from roomwright.commissioning.create import box_room, new_job
from roomwright.commissioning.edits import layout as edit
from roomwright.commissioning.edits import room as edit_room
from roomwright.commissioning.plan_view import angle_words, plan_view, twin_of
from roomwright.model import (
    Biquad,
    ByHand,
    Fault,
    LoudspeakerModel,
    OutputTuning,
    RehearsalSetup,
    Take,
    Tuning,
    problems,
)


@pytest.fixture(scope="module")
def job():
    return new_job("test", layout="7.2.4", room=box_room((5.0, 6.6, 2.7)), rows=2, seats_per_row=3)


@pytest.mark.parametrize("layout", ["5.1.2", "9.4.6", "J", "9+10+3", "M+030, M-030, LFE1"])
def test_a_chosen_layout_is_placed_and_whole(job, layout):
    changed, _ = edit.choose_layout(job, layout)
    assert problems(changed) == ()
    assert {o.drives for o in changed.outputs} <= {unit.id for unit in changed.units}


@pytest.mark.parametrize(("layout", "count"), [("7.1.4", 3), ("J", 4), ("4+5+0", 0)])
def test_the_number_of_subwoofers_is_free(job, layout, count):
    changed, _ = edit.choose_layout(job, layout, count or None)
    changed = changed if count else edit.with_subwoofers(changed, 0)
    assert len(changed.subwoofers) == count
    assert problems(changed) == ()


def test_subwoofers_are_in_the_name_of_a_count(job):
    assert edit.with_subwoofers(job, 4).layout == "7.4.4"
    assert edit.choose_layout(job, "5.1.2", 3)[0].layout == "5.3.2"


def test_what_stays_keeps_its_output(job):
    before = {output.drives: output.number for output in job.outputs}
    changed, _ = edit.choose_layout(job, "5.2.2")
    for output in changed.outputs:
        if output.drives in before:
            assert output.number == before[output.drives]
    assert len(changed.outputs) == len(changed.units)


def test_what_leaves_takes_its_references_along(job):
    full = job.model_copy(
        update={
            "takes": tuple(
                Take(
                    stage="survey",
                    source=source,
                    station="S-R1-1",
                    kind="response",
                    file=f"takes/{source}.wav",
                    sha256="0" * 64,
                )
                for source in ("M+090", "M+030")
            ),
            "tuning": Tuning(
                outputs=(OutputTuning(drives="M+090"), OutputTuning(drives="M+030")), based_on="x"
            ),
            "rehearsal": RehearsalSetup(
                faults=(
                    Fault(
                        kind="dead",
                        output=next(o.number for o in job.outputs if o.drives == "M+090"),
                    ),
                )
            ),
            "by_hand": (
                ByHand(drives="M+090", biquads=(Biquad(kind="peaking", frequency_hz=100),)),
            ),
        }
    )
    assert problems(full) == ()
    changed, _ = edit.choose_layout(full, "5.2.2")
    assert problems(changed) == ()
    assert [take.source for take in changed.takes] == ["M+030"]
    assert [output.drives for output in changed.tuning.outputs] == ["M+030"]
    assert changed.rehearsal.faults == ()
    assert changed.by_hand == ()


def test_units_beyond_the_outputs_wait_for_one(job):
    few = job.model_copy(
        update={"processor": job.processor.model_copy(update={"outputs": len(job.outputs)})}
    )
    changed = edit.with_channels(few, ["T+000"])
    assert problems(changed) == ()
    assert len(changed.outputs) == len(job.outputs)


def test_a_top_loudspeaker_hangs_overhead(job):
    changed = edit.with_channels(job, ["T+000"])
    main = job.seat(job.main_seat).position_m
    x, y, z = changed.unit("T+000").position_m
    assert z == pytest.approx(2.7 - 0.15)
    # Straight overhead within the tolerance of angles, 1 degree.
    assert math.hypot(x - main[0], y - main[1]) < math.tan(math.radians(1.5)) * (z - main[2])
    assert "T+000" not in {row.label for row in misplaced(changed)}
    assert problems(changed) == ()


def test_a_channel_is_added_once(job):
    with pytest.raises(InputError, match=r"M\+030 already"):
        edit.with_channels(job, ["M+030"])
    with pytest.raises(InputError, match=r"no loudspeaker label"):
        edit.with_channels(job, ["attic"])


def test_further_channels_are_those_that_lack(job):
    offers = edit.further_channels(job)
    assert ("T+000",) in offers
    assert ("U+045", "U-045") not in offers
    for offer in offers:
        assert problems(edit.with_channels(job, offer)) == ()


def test_a_second_loudspeaker_stands_beside_the_first(job):
    changed = edit.with_another_loudspeaker(job, "M+135")
    channel = next(c for c in changed.channels if c.id == "M+135")
    assert channel.loudspeakers == ("M+135", "M+135.2")
    first, second = (changed.unit(name) for name in channel.loudspeakers)
    assert second.model == first.model
    assert 0.3 <= math.dist(first.position_m, second.position_m) <= 1.8
    assert problems(changed) == ()
    third = edit.with_another_loudspeaker(changed, "M+135")
    assert "M+135.3" in {unit.id for unit in third.units}
    assert problems(third) == ()


@pytest.mark.parametrize(("channel", "axis"), [("M+000", 1), ("M-090", 0), ("M+135", 0)])
def test_a_second_loudspeaker_stays_at_the_wall(job, channel, axis):
    changed = edit.with_another_loudspeaker(job, channel)
    first, second = (changed.unit(name).position_m for name in (channel, f"{channel}.2"))
    assert second[axis] == first[axis]


def test_the_lfe_channel_has_no_loudspeaker_to_stand_beside(job):
    with pytest.raises(InputError, match=r"LFE1 has no loudspeaker"):
        edit.with_another_loudspeaker(job, "LFE1")


def test_a_second_pair_of_sides_is_one_action(job):
    changed = edit.with_second_sides(job)
    left, right = (changed.unit(name).position_m for name in ("M+090.2", "M-090.2"))
    assert left[0] < 2.5 < right[0]
    assert problems(changed) == ()
    stereo, _ = edit.choose_layout(job, "0+2+0")
    with pytest.raises(InputError, match=r"no pair of side surrounds"):
        edit.with_second_sides(stereo)


def test_the_second_loudspeaker_goes_and_the_channel_stays(job):
    changed = edit.without_unit(edit.with_another_loudspeaker(job, "M+090"), "M+090.2")
    assert changed.channels == job.channels
    gone = edit.without_unit(job, "M+090")
    assert "M+090" not in {channel.id for channel in gone.channels}
    assert problems(gone) == ()


def test_twins_move_together(job):
    changed = edit.moved(job, "unit", "M+090", (0.15, 4.0, 1.4), twin=True)
    assert changed.unit("M-090").position_m == (4.85, 4.0, 1.4)
    alone = edit.moved(job, "unit", "M+090", (0.15, 4.0, 1.4))
    assert alone.unit("M-090") == job.unit("M-090")


def test_twins_of_loudspeakers_and_seats(job):
    assert twin_of(job, "U-045") == "U+045"
    assert twin_of(job, "M+000") == ""
    assert twin_of(job, "SW1") == ""
    assert twin_of(job, "R1-1") == "R1-3"
    assert twin_of(job, "R1-2") == ""


def test_what_is_unknown_cannot_be_moved_or_aimed(job):
    with pytest.raises(InputError, match=r"no loudspeaker or subwoofer X9"):
        edit.moved(job, "unit", "X9", (1, 1, 1))
    with pytest.raises(InputError, match=r"no station"):
        edit.moved(job, "station", "X99", (1, 1, 1))
    with pytest.raises(InputError, match=r"own place"):
        edit.aimed(job, "M+030", job.unit("M+030").position_m)


def test_a_type_for_the_whole_role(job):
    sheet = LoudspeakerModel(
        name="tall box", sensitivity_db=97, maximum_level_db=118, low_hz=40, high_hz=20000
    )
    changed = edit.with_model(job, "M+090", sheet, whole_role=True)
    same = [u.id for u in job.units if u.model == job.unit("M+090").model]
    assert {u.id for u in changed.units if u.model == "tall box"} == set(same)
    assert problems(changed) == ()
    later, _ = edit.choose_layout(changed, "5.2.2")
    assert later.unit("M+110").model == "tall box"


def test_a_changed_sheet_needs_a_name_of_its_own(job):
    sheet = job.model_of(job.unit("M+090")).model_copy(update={"low_hz": 70.0})
    with pytest.raises(InputError, match=r"name of its own"):
        edit.with_model(job, "M+090", sheet)
    changed = edit.with_model(job, "M+090", sheet, whole_role=True)
    assert changed.model_of(changed.unit("M-135")).low_hz == 70.0
    named = edit.with_model(job, "M+090", sheet.model_copy(update={"name": "other"}))
    assert named.model_of(named.unit("M-090")).low_hz != 70.0
    assert problems(named) == ()


def test_every_known_layout_can_be_chosen(job):
    for layout, _ in edit.known_layouts():
        assert edit.layout_says(layout)
        changed, _ = edit.choose_layout(job, layout)
        assert problems(changed) == ()


@pytest.mark.parametrize(
    ("loudspeaker", "position", "words"),
    [
        # The main seat R1-2 is in the middle; behind the side range is back, before it forward.
        ("M+090", (0.15, 6.4, 1.2), "too far back"),
        ("M-090", (4.85, 1.0, 1.2), "too far forward"),
        ("M+030", (0.15, 3.0, 1.2), "too far left"),
        ("M+000", (2.5, 0.15, 2.5), "too high"),
    ],
)
def test_what_is_out_of_range_is_said_in_words(job, loudspeaker, position, words):
    changed = edit.moved(job, "unit", loudspeaker, position)
    row = next(row for row in misplaced(changed) if row.loudspeaker == loudspeaker)
    assert words in angle_words(row)
    item = next(item for item in plan_view(changed).items if item.id == loudspeaker)
    assert item.mark == "out"
    assert words in item.note


def test_the_plan_shows_everything_once(job):
    view = plan_view(edit_room.with_rows(job, 1, 2), show=("loudspeakers", "seats", "stations"))
    kinds = [item.kind for item in view.items]
    assert kinds.count("seat") == 2
    assert kinds.count("subwoofer") == 2
    assert kinds.count("height") == 4
    assert kinds.count("loudspeaker") == 7
    assert kinds.count("station") == 2 + 4
    assert {sector.id for sector in view.sectors} == {one.id for one in job.loudspeakers}


def test_allowed_heights_follow_the_distance(job):
    """A sector's heights are the ears' plus distance across times the tangent of elevation."""
    view = plan_view(job)
    sector = next(one for one in view.sectors if one.id == "U+045")
    ears = job.seat(job.main_seat).position_m
    across = math.dist(ears[:2], job.unit("U+045").position_m[:2])
    assert sector.heights_m[0] == pytest.approx(
        min(2.7, ears[2] + across * math.tan(math.radians(30)))
    )
