"""How the graph desk of a job names and draws what it shows."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Final

from roomwright.commissioning.desk.scales import Scale
from roomwright.commissioning.desk.view import (
    MEAN_ALL,
    MEAN_SEATS,
    Choice,
    DeskLine,
    DeskView,
    Kind,
)
from roomwright.web.components.graph_desk import DASHES, Axis, Look, Shade, distinct
from roomwright.web.page import JobPage

#: Line styles of the kinds where several are shown: solid, dashed, dash-dot, dotted.
_KIND_DASHES: Final[Mapping[Kind, int]] = {
    "before": 0,
    "predicted": 1,
    "re-measured": 3,
    "earlier": 2,
}

ORDERS: Final = {2: "2nd", 3: "3rd", 4: "4th", 5: "5th"}


def sources_of(page: JobPage) -> tuple[str, ...]:
    """Everything that may have been measured: channels, then units that are no channels."""
    job = page.job
    names = [channel.id for channel in job.channels] + [unit.id for unit in job.units]
    return tuple(dict.fromkeys(names))


def single_station(page: JobPage, place: str) -> str:
    """One station for a place: of the main seat where the place is a mean."""
    if place not in {MEAN_ALL, MEAN_SEATS}:
        return place
    job = page.job
    for station in job.stations:
        if station.seat == job.main_seat:
            return station.id
    return job.stations[0].id if job.stations else place


def look_of(choice: Choice, pairs: list[tuple[str, str]], one: DeskLine) -> Look:
    """Colour by channel and place, dash by kind; with one pair both by kind.

    Few curves differ all in their dashes, so that they can be told apart without colours.
    """
    if len(choice.kinds) == 1:
        return distinct(pairs.index((one.source, one.place)))
    if len(pairs) == 1:
        return Look(colour=choice.kinds.index(one.kind), dash=_KIND_DASHES[one.kind])
    pair, kinds = pairs.index((one.source, one.place)), len(choice.kinds)
    if kinds * len(pairs) <= len(DASHES):
        return Look(colour=pair, dash=kinds * pair + choice.kinds.index(one.kind))
    return Look(colour=pair, dash=_KIND_DASHES[one.kind])


def axis_of(scale: Scale) -> Axis:
    """The axis that shows a scale."""
    return Axis(**dataclasses.asdict(scale))


def untrusted(view: DeskView) -> list[Shade]:
    """What lies outside the trusted band."""
    if view.trusted_hz is None:
        return []
    low, high = view.trusted_hz
    words = "not trusted"
    return [Shade(1.0, low, words), Shade(high, 48_000.0, words)]


def listed(names: list[str], most: int = 4) -> str:
    """The first few names, and how many more there are."""
    if len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[:most])} and {len(names) - most} more"


def summary(name: str, picked: list[str]) -> str:
    """What a closed list of several says."""
    if not picked:
        return f"no {name}"
    return picked[0] if len(picked) == 1 else f"{len(picked)} {name}"
