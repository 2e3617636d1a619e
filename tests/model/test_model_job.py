import math

import pytest
from pydantic import ValidationError

from roomwright.model import (
    SCHEMA_VERSION,
    Biquad,
    ByHand,
    Channel,
    Fault,
    FollowRange,
    Job,
    ListeningMode,
    Loudspeaker,
    LoudspeakerModel,
    Output,
    OutputTuning,
    OwnTarget,
    RehearsalSetup,
    RollOff,
    Room,
    Seat,
    Station,
    Subwoofer,
    Surface,
    Sweep,
    Take,
    Target,
    TargetPoint,
    Tuning,
    digest,
    problems,
)

PLASTER = Surface(material="plaster", absorption=(0.02,) * 8)


def sound_model(name="box"):
    return LoudspeakerModel(
        name=name, sensitivity_db=90, maximum_level_db=110, low_hz=50, high_hz=20000
    )


def take(**changes):
    return Take(
        **{
            "stage": "survey",
            "source": "M+000",
            "station": "S1",
            "kind": "response",
            "file": "takes/1.wav",
            "sha256": "0" * 64,
        }
        | changes
    )


@pytest.fixture
def job():
    return Job(
        name="test",
        room=Room(
            outline_m=((0, 0), (4, 0), (4, 5), (0, 5)),
            height_m=2.5,
            floor=PLASTER,
            ceiling=PLASTER,
            walls=(PLASTER,) * 4,
        ),
        seats=(Seat(id="R1-1", position_m=(2, 3, 1.2)),),
        main_seat="R1-1",
        layout="M+000,LFE1",
        loudspeaker_models=(sound_model(),),
        loudspeakers=(
            Loudspeaker(id="M+000", model="box", position_m=(2, 0.2, 1.2), aim_m=(2, 3, 1.2)),
        ),
        subwoofers=(Subwoofer(id="SW1", model="box", position_m=(0.3, 0.3, 0.2)),),
        channels=(
            Channel(id="M+000", role="front", loudspeakers=("M+000",)),
            Channel(id="LFE1", role="lfe"),
        ),
        outputs=(Output(number=1, drives="M+000"), Output(number=2, drives="SW1")),
        stations=(Station(id="S1", position_m=(2, 3, 1.2), seat="R1-1"),),
        takes=(take(),),
        tuning=Tuning(outputs=(OutputTuning(drives="M+000"),), based_on="x"),
    )


def test_sound_job_has_no_problem(job):
    assert problems(job) == ()


def test_job_survives_json(job):
    assert Job.model_validate_json(job.model_dump_json()) == job


def test_job_survives_json_after_its_polygon_was_used(job):
    assert job.room.floor_area_m2 == 20
    assert Job.model_validate_json(job.model_dump_json()) == job
    assert hash(job.room) == hash(Room.model_validate_json(job.room.model_dump_json()))


