"""What the graph desk shows for a choice of responses: every line, its axes, its words."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.commissioning.desk.curves import (
    OVER_TIME,
    WHOLE,
    Line,
    Quantity,
    Reading,
    Window,
    arrival_ms,
    average,
    line,
    spread,
    trusted_hz,
)
from roomwright.commissioning.desk.scales import Scale, scale_of, x_scale_of
from roomwright.measurement import ResponseSet
from roomwright.model import Job
from roomwright.tuning.stations import main_station

Kind = Literal["before", "predicted", "re-measured", "earlier"]

_NOT_THERE: Final[Mapping[Kind, str]] = {
    "before": "nothing is measured yet",
    "predicted": "there is no tuning to predict with yet",
    "re-measured": "nothing is re-measured yet",
    "earlier": "there is no earlier tuning",
}

#: Stands for a mean over stations among stations: over all, or over those of seats.
MEAN_ALL: Final = "*"
MEAN_SEATS: Final = "*seats"
MEANS: Final = frozenset({MEAN_ALL, MEAN_SEATS})

#: A line for every channel, station and kind asked for, up to this many.
MOST_LINES: Final = 120


@dataclass(frozen=True, slots=True)
class Choice:
    """What is to be seen.

    `places` are stations, `MEAN_ALL` or `MEAN_SEATS`. `lower` is shown in a second panel under
    a level, None for none. `spread` adds the range over stations around a mean.
    """

    kinds: tuple[Kind, ...] = ("before",)
    sources: tuple[str, ...] = ()
    places: tuple[str, ...] = (MEAN_ALL,)
    quantity: Quantity = "level"
    lower: Quantity | None = None
    smoothing: int = 12
    window: Window = WHOLE
    spread: bool = False

    @property
    def reading(self) -> Reading:
        """How the quantity is read."""
        return Reading(self.quantity, self.smoothing, self.window)


@dataclass(frozen=True, slots=True, eq=False)
class DeskLine:
    """One line and what it is of; `panel` 1 is the lower one."""

    kind: Kind
    source: str
    place: str
    line: Line
    panel: Literal[0, 1] = 0


@dataclass(frozen=True, slots=True, eq=False)
class Range:
    """How far the level of a source lies apart over stations: frequencies, lowest, highest (m,)."""

    kind: Kind
    source: str
    frequency_hz: NDArray[np.float64]
    low_db: NDArray[np.float64]
    high_db: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class DeskView:
    """Everything to be drawn. `missing` says in sentences what was asked for and is not there."""

    lines: tuple[DeskLine, ...]
    ranges: tuple[Range, ...]
    x: Scale
    y: Scale
    lower: Scale | None
    trusted_hz: tuple[float, float] | None
    caption: str
    missing: tuple[str, ...]


def stations_of(job: Job, responses: ResponseSet, place: str) -> tuple[str, ...]:
    """The stations that a place stands for."""
    if place == MEAN_ALL:
        return responses.stations
    if place == MEAN_SEATS:
        seats = {station.id for station in job.stations if station.seat is not None}
        return tuple(name for name in responses.stations if name in seats)
    return (place,)


def desk_view(job: Job, sets: Mapping[Kind, ResponseSet], choice: Choice) -> DeskView:
    """Read everything that was chosen from the sets of responses there are.

    Raises
    ------
    InputError
        If more lines are asked for than can be told apart.
    """
    count = len(choice.kinds) * len(choice.sources) * len(choice.places)
    if count > MOST_LINES:
        raise InputError(
            f"{count} curves were asked for; at most {MOST_LINES} are drawn: choose fewer"
        )
    readings: list[tuple[Literal[0, 1], Reading]] = [(0, choice.reading)]
    if choice.lower is not None and choice.quantity == "level":
        readings.append((1, Reading(choice.lower, choice.smoothing, choice.window)))
    lines: list[DeskLine] = []
    missing: list[str] = []
    for kind, source, place in _wanted(sets, choice):
        for panel, reading in readings:
            try:
                read = _line(job, sets[kind], source, place, reading)
            except InputError as error:
                missing.append(str(error))
            else:
                lines.append(DeskLine(kind, source, place, read, panel))
    missing += _absent(sets, choice)
    absolute = all(sets[kind].absolute for kind in choice.kinds if kind in sets)
    upper = [one.line for one in lines if one.panel == 0]
    below = [one.line for one in lines if one.panel == 1]
    return DeskView(
        lines=tuple(lines),
        ranges=tuple(_ranges(job, sets, choice)),
        x=x_scale_of(choice.quantity, _first_arrival_ms(job, sets, choice)),
        y=scale_of(choice.quantity, upper, absolute=absolute),
        lower=scale_of(readings[1][1].quantity, below, absolute=absolute)
        if len(readings) > 1
        else None,
        trusted_hz=None if choice.quantity in OVER_TIME else _trusted_hz(job, sets, choice),
        caption=_caption(job, sets, choice, readings[-1][1] if len(readings) > 1 else None),
        missing=tuple(dict.fromkeys(missing)),
    )


def _wanted(sets: Mapping[Kind, ResponseSet], choice: Choice) -> Iterable[tuple[Kind, str, str]]:
    """What was chosen and measured: kind, source, place."""
    for source in choice.sources:
        for place in choice.places:
            for kind in choice.kinds:
                if kind in sets and source in sets[kind].sources:
                    yield kind, source, place


def _absent(sets: Mapping[Kind, ResponseSet], choice: Choice) -> list[str]:
    found = {(kind, source) for kind, source, _ in _wanted(sets, choice)}
    return [_NOT_THERE[kind] for kind in choice.kinds if kind not in sets] + [
        f"{source}: nothing {kind}"
        for source in choice.sources
        for kind in choice.kinds
        if kind in sets and (kind, source) not in found
    ]


def _line(job: Job, responses: ResponseSet, source: str, place: str, reading: Reading) -> Line:
    """A line; only levels have a mean, everything else is shown at the main seat instead."""
    stations = stations_of(job, responses, place)
    if place not in MEANS:
        return line(responses, source, place, reading)
    if reading.quantity == "level":
        return average(responses, source, stations, reading)
    return line(responses, source, main_seat_station(job, responses), reading)


def main_seat_station(job: Job, responses: ResponseSet) -> str:
    """The station that stands for the main seat; the first one where none does."""
    index = main_station(job, responses.stations)
    return responses.stations[0 if index is None else index]


def _ranges(job: Job, sets: Mapping[Kind, ResponseSet], choice: Choice) -> Iterable[Range]:
    if not choice.spread or choice.quantity != "level":
        return
    for kind, source, place in _wanted(sets, choice):
        if place in MEANS:
            stations = stations_of(job, sets[kind], place)
            yield Range(kind, source, *spread(sets[kind], source, stations, choice.reading))


def _first_arrival_ms(job: Job, sets: Mapping[Kind, ResponseSet], choice: Choice) -> float:
    if choice.quantity not in OVER_TIME:
        return 0.0
    arrivals = []
    for kind, source, place in _wanted(sets, choice):
        responses = sets[kind]
        station = main_seat_station(job, responses) if place in MEANS else place
        with contextlib.suppress(InputError):
            arrivals.append(arrival_ms(responses, source, station))
    return min(arrivals, default=0.0)


def _trusted_hz(
    job: Job, sets: Mapping[Kind, ResponseSet], choice: Choice
) -> tuple[float, float] | None:
    """Where every curve shown can be relied on; a short window does not reach far down."""
    low, high = 0.0, np.inf
    for kind, source, place in _wanted(sets, choice):
        stations = [
            name for name in stations_of(job, sets[kind], place) if name in sets[kind].stations
        ]
        band = trusted_hz(sets[kind], source, stations)
        if band is not None:
            low, high = max(low, band[0]), min(high, band[1])
    if choice.window.kind == "time":
        low = max(low, 1.0 / choice.window.amount)
    return (low, float(high)) if 0.0 < low < high else None


def _caption(
    job: Job, sets: Mapping[Kind, ResponseSet], choice: Choice, lower: Reading | None
) -> str:
    parts = [f"{choice.quantity}: {choice.reading.says}"]
    if lower is not None:
        parts.append(f"{lower.quantity}: {lower.says}")
    some = next((sets[kind] for kind in choice.kinds if kind in sets), None)
    for place in choice.places:
        if some is None or place not in MEANS:
            continue
        if choice.quantity == "level":
            what = "stations" if place == MEAN_ALL else "seats"
            parts.append(f"mean power of {len(stations_of(job, some, place))} {what}")
        if choice.quantity != "level" or lower is not None:
            named = choice.quantity if lower is None else lower.quantity
            parts.append(f"{named} has no mean: at {main_seat_station(job, some)}, the main seat")
    if choice.quantity == "level" and some is not None and some.absolute:
        parts.append("sine 20 dB below full scale")
    if choice.spread and choice.quantity == "level":
        parts.append("shaded: lowest to highest station")
    return "; ".join(parts)
