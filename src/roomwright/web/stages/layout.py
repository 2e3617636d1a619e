"""The screen of the layout stage: which loudspeakers there are, where, and at what angles."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Final

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning import audit
from roomwright.commissioning.bass.plan import box_of
from roomwright.commissioning.bass.wishes import ArrayMark, mark_of
from roomwright.commissioning.edits import layout as edit_layout
from roomwright.commissioning.plan_view import angle_words, unit_label
from roomwright.layout import PlacementRow
from roomwright.model import Finding, Job, gathered
from roomwright.web.elements import Part, Word
from roomwright.web.fields import Entry
from roomwright.web.item_panel import place_fields
from roomwright.web.page import JobPage
from roomwright.web.room_canvas import RoomCanvas
from roomwright.web.room_forecast import signed
from roomwright.web.stages.layout_array import mark
from roomwright.web.stages.layout_bass import BassPlaces
from roomwright.web.stages.layout_wishes import box_fields
from roomwright.web.type_dialog import TypeDialog
from roomwright.web.way import next_button

_MOST_SUBWOOFERS: Final = 24


def show(page: JobPage) -> None:
    """Build the screen in the current slot."""
    _LayoutScreen(page)


class _LayoutScreen:
    """One window's layout stage, which follows changes in place."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._notes: tuple[Finding, ...] = ()
        self._place_entries: list[Entry] = []
        self._built: tuple[object, ...] = ()
        self._offered: tuple[tuple[str, ...], ...] | None = None
        with ui.element("div").classes("rw-room") as root:
            self._bass = BassPlaces(page)
            self._canvas = RoomCanvas(
                page,
                root,
                "angles",
                self._update_panel,
                tab=("Found places", self._bass.build_graphs),
                moving=self._bass.follow,
            )
            with ui.element("aside").classes("rw-panel rw-column rw-room-panel"):
                self._build_choice()
                self._chosen = ui.element("section").classes("rw-column")
                self._bass.build(self._canvas)
                self._angles = Part()
        self._dialog = TypeDialog(page)
        self._update()
        page.on_change(self._update)

    def _update(self) -> None:
        self._canvas.update()
        self._bass.update()
        job = self._page.job
        if self._layout.value != job.layout:
            self._layout.set_options(_offers(job), value=job.layout)
        if self._subwoofers.value != len(job.subwoofers):
            self._subwoofers.value = len(job.subwoofers)
        self._build_additions()
        self._update_panel()

    def _update_panel(self) -> None:
        self._build_chosen()
        self._show_angles()

    # Choosing a layout

    def _build_choice(self) -> None:
        job = self._page.job
        with ui.element("section").classes("rw-column"):
            with ui.element("div").classes("rw-row"):
                Word("Layout", "h2", "rw-title")
                next_button(self._page.go, "outputs")
            with ui.element("div").classes("rw-row").style("flex-wrap: nowrap"):
                self._layout = (
                    ui.select(
                        _offers(job),
                        value=job.layout,
                        label="Layout, or labels",
                        with_input=True,
                        new_value_mode="add-unique",
                        on_change=lambda event: self._choose(str(event.value or "")),
                    )
                    .props("outlined dense options-dense hide-bottom-space")
                    .style("flex: 1")
                )
                self._subwoofers = (
                    ui.number(
                        "Subwoofers",
                        value=len(job.subwoofers),
                        min=0,
                        max=_MOST_SUBWOOFERS,
                        step=1,
                        precision=0,
                    )
                    .props("outlined dense hide-bottom-space debounce=500")
                    .style("width: 104px")
                )
                self._subwoofers.on_value_change(lambda event: self._count(event.value))
            self._error = ui.label("").classes("rw-bad rw-small").props("role=alert")
            self._error.set_visibility(False)
            self._additions = ui.element("div").classes("rw-row").style("gap: 6px")
            self._said = Part("rw-small")

    def _choose(self, layout: str) -> None:
        if not layout.strip() or layout == self._page.job.layout:
            return
        self._place(layout, None, f"choose the layout {layout}")

    def _count(self, count: float | None) -> None:
        if count is None or int(count) == len(self._page.job.subwoofers):
            return
        number = int(count)
        self._try(
            lambda: self._page.session.apply(
                lambda job: edit_layout.with_subwoofers(job, number), f"set {number} subwoofers"
            )
        )

    def _place(self, layout: str, subwoofers: int | None, says: str) -> None:
        found: list[Finding] = []

        def change(job: Job) -> Job:
            placed, notes = edit_layout.choose_layout(job, layout, subwoofers)
            found.extend(notes)
            return placed

        if self._try(lambda: self._page.session.apply(change, says)):
            self._notes = gathered(found)
            self._said.show(self._notes, self._build_notes)

    def _try(self, action: Callable[[], None]) -> bool:
        try:
            action()
        except InputError as error:
            self._error.text = f"▲ {self._page.said(str(error))}"
            self._error.set_visibility(True)
            return False
        self._error.set_visibility(False)
        return True

    def _build_notes(self) -> None:
        for note in self._notes:
            shape, tone = ("▲", "rw-doubt") if note.severity != "note" else ("·", "rw-quiet")
            said = f"{self._page.where(note)}: {self._page.said(note.text)}"
            ui.label(f"{shape} {said}").classes(tone)

    def _build_additions(self) -> None:
        page = self._page
        offered = edit_layout.further_channels(page.job)
        if offered == self._offered:
            return
        self._offered = offered
        self._additions.clear()
        with self._additions:
            top = [offer for offer in offered if offer[0][0] in "TU"]
            other = [offer for offer in offered if offer[0][0] not in "TU"]
            for title, offers in (("Add top", top), ("Add other", other)):
                with ui.button(title).props("outline dense icon-right=expand_more") as button:
                    button.set_enabled(bool(offers))
                    with ui.menu():
                        for offer in offers:
                            ui.menu_item(
                                " and ".join(page.label(name) for name in offer),
                                on_click=lambda offer=offer: self._add(offer),
                            )
            ui.button(
                "Second sides",
                on_click=lambda: self._try(
                    lambda: page.session.apply(
                        edit_layout.with_second_sides, "add a second pair of sides"
                    )
                ),
            ).props("outline dense")
            ui.button(
                "Place all again",
                on_click=lambda: self._place(
                    page.job.layout, len(page.job.subwoofers) or None, "place all again"
                ),
            ).props("outline dense")

    def _add(self, offer: Sequence[str]) -> None:
        names = " and ".join(offer)
        self._try(
            lambda: self._page.session.apply(
                lambda job: edit_layout.with_channels(job, offer), f"add {names}"
            )
        )

    # What is chosen

    def _build_chosen(self) -> None:
        name, page = self._canvas.chosen, self._page
        label = unit_label(page.job, name, page.label)
        key = (name, self._canvas.kind, label, page.seat, mark_of(page.job, name))
        if key == self._built:
            for entry in self._place_entries:
                entry.refresh()
            return
        self._built, self._place_entries = key, []
        self._chosen.clear()
        with self._chosen:
            if self._canvas.kind == "seat":
                Word(f"Seat {name}", "h2", "rw-title")
                self._place_entries = place_fields(page, "seat", name)
            elif self._canvas.kind == "box":
                box = box_of(name)
                Word(f"Keep clear: {box}", "h2", "rw-title")
                self._place_entries = box_fields(page, box)
            elif self._canvas.kind == "unit":
                Word(label, "h2", "rw-title")
                self._place_entries = place_fields(page, "unit", name)
                with ui.element("div").classes("rw-row").style("gap: 6px"):
                    self._build_unit_actions(name)
                if any(name == subwoofer.id for subwoofer in page.job.subwoofers):
                    self._build_marks(name)
            else:
                ui.label(
                    "Drag a loudspeaker, or focus it and use the arrow keys "
                    "(Page Up and Page Down for its height)."
                ).classes("rw-quiet rw-small")

    def _build_unit_actions(self, name: str) -> None:
        job = self._page.job
        channel = next((c.id for c in job.channels if name in c.loudspeakers), None)
        seat = self._page.seat
        actions: list[tuple[str, Callable[[Job], Job], str]] = []
        if channel is not None:
            actions.append(
                (
                    "Add a second",
                    lambda job: edit_layout.with_another_loudspeaker(job, channel),
                    f"add a loudspeaker to {channel}",
                )
            )
            actions.append(
                (
                    f"Aim at {seat}",
                    lambda job: edit_layout.aimed(job, name, job.seat(seat).position_m),
                    f"aim {name} at {seat}",
                )
            )
        actions.append(
            ("Remove", lambda job: edit_layout.without_unit(job, name), f"remove {name}")
        )
        ui.button("Type", on_click=lambda: self._dialog.open(name)).props("outline dense")
        for title, change, says in actions:
            ui.button(
                title, on_click=lambda change=change, says=says: self._page.apply(change, says)
            ).props("outline dense")

    def _build_marks(self, name: str) -> None:
        words: dict[ArrayMark, str] = {"launches": "Launches", "absorbs": "Absorbs", "": "Neither"}
        now = mark_of(self._page.job, name)
        with ui.element("div").classes("rw-row").style("gap: 6px"):
            Word("In an array it", "span", "rw-small")
            for wanted, title in words.items():
                button = ui.button(title, on_click=partial(mark, self._page, name, wanted))
                button.props("unelevated dense" if wanted == now else "outline dense")
                button.props(f"aria-pressed={str(wanted == now).lower()}")

    # Angles

    def _show_angles(self) -> None:
        page = self._page
        rows = [row for row in audit(page.job) if row.seat == page.seat]
        names = {row.loudspeaker: unit_label(page.job, row.loudspeaker, page.label) for row in rows}
        self._angles.show(tuple(names.items()), lambda: self._build_angles(names))
        outside = sum(not row.within for row in rows)
        self._title.text = f"Angles at {page.seat}"
        self._outside.text = f"▲ {outside} out of range" if outside else "■ all in range"
        self._outside.classes(add="rw-doubt" if outside else "rw-good", remove="rw-doubt rw-good")
        for row in rows:
            self._lines[row.loudspeaker].show(
                row, page.length(row.distance_m), chosen=row.loudspeaker == self._canvas.chosen
            )

    def _build_angles(self, names: Mapping[str, str]) -> None:
        with ui.element("div").classes("rw-row"):
            self._title = Word("", "h2", "rw-title")
            self._outside = Word("")
        with ui.element("table").classes("rw-list"):
            with ui.element("thead"), ui.element("tr"):
                for title in ("loudspeaker", "azimuth", "elevation", "distance"):
                    figure = "" if title == "loudspeaker" else "rw-number"
                    Word(title, "th", figure).props("scope=col")
            with ui.element("tbody"):
                self._lines = {
                    unit: _AngleLine(name, partial(self._canvas.choose, unit))
                    for unit, name in names.items()
                }


