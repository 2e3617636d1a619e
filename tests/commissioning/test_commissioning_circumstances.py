import pytest

from roomwright.commissioning import stages
from roomwright.commissioning.create import box_room, new_job
from roomwright.commissioning.edits import layout as edit_layout
from roomwright.commissioning.edits import room as edit_room
from roomwright.commissioning.edits import surfaces as edit_surfaces
from roomwright.commissioning.survey.circumstances import changed_since
from roomwright.commissioning.survey.responses import with_takes
from roomwright.model import Take
from roomwright.standards.labels import english


@pytest.fixture(scope="module")
def surveyed():
    job = new_job("test", layout="5.2.2", room=box_room((4.6, 6.0, 2.6)), rows=1, seats_per_row=2)
    return with_takes(
        job,
        "survey",
        [
            Take(
                stage="survey",
                source=unit.id,
                station=station.id,
                kind="response",
                file=f"takes/{unit.id}-{station.id}.wav",
                sha256="0" * 64,
            )
            for unit in job.units
            for station in job.stations[:2]
        ],
    )


def state_of(job, stage):
    return next(state for state in stages(job) if state.stage == stage)


def test_a_fresh_survey_is_of_what_is_there(surveyed):
    assert changed_since(surveyed, surveyed.takes) == ()
    assert state_of(surveyed, "survey").state == "done"


@pytest.mark.parametrize(
    ("change", "names"),
    [
        (lambda job: edit_layout.moved(job, "unit", "SW1", (1.0, 0.3, 0.25)), ("SW1",)),
        (lambda job: edit_room.with_seat_at(job, "R1-2", (3.0, 3.7, 1.2)), ("station S-R1-2",)),
        (lambda job: edit_surfaces.with_surface(job, "floor", {"glass": 1.0}), ("the room",)),
        (lambda job: edit_room.with_air(job, temperature_c=25.0), ()),
        (lambda job: edit_layout.with_channels(job, ["T+000"]), ()),
    ],
)
def test_what_changed_since_is_named(surveyed, change, names):
    changed = change(surveyed)
    assert changed_since(changed, changed.takes) == names
    state = state_of(changed, "survey")
    assert state.state == ("out of date" if names else "done")
    assert all(name in state.says for name in names)


def test_measuring_again_brings_it_up_to_date(surveyed):
    moved = edit_layout.moved(surveyed, "unit", "SW1", (1.0, 0.3, 0.25))
    again = [take for take in moved.takes if take.source == "SW1"]
    redone = with_takes(moved, "survey", again[:1])
    assert changed_since(redone, redone.takes) == ("SW1",)
    redone = with_takes(moved, "survey", again)
    assert changed_since(redone, redone.takes) == ()


def test_takes_of_unknown_circumstances_are_not_doubted(surveyed):
    old = surveyed.model_copy(
        update={"takes": tuple(t.model_copy(update={"made_with": None}) for t in surveyed.takes)}
    )
    changed = edit_layout.moved(old, "unit", "SW1", (1.0, 0.3, 0.25))
    assert changed_since(changed, changed.takes) == ()


def test_a_proof_depends_on_the_subwoofers_and_its_channel(surveyed):
    proof = Take(
        stage="proof",
        source="M+030",
        station="S-R1-1",
        kind="response",
        file="takes/p.wav",
        sha256="0" * 64,
    )
    job = with_takes(surveyed, "proof", [proof])
    takes = [take for take in job.takes if take.stage == "proof"]
    sub = edit_layout.moved(job, "unit", "SW2", (1.0, 5.7, 0.25))
    assert changed_since(sub, takes) == ("M+030",)
    other = edit_layout.moved(job, "unit", "M-030", (3.6, 0.15, 1.2))
    assert changed_since(other, takes) == ()


def test_stages_speak_of_channels_by_the_name_that_was_chosen(surveyed):
    moved = edit_layout.moved(surveyed, "unit", "M+030", (4.4, 4.5, 1.2))
    says = {state.stage: state.says for state in stages(moved, english)}
    assert says["layout"].endswith("outside their range: left")
    assert says["survey"] == "left changed; measure again"
    assert "M+030" in state_of(moved, "layout").says
