"""A small cinema: two loudspeakers, one subwoofer, bass-managed channels."""

from __future__ import annotations

from typing import Any

from roomwright.model import (
    Channel,
    Job,
    Loudspeaker,
    LoudspeakerModel,
    Microphone,
    Output,
    RehearsalSetup,
    Room,
    Seat,
    Subwoofer,
    Surface,
    Tuning,
)

MAIN = LoudspeakerModel(
    name="main",
    sensitivity_db=88.0,
    maximum_level_db=108.0,
    low_hz=60.0,
    high_hz=20000.0,
    directivity="wide",
)
SUBWOOFER = LoudspeakerModel(
    name="subwoofer",
    sensitivity_db=90.0,
    maximum_level_db=112.0,
    low_hz=25.0,
    high_hz=250.0,
    low_slope_db=24,
    directivity="omni",
)
QUIET: dict[str, Any] = {
    "latency_s": 0.0,
    "clock_error_ppm": 0.0,
    "unit_spread_db": 0.0,
    "distortion_percent": 0.0,
    "converter_noise_dbfs": -300.0,
}


def box_room(absorption: float = 0.5, **changes: Any) -> Room:
    surface = Surface(material="test", absorption=(absorption,) * 8)
    parts: dict[str, Any] = {
        "outline_m": ((0, 0), (5.2, 0), (5.2, 6.4), (0, 6.4)),
        "height_m": 2.7,
        "floor": surface,
        "ceiling": surface,
        "walls": (surface,) * 4,
    }
    return Room(**(parts | changes))


def louder(model: LoudspeakerModel, boost_db: float) -> LoudspeakerModel:
    levels = {
        "sensitivity_db": model.sensitivity_db + boost_db,
        "maximum_level_db": model.maximum_level_db + boost_db,
    }
    return model.model_copy(update=levels)


def make_job(
    *,
    room: Room | None = None,
    tuning: Tuning | None = None,
    boost_db: float = 0.0,
    **rehearsal: Any,
) -> Job:
    """The small cinema; further keywords are those of its rehearsal.

    `boost_db` makes loudspeakers louder and the microphone as much less sensitive, so that the
    room's noise falls by that against what is played.
    """
    return Job(
        name="small cinema",
        room=room or box_room(),
        seats=(Seat(id="R1-1", position_m=(2.6, 4.0, 1.2)),),
        main_seat="R1-1",
        layout="0+2+0",
        loudspeaker_models=(louder(MAIN, boost_db), louder(SUBWOOFER, boost_db)),
        loudspeakers=(
            Loudspeaker(
                id="M+030", model="main", position_m=(1.3, 0.2, 1.3), aim_m=(2.6, 4.0, 1.2)
            ),
            Loudspeaker(
                id="M-030", model="main", position_m=(3.9, 0.2, 1.3), aim_m=(2.6, 4.0, 1.2)
            ),
        ),
        subwoofers=(Subwoofer(id="SW1", model="subwoofer", position_m=(2.5, 0.4, 0.25)),),
        channels=(
            Channel(id="M+030", role="front", loudspeakers=("M+030",)),
            Channel(id="M-030", role="front", loudspeakers=("M-030",)),
            Channel(id="LFE1", role="lfe"),
        ),
        outputs=(
            Output(number=1, drives="M+030"),
            Output(number=2, drives="M-030"),
            Output(number=3, drives="SW1"),
        ),
        microphone=Microphone(sensitivity_pa=20.0 * 10 ** (boost_db / 20)),
        rehearsal=RehearsalSetup(**rehearsal),
        tuning=tuning,
    )
