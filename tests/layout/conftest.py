from collections.abc import Callable

import pytest

from roomwright.layout import Placement, seat_stations
from roomwright.model import Job, LoudspeakerModel, Room, Seat, Surface
from roomwright.standards.materials import material

MODELS = {"front": "large", "surround": "small", "height": "small", "subwoofer": "bass"}


@pytest.fixture(scope="session")
def models() -> dict[str, str]:
    return MODELS


@pytest.fixture(scope="session")
def prism() -> Callable[..., Room]:
    def make(*outline: tuple[float, float], height: float = 2.9) -> Room:
        plaster = Surface(material="plastered masonry", absorption=material("plastered masonry"))
        return Room(
            outline_m=outline,
            height_m=height,
            floor=plaster,
            ceiling=plaster,
            walls=(plaster,) * len(outline),
        )

    return make


@pytest.fixture(scope="session")
def box(prism) -> Callable[..., Room]:
    def make(width: float, depth: float, height: float) -> Room:
        return prism((0, 0), (width, 0), (width, depth), (0, depth), height=height)

    return make


@pytest.fixture(scope="session")
def job() -> Callable[..., Job]:
    def make(room: Room, seats: tuple[Seat, ...], main: str, layout: str, placed: Placement) -> Job:
        return Job(
            name="test",
            room=room,
            seats=seats,
            main_seat=main,
            layout=layout,
            loudspeaker_models=tuple(
                LoudspeakerModel(
                    name=name,
                    sensitivity_db=90,
                    maximum_level_db=110,
                    low_hz=40,
                    high_hz=20000,
                )
                for name in ("large", "small", "bass")
            ),
            loudspeakers=placed.loudspeakers,
            subwoofers=placed.subwoofers,
            channels=placed.channels,
            stations=seat_stations(seats, main, 4),
        )

    return make