def changed(job, part, index, **changes):
    items = list(getattr(job, part))
    items[index] = items[index].model_copy(update=changes)
    return job.model_copy(update={part: tuple(items)})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda j: j.model_copy(update={"schema_version": 99}), "version 99"),
        (
            lambda j: j.model_copy(
                update={"room": j.room.model_copy(update={"walls": (PLASTER,) * 3})}
            ),
            "4 corners but 3 walls",
        ),
        (lambda j: j.model_copy(update={"seats": j.seats * 2}), "seat R1-1 is listed 2 times"),
        (lambda j: j.model_copy(update={"channels": j.channels * 2}), "channel LFE1 is listed"),
        (lambda j: changed(j, "outputs", 1, number=1), "output 1 is listed 2 times"),
        (lambda j: j.model_copy(update={"main_seat": "R2-1"}), "main seat R2-1 is not one"),
        (lambda j: changed(j, "loudspeakers", 0, model="horn"), "'horn', which is not described"),
        (lambda j: changed(j, "channels", 0, loudspeakers=("L",)), "plays through L, which"),
        (lambda j: changed(j, "channels", 0, loudspeakers=("SW1",)), "plays through SW1, which"),
        (lambda j: changed(j, "channels", 0, loudspeakers=()), "M+000 has no loudspeaker"),
        (lambda j: changed(j, "outputs", 0, drives="L"), "output 1 drives L"),
        (lambda j: changed(j, "outputs", 0, number=17), "output 17 does not exist"),
        (lambda j: changed(j, "outputs", 0, drives="SW1"), "SW1 is driven by 2 outputs"),
        (lambda j: changed(j, "stations", 0, seat="R9-9"), "stands for seat R9-9"),
        (lambda j: changed(j, "takes", 0, source="LFE1"), "is of LFE1, which"),
        (lambda j: changed(j, "takes", 0, stage="proof", source="SW1"), "is of SW1, which"),
        (lambda j: changed(j, "takes", 0, station="S9"), "made at S9"),
        (
            lambda j: j.model_copy(
                update={"tuning": Tuning(outputs=(OutputTuning(drives="L"),), based_on="x")}
            ),
            "the tuning is for L",
        ),
        (
            lambda j: j.model_copy(
                update={"rehearsal": RehearsalSetup(faults=(Fault(kind="dead", output=3),))}
            ),
            "a dead fault is planted in output 3",
        ),
        (
            lambda j: changed(j, "seats", 0, position_m=(4.4, 3, 1.2)),
            "seat R1-1 stands 0.4 m outside the room",
        ),
        (
            lambda j: changed(j, "subwoofers", 0, position_m=(0.3, 0.3, -0.5)),
            "subwoofer SW1 stands 0.5 m outside",
        ),
        (
            lambda j: changed(j, "stations", 0, position_m=(2, 3, 2.6)),
            "station S1 stands 0.1 m outside",
        ),
        (lambda j: j.model_copy(update={"sampling_rate_hz": 44100}), "below 22050 Hz"),
    ],
)
def test_problem_is_told_alone(job, change, said):
    wrong = change(job)
    if wrong.sampling_rate_hz == 44100:
        wrong = wrong.model_copy(update={"sweep": Sweep(stop_hz=22050)})
    found = problems(wrong)
    assert sum(said in sentence for sentence in found) == 1


def test_background_and_unplaced_stations_are_no_problem(job):
    stations = (*job.stations, Station(id="S2"))
    takes = (take(source="background", kind="noise", station="S2"),)
    assert problems(job.model_copy(update={"stations": stations, "takes": takes})) == ()


def test_all_problems_are_told_at_once(job):
    wrong = changed(job, "loudspeakers", 0, model="horn")
    wrong = changed(wrong, "stations", 0, seat="R9-9")
    wrong = changed(wrong, "seats", 0, position_m=(9, 9, 9))
    assert len(problems(wrong)) == 3


def test_position_on_the_boundary_is_inside(job):
    assert problems(changed(job, "subwoofers", 0, position_m=(-0.004, 5, 0))) == ()


def test_lookups(job):
    assert job.seat("R1-1") is job.seats[0]
    assert job.station("S1") is job.stations[0]
    assert job.unit("SW1") is job.subwoofers[0]
    assert job.units == (*job.loudspeakers, *job.subwoofers)
    assert job.model_of(job.unit("M+000")) is job.loudspeaker_models[0]
    with pytest.raises(KeyError):
        job.unit("SW2")


def test_digest_is_of_contents(job):
    again = Job.model_validate_json(job.model_dump_json())
    assert digest(job) == digest(again)
    assert digest(job.seats) != digest(job.stations)
    assert digest(job.seats[0]) != digest(job.seats[0].model_copy(update={"row": 2}))
    assert len(digest(job.room, job.seats)) == 64


def test_digest_knows_where_a_list_ends():
    a, b = Output(number=1, drives="A"), Output(number=2, drives="B")
    assert digest((a, b), ()) != digest((a,), (b,))


