"""Beside the plan: what is wished of the subwoofers' places, as fields; boxes to keep clear."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning import with_bass, without_keep_clear
from roomwright.commissioning.bass.plan import named_box, with_box, with_box_renamed
from roomwright.commissioning.lengths import parse_length
from roomwright.model import Job, KeepClear
from roomwright.web.elements import SECOND, Part, Word
from roomwright.web.fields import Entry, read_number
from roomwright.web.page import JobPage
from roomwright.web.room_canvas import RoomCanvas

#: Lengths among the wishes: field, label, what is allowed in metres.
_LENGTHS: Final = (
    ("spacing_m", "Places every", 0.2, 5.0),
    ("from_wall_m", "From walls", 0.05, 2.0),
    ("strip_m", "Floor strip", 0.0, 10.0),
)


class WishFields:
    """Fields of the wishes that a search goes by; what is not allowed is said under each."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._entries: list[Entry] = []
        with ui.element("div").classes("rw-fields"):
            self._number("count", "How many", 1, 24, whole=True)
            for field, label, low, high in _LENGTHS:
                self._length(field, label, low, high)
            self._add("Wall heights", self._heights, self._take_heights)
            self._length("from_ceiling_m", "Under ceiling", 0.05, 2.0)
            self._add("Band, Hz", self._band, self._take_band)
            self._number("level_weight", "1 dB level, dB²", 0.0, 100.0)
        self._ceiling = self._box("on_ceiling", "Under the ceiling too")
        self._mirrored = self._box("mirrored", "In pairs, left and right, fed alike")

    def refresh(self) -> None:
        """Follow the job."""
        for entry in self._entries:
            entry.refresh()
        places = self._page.job.bass.places
        self._ceiling.value, self._mirrored.value = places.on_ceiling, places.mirrored

    def _add(self, label: str, show: Callable[[], str], take: Callable[[str], object]) -> None:
        self._entries.append(Entry(label, show, take))

    def _set(self, says: str, **changes: object) -> None:
        self._page.session.apply(lambda job: with_bass(job, **changes), says)

    def _value(self, field: str) -> float:
        wishes = self._page.job.bass
        return float(getattr(wishes, field, getattr(wishes.places, field, 0.0)))

    def _number(
        self, field: str, label: str, low: float, high: float, *, whole: bool = False
    ) -> None:
        def take(text: str) -> None:
            value = read_number(text, label, low, high)
            self._set(label.lower(), **{field: round(value) if whole else value})

        self._add(label, lambda: f"{self._value(field):g}", take)

    def _length(self, field: str, label: str, low: float, high: float) -> None:
        def take(text: str) -> None:
            value = parse_length(text, self._page.units)
            if not low <= value <= high:
                allowed = f"{self._page.length(low)} to {self._page.length(high)}"
                raise InputError(f"{label}: {allowed} is allowed")
            self._set(label.lower(), **{field: value})

        self._add(label, lambda: self._page.length(self._value(field)), take)

    def _heights(self) -> str:
        heights = self._page.job.bass.places.wall_heights_m
        return "; ".join(self._page.length(height) for height in heights)

    def _take_heights(self, text: str) -> None:
        parts = [part for part in re.split(r";|,\s", text) if part.strip()]
        heights = [parse_length(part, self._page.units) for part in parts]
        highest = self._page.job.room.height_m
        if any(not 0 < height < highest for height in heights):
            raise InputError(f"heights lie above the floor and below {self._page.length(highest)}")
        self._set("wall heights", wall_heights_m=heights)

    def _band(self) -> str:
        low, high = self._page.job.bass.band_hz
        return f"{low:g} to {high:g}"

    def _take_band(self, text: str) -> None:
        parts = [part for part in re.split(r"to|;|–|-|\s", text) if part.strip()]
        if len(parts) != 2:
            raise InputError("the band is two frequencies, such as 20 to 120")
        low, high = (read_number(part, "the band", 10.0, 300.0) for part in parts)
        self._set("band of the bass", band_hz=(low, high))

    def _box(self, field: str, label: str) -> ui.checkbox:
        def change(value: object) -> None:
            if getattr(self._page.job.bass.places, field) != value:
                self._page.apply(lambda job: with_bass(job, **{field: value}), label.lower())

        value = getattr(self._page.job.bass.places, field)
        box = ui.checkbox(label, value=value, on_change=lambda event: change(event.value))
        return box.props("dense size=sm").classes("rw-small")


class BoxList:
    """The boxes to keep clear by name; each can be chosen on the plan, and taken away."""

    def __init__(self, page: JobPage, canvas: RoomCanvas) -> None:
        self._page, self._canvas = page, canvas
        self._list = Part("rw-row rw-small")

    def refresh(self) -> None:
        """Follow the job."""
        names = tuple(box.name for box in self._page.job.bass.keep_clear)
        self._list.show(names, lambda: self._build(names))

    def _build(self, names: tuple[str, ...]) -> None:
        if not names:
            Word("No box is kept clear: a door, the screen, furniture.", "span", "rw-quiet")
        for name in names:
            button = Word(name, "button", "rw-link").props("type=button")
            button.on("click", lambda name=name: self._canvas.choose(f"clear {name}"), [])


def box_fields(page: JobPage, name: str) -> list[Entry]:
    """Build fields for a box to keep clear, and what takes it away; return the fields."""

    def box() -> KeepClear:
        return named_box(page.job, name)

    def change(corner: str, axis: int) -> Callable[[str], None]:
        def take(text: str) -> None:
            to = list(getattr(box(), corner))
            to[axis] = parse_length(text, page.units)
            changed = box().model_copy(update={corner: tuple(to)})
            _put(page, changed)

        return take

    def high(text: str) -> None:
        whole = text.lower() in {"", "ceiling"}
        to = None if whole else parse_length(text, page.units)
        _put(page, box().model_copy(update={"high_m": to}))

    def high_text() -> str:
        top = box().high_m
        return "ceiling" if top is None else page.length(top)

    def low(text: str) -> None:
        _put(page, box().model_copy(update={"low_m": parse_length(text, page.units)}))

    def rename(text: str) -> None:
        page.session.apply(lambda job: with_box_renamed(job, name, text), "rename a box")

    def corner(label: str, which: str, axis: int) -> Entry:
        return Entry(label, lambda: page.length(getattr(box(), which)[axis]), change(which, axis))

    with ui.element("div").classes("rw-fields"):
        entries = [
            Entry("Name", lambda: name, rename),
            corner("Across from", "from_m", 0),
            corner("to", "to_m", 0),
            Entry("Up to", high_text, high),
            corner("Back from", "from_m", 1),
            corner("to", "to_m", 1),
            Entry("From height", lambda: page.length(box().low_m), low),
        ]

    def remove(job: Job) -> Job:
        return without_keep_clear(job, name)

    ui.button("Take the box away", on_click=lambda: page.apply(remove, f"take {name} away")).props(
        SECOND
    )
    return entries


def _put(page: JobPage, box: KeepClear) -> None:
    page.session.apply(
        lambda job: with_box(job, box.name, box.from_m, box.to_m, box.low_m, box.high_m),
        f"change {box.name}",
    )
