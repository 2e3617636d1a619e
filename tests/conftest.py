"""What several test folders share: a small job, and responses measured in real rooms."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

from roomwright.model import (
    Channel,
    Job,
    Loudspeaker,
    LoudspeakerModel,
    Output,
    Room,
    Seat,
    Station,
    Subwoofer,
    Surface,
)

pytest_plugins = ["real_rooms"]

# The same examples on every run and machine, however slow: what fails here, fails anywhere.
settings.register_profile(
    "steady", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("steady")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take a folder for pictures of every stage of the web app."""
    parser.addoption("--pictures", metavar="DIR", help="leave pictures of the web app in DIR")


@pytest.fixture
def small_job() -> Job:
    """Two loudspeakers, one subwoofer, three seats in a box room, valid but for nothing."""
    surface = Surface(material="painted plasterboard", absorption=(0.2,) * 8)
    aim = (2.25, 3.6, 1.2)
    return Job(
        name="Small room",
        room=Room(
            outline_m=((0.0, 0.0), (4.5, 0.0), (4.5, 6.0), (0.0, 6.0)),
            height_m=2.7,
            floor=surface,
            ceiling=surface,
            walls=(surface,) * 4,
        ),
        seats=(
            Seat(id="R1-1", position_m=(1.5, 3.6, 1.2)),
            Seat(id="R1-2", position_m=(2.25, 3.6, 1.2)),
            Seat(id="R1-3", position_m=(3.0, 3.6, 1.2)),
        ),
        main_seat="R1-2",
        layout="M+030,M-030",
        loudspeaker_models=(
            LoudspeakerModel(
                name="small",
                sensitivity_db=92.0,
                maximum_level_db=110.0,
                low_hz=60.0,
                high_hz=20000.0,
            ),
            LoudspeakerModel(
                name="sub",
                sensitivity_db=94.0,
                maximum_level_db=116.0,
                low_hz=22.0,
                high_hz=200.0,
                directivity="omni",
            ),
        ),
        loudspeakers=(
            Loudspeaker(id="M+030", model="small", position_m=(0.5, 0.4, 1.2), aim_m=aim),
            Loudspeaker(id="M-030", model="small", position_m=(4.0, 0.4, 1.2), aim_m=aim),
        ),
        subwoofers=(Subwoofer(id="SW1", model="sub", position_m=(0.4, 0.4, 0.3)),),
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
        stations=(
            Station(id="S-R1-1", position_m=(1.5, 3.6, 1.2), seat="R1-1"),
            Station(id="S-R1-2", position_m=(2.25, 3.6, 1.2), seat="R1-2"),
        ),
    )