def test_schema_version_stands_in_the_document(job):
    assert job.schema_version == SCHEMA_VERSION
    assert f'"schema_version":{SCHEMA_VERSION}' in job.model_dump_json()


@pytest.mark.parametrize(
    "make",
    [
        lambda: Seat(id="R1 1", position_m=(0, 0, 0)),
        lambda: Seat(id="../x", position_m=(0, 0, 0)),
        lambda: Seat(id="A", position_m=(0, math.nan, 0)),
        lambda: Seat(id="A", position_m=(0, math.inf, 0)),
        lambda: Seat(id="A", position_m=(0, 0, 0), colour="red"),
        lambda: Surface(material="x", absorption=(0.1,) * 7),
        lambda: Surface(material="x", absorption=(1.1,) * 8),
        lambda: Sweep(start_hz=100, stop_hz=50),
        lambda: Sweep(duration_s=0.05),
        lambda: take(kind="take"),
        lambda: take(sweep=Sweep()),
        lambda: take(sha256="ABC"),
        lambda: Fault(kind="swapped", output=1),
        lambda: Fault(kind="dead", output=1, other=2),
        lambda: Target(points=(TargetPoint(frequency_hz=9, level_db=0),) * 2),
        lambda: Target(points=()),
    ],
)
def test_wrong_value_is_refused(make):
    with pytest.raises(ValidationError):
        make()


def test_documents_are_frozen(job):
    with pytest.raises(ValidationError, match="frozen"):
        job.name = "other"


def test_targets_and_settings_by_hand_must_refer_to_what_there_is(job):
    stray = job.model_copy(
        update={
            "own_targets": (
                OwnTarget(channels=("M+030",), target=Target()),
                OwnTarget(channels=("M+030", "U+999"), target=Target()),
            ),
            "by_hand": (
                ByHand(
                    drives="SW9", biquads=(Biquad(kind="peaking", frequency_hz=30000.0, gain_db=1),)
                ),
                ByHand(drives="SW9"),
            ),
            "modes": (ListeningMode(name="late"), ListeningMode(name="late")),
        }
    )
    found = " | ".join(problems(stray))
    for sentence in (
        "channel M+030 has 2 targets of its own; one is allowed",
        "a target of its own is given to U+999, which is not a channel",
        "settings by hand are for SW9, which is not in the room",
        "SW9 has 2 entries of settings by hand; one is allowed",
        "a filter by hand stands at 30000 Hz",
        "listening mode late is listed 2 times",
    ):
        assert sentence in found


def test_a_target_has_one_roll_off_a_side_and_ranges_apart():
    low = RollOff(side="low", frequency_hz=30)
    with pytest.raises(ValidationError, match="one roll-off on each side"):
        Target(roll_offs=(low, low))
    with pytest.raises(ValidationError, match="not overlap"):
        Target(follows=(FollowRange(low_hz=100, high_hz=300), FollowRange(low_hz=200, high_hz=400)))
    with pytest.raises(ValidationError, match="end above where it begins"):
        FollowRange(low_hz=300, high_hz=300)


def test_the_target_of_a_channel_is_its_own_or_the_jobs(job):
    own = Target(roll_offs=(RollOff(side="low", frequency_hz=30),))
    changed = job.model_copy(update={"own_targets": (OwnTarget(channels=("LFE1",), target=own),)})
    assert changed.target_of("LFE1") == own
    assert changed.target_of("M+030") == job.target


def test_a_field_that_a_later_version_adds_changes_no_digest(job):
    """What is at its default does not count, so that nothing made earlier is out of date."""
    from pydantic import create_model

    room = type(job.room)
    later = create_model("Room", __base__=room, added=(int, 0))
    assert digest(later(**job.room.model_dump())) == digest(job.room)
    assert digest(later(**job.room.model_dump(), added=1)) != digest(job.room)