class _AngleLine:
    """A loudspeaker's angles and their ranges, and what is wrong with them."""

    def __init__(self, name: str, choose: Callable[[], None]) -> None:
        with ui.element("tr") as self._row:
            with ui.element("td"):
                self._button = Word(name, "button", "rw-link").props("type=button")
                self._button.on("click", choose, [])
            self._angles = [self._build_angle() for _ in range(2)]
            self._distance = Word("", "td", "rw-number").style("white-space: nowrap")
        with ui.element("tr") as self._wrong, ui.element("td").props("colspan=4"):
            self._why = Word("", "span", "rw-doubt")

    def _build_angle(self) -> tuple[Word, Word]:
        with ui.element("td").classes("rw-number"):
            return Word(""), Word("", "span", "rw-quiet").style("margin-left: 4px")

    def show(self, row: PlacementRow, distance: str, *, chosen: bool) -> None:
        self._row.classes(add="chosen" if chosen else "", remove="" if chosen else "chosen")
        self._button.props(f"aria-pressed={str(chosen).lower()}")
        values = (
            (row.azimuth_deg, row.azimuth_range_deg),
            (row.elevation_deg, row.elevation_range_deg),
        )
        for (value, allowed), (angle_deg, allowed_deg) in zip(self._angles, values, strict=True):
            value.text, allowed.text = f"{signed(angle_deg, 0)}°", _range(allowed_deg)
        self._distance.text = distance
        self._wrong.set_visibility(not row.within)
        self._why.text = "" if row.within else f"▲ {angle_words(row)}"


def _offers(job: Job) -> dict[str, str]:
    return dict(edit_layout.known_layouts()) | {job.layout: job.layout}


def _range(allowed_deg: tuple[float, float]) -> str:
    low, high = allowed_deg
    text = f"({low:g})" if low == high else f"({low:g} to {high:g})"
    return text.replace("-", "−")
