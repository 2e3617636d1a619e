"""What a search for places found: its front as points, levels at the stations, the best as rows."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
from nicegui import background_tasks, ui

from roomwright.commissioning import PlaceChoice, PlaceLevels, PlacesFound, place_levels
from roomwright.model import Job
from roomwright.web.components.graph_desk import Axis, Curve, GraphDesk, Handle, distinct
from roomwright.web.elements import Word
from roomwright.web.newest import Newest
from roomwright.web.page import JobPage
from roomwright.web.room_forecast import signed

NOW: Final = "now"

_FREQUENCY: Final = Axis("frequency", "Hz", 20.0, 200.0, log=True)
_LEVEL: Final = Axis("level re the mean", "dB", -18.0, 12.0)
_COLUMNS: Final = (
    "Level is per drive; 10 cm, 1 dB and 3 K are the spread with one subwoofer moved, one gain "
    "off, other air. × counts mirror twins."
)
_EMPTY: Final = "Nothing was searched for the job as it is. “Search places” stands beside the plan."


def named_choices(found: PlacesFound) -> dict[str, PlaceChoice]:
    """The choices by name: "1" is the best, "now" where the subwoofers stand, others of the front.

    Those of the front that are not among the best are "A", "B" and so on.
    """
    named = {str(number): choice for number, choice in enumerate(found.choices, start=1)}
    others = [choice for choice in found.front if choice not in found.choices]
    named |= {_letter(number): choice for number, choice in enumerate(others)}
    return named | ({NOW: found.now} if found.now is not None else {})


class FoundGraphs:
    """Spread against level per drive, one point each; and the chosen one's levels beneath."""

    def __init__(self, page: JobPage, choose: Callable[[str], None]) -> None:
        self._page, self._choose = page, choose
        self._newest = Newest(_levels, self._draw_levels, lambda _: None)

    def build(self) -> None:
        """Build both graphs in the current slot."""
        with ui.element("div").classes("rw-found-graphs"):
            self._front = GraphDesk(
                x=Axis("level per drive", "dB", -12.0, 6.0),
                y=Axis("spread over the stations", "dB²", 0.0, 20.0, decimals=2),
                name="Searched places: spread against level",
            )
            self._front.on_select(self._choose)
            self._levels = GraphDesk(x=_FREQUENCY, y=_LEVEL, name="Levels with the chosen places")
        self._front.set_empty(_EMPTY)

    def show(self, found: PlacesFound | None, chosen: str) -> None:
        """Show what was found, and one choice of it."""
        if self._front.is_deleted:
            return
        if found is None:
            self._front.set_empty(_EMPTY)
            self._front.set_curves([])
            self._front.set_handles([])
            self._levels.set_curves([])
            return
        named = named_choices(found)
        self._front.set_empty("")
        self._front.set_axes(*_axes(list(named.values())))
        self._front.set_curves([_line(found)])
        self._front.set_caption("lower and further right is better; the line joins the front")
        self._front.set_handles(
            [_handle(name, named[name], chosen=name == chosen) for name in _points(found, named)]
        )
        choice = named.get(chosen)
        if choice is None:
            self._levels.set_curves([])
            self._levels.set_empty("Choose a point to see what its places give.")
            return
        self._levels.set_empty("")
        question = self._page.job, chosen, choice
        background_tasks.create(self._newest.ask(question), name="levels of places")

    def _draw_levels(self, answer: tuple[str, PlaceLevels]) -> None:
        if self._page.gone or self._levels.is_deleted:
            return
        name, found = answer
        curves = [
            Curve(station, station, found.frequency_hz, level, **distinct(number))
            for number, (station, level) in enumerate(
                zip(found.stations, found.level_db, strict=True)
            )
        ]
        self._levels.set_curves(curves)
        what = "where they stand now" if name == NOW else f"choice {name}"
        self._levels.set_caption(
            f"{what}, with its gains and delays; from the drawing, not smoothed"
        )


