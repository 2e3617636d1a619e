"""Fields for the place of what is chosen in the plan."""

from __future__ import annotations

from typing import Literal

from nicegui import ui

from roomwright.commissioning.edits.layout import moved
from roomwright.commissioning.lengths import parse_length
from roomwright.model import Point
from roomwright.web.fields import Entry
from roomwright.web.page import JobPage

_AXES = ("Across", "Back", "Up")


def place_fields(page: JobPage, kind: Literal["seat", "unit"], name: str) -> list[Entry]:
    """Build fields for the three coordinates of a seat or a unit, and return them."""

    def place() -> Point:
        return (page.job.seat(name) if kind == "seat" else page.job.unit(name)).position_m

    def entry(axis: int) -> Entry:
        def take(text: str) -> None:
            to = list(place())
            to[axis] = parse_length(text, page.units)
            x, y, z = to
            page.session.apply(
                lambda job: moved(job, kind, name, (x, y, z)), f"move {page.label(name)}"
            )

        return Entry(_AXES[axis], lambda: page.length(place()[axis]), take, page.said)

    with ui.element("div").classes("rw-fields"):
        return [entry(axis) for axis in range(3)]