def build_rows(
    found: PlacesFound, chosen: str, choose: Callable[[str], None], rows: dict[str, ui.element]
) -> None:
    """Build the table of the best twenty and of how they stand now in the current slot."""
    head = ("", "spread dB²", "level dB", "10 cm", "1 dB", "3 K", "")
    named = named_choices(found)
    with ui.element("table").classes("rw-list rw-choices"):
        with ui.element("thead"), ui.element("tr"):
            for title in head:
                Word(title, "th", "rw-number" if title else "").props("scope=col")
        with ui.element("tbody"):
            for name, one in named.items():
                with ui.element("tr").classes("chosen" if name == chosen else "") as row:
                    with ui.element("td"):
                        button = Word(name, "button", "rw-link").props("type=button")
                        button.props(f'aria-label="choice {name}"')
                        button.on("click", lambda name=name: choose(name), [])
                    for figure in _figures(one):
                        Word(figure, "td", "rw-number")
                    twins = f"{one.stands_for}×" if one.stands_for > 1 else ""
                    Word(twins + ("*" if one.remark else ""), "td")
                rows[name] = row


def sentences(found: PlacesFound, chosen: str) -> tuple[str, ...]:
    """What is to be known of a search, in plain sentences."""
    looked = (
        f"{found.looked_at} of {found.sets} sets of {len(found.candidates)} places looked at, "
        f"{found.designed} designed."
    )
    said = [_COLUMNS, looked]
    if found.gap is not None:
        said.append(
            f"Not every set was looked at; the rough figure is at most {100 * found.gap:.0f} % "
            "above the least there is."
        )
    if found.certainty:
        said.append(found.certainty)
    choice = named_choices(found).get(chosen)
    remarks = {one.remark for one in found.choices if one.remark}
    if choice is not None and choice.remark:
        said.append(f"* {choice.remark[0].upper()}{choice.remark[1:]}.")
    elif remarks:
        said += [f"* {remark[0].upper()}{remark[1:]}." for remark in sorted(remarks)]
    return tuple(one.replace("..", ".") for one in said)


def _levels(question: tuple[Job, str, PlaceChoice]) -> tuple[str, PlaceLevels]:
    job, name, choice = question
    return name, place_levels(job, choice)


def _letter(number: int) -> str:
    return chr(ord("A") + number % 26) + ("" if number < 26 else str(number // 26))


def _figures(one: PlaceChoice) -> tuple[str, ...]:
    off = (one.moved_db2, one.gain_off_db2, one.air_off_db2)
    return (
        f"{one.spread_db2:.2f}",
        signed(one.level_per_drive_db),
        *("–" if value is None else f"{value:.2f}" for value in off),
    )


def _points(found: PlacesFound, named: Mapping[str, PlaceChoice]) -> list[str]:
    """Names of what is drawn as points: the front, the best, and now."""
    return [name for name, one in named.items() if one in found.front or name in {"1", NOW}]


def _handle(name: str, one: PlaceChoice, *, chosen: bool) -> Handle:
    x, y = one.level_per_drive_db, one.spread_db2
    label = "now" if name == NOW else f"choice {name}"
    return Handle(
        name,
        label,
        x,
        y,
        free="x",
        colour=2 if chosen else 3 if name == NOW else 1,
        low_x=x,
        high_x=x,
    )


def _line(found: PlacesFound) -> Curve:
    front = sorted(found.front, key=lambda one: one.level_per_drive_db)
    x = np.array([one.level_per_drive_db for one in front])
    return Curve("front", "front", x, np.array([one.spread_db2 for one in front]), colour=1, dash=1)


def _axes(shown: Sequence[PlaceChoice]) -> tuple[Axis, Axis]:
    levels = [one.level_per_drive_db for one in shown]
    highest = max(one.spread_db2 for one in shown)
    low, high = math.floor(min(levels) - 0.5), math.ceil(max(levels) + 0.5)
    return (
        Axis("level per drive", "dB", float(low), float(high)),
        Axis("spread over the stations", "dB²", 0.0, float(math.ceil(1.15 * highest)), decimals=2),
    )
