"""The screen of the room stage: size, surfaces, air, seats."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from nicegui import ui

from roomwright.commissioning.edits import room as edit_room
from roomwright.commissioning.edits import surfaces as edit_surfaces
from roomwright.commissioning.lengths import parse_length
from roomwright.commissioning.room_view import room_says
from roomwright.model import Job, Point, Room
from roomwright.web.elements import Part, Word
from roomwright.web.fields import Entry, answered, read_number
from roomwright.web.item_panel import place_fields
from roomwright.web.page import JobPage
from roomwright.web.room_canvas import RoomCanvas
from roomwright.web.surface_dialog import SurfaceDialog
from roomwright.web.way import next_button


def show(page: JobPage) -> None:
    """Build the screen in the current slot."""
    _RoomScreen(page)


class _RoomScreen:
    """One window's room stage, which follows changes in place."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._entries: list[Entry] = []
        self._place: list[Entry] = []
        self._built: tuple[object, ...] = ()
        with ui.element("div").classes("rw-room") as root:
            self._canvas = RoomCanvas(page, root, "pressure", self._chose)
            with ui.element("aside").classes("rw-panel rw-column rw-room-panel"):
                self._size = ui.element("section").classes("rw-column")
                self._chosen = ui.element("section").classes("rw-column")
                self._seats = ui.element("section").classes("rw-column")
                self._surfaces = Part()
                self._air = ui.element("section").classes("rw-column")
                self._figures = Part()
        self._dialog = SurfaceDialog(page)
        self._build_size()
        self._build_air()
        self._build_seats()
        self._update()
        page.on_change(self._update)

    def _update(self) -> None:
        self._canvas.update()
        self._follow_corners()
        for entry in self._entries:
            entry.refresh()
        self._show_surfaces()
        self._show_figures()
        self._build_chosen()

    def _chose(self) -> None:
        self._build_chosen()

    def _apply(self, change: Callable[[Job], Job], says: str) -> None:
        """Change the job; what is refused goes up to the field it was typed in."""
        self._page.session.apply(change, says)

    # Size

    def _build_size(self) -> None:
        with self._size:
            with ui.element("div").classes("rw-row"):
                Word("Room", "h2", "rw-title")
                next_button(self._page.go, "layout")
            with ui.element("div").classes("rw-fields"):
                for number, name in enumerate(("Width", "Length", "Height")):
                    self._entries.append(self._side_entry(number, name))
            box = self._page.job.room.box_size_m is not None
            with ui.expansion("Corners", value=not box).props("dense").classes("w-full"):
                ui.label(
                    "In order around the room; x from the left wall, y from the front wall."
                ).classes("rw-quiet rw-small")
                self._corners = ui.element("div")
            self._follow_corners()

    def _side_entry(self, number: int, name: str) -> Entry:
        def take(text: str) -> None:
            sides = list(_sides(self._page.job.room))
            sides[number] = parse_length(text, self._page.units)
            width, length, height = sides
            self._apply(
                lambda job: edit_room.resized(job, width, length, height),
                f"set the {name.lower()} to {self._page.length(sides[number])}",
            )

        page = self._page
        return Entry(name, lambda: page.length(_sides(page.job.room)[number]), take, page.said)

    def _follow_corners(self) -> None:
        """Have as many rows as there are corners; those that stay keep the focus."""
        rows, wanted = self._corners.default_slot.children, len(self._page.job.room.outline_m)
        while len(rows) > wanted:
            rows[-1].delete()
        self._entries = [entry for entry in self._entries if not entry.is_deleted]
        with self._corners:
            for number in range(len(rows), wanted):
                self._build_corner(number)

    def _build_corner(self, number: int) -> None:
        with ui.element("div").classes("rw-row").style("flex-wrap: nowrap; padding-bottom: 6px"):
            Word(f"{number + 1}", "span", "rw-number rw-quiet")
            for axis, name in enumerate("xy"):
                self._entries.append(self._corner_entry(number, axis, name))
            for icon, name, change in (
                ("add", "add a corner after", _corner_added),
                ("close", "remove corner", _corner_removed),
            ):
                ui.button(
                    icon=icon,
                    on_click=lambda change=change, name=name: self._page.apply(
                        lambda job: edit_room.with_outline(job, change(job.room.outline_m, number)),
                        f"{name} {number + 1}",
                    ),
                ).props(f'flat dense aria-label="{name} {number + 1}"')

    def _corner_entry(self, number: int, axis: int, name: str) -> Entry:
        def take(text: str) -> None:
            outline = [list(corner) for corner in self._page.job.room.outline_m]
            outline[number][axis] = parse_length(text, self._page.units)
            corners = [(x, y) for x, y in outline]
            self._apply(
                lambda job: edit_room.with_outline(job, corners), f"move corner {number + 1}"
            )

        return Entry(
            f"{name} {number + 1}",
            lambda: self._page.length(self._page.job.room.outline_m[number][axis]),
            take,
            self._page.said,
        )

    # Seats

    def _build_seats(self) -> None:
        with self._seats:
            Word("Seats", "h2", "rw-title")
            rows = max(seat.row for seat in self._page.job.seats)
            across = max(
                sum(1 for s in self._page.job.seats if s.row == row + 1) for row in range(rows)
            )
            with ui.element("div").classes("rw-row").style("flex-wrap: nowrap"):
                row_entry = ui.number("Rows", value=rows, min=1, max=12, precision=0)
                seat_entry = ui.number("Seats a row", value=across, min=1, max=30, precision=0)
                for entry in (row_entry, seat_entry):
                    entry.props("outlined dense hide-bottom-space").style("width: 84px").classes(
                        "rw-narrow"
                    )

                def set_out() -> None:
                    rows, seats = int(row_entry.value or 0), int(seat_entry.value or 0)
                    answered(
                        row_entry,
                        lambda: self._page.session.apply(
                            lambda job: edit_room.with_rows(job, rows, seats),
                            f"set out {rows} rows of {seats} seats",
                        ),
                    )

                ui.button("Set out", on_click=set_out).props("outline dense")
                ui.button(
                    "Add one",
                    on_click=lambda: self._page.apply(edit_room.with_another_seat, "add a seat"),
                ).props("outline dense")

    def _build_chosen(self) -> None:
        name = self._canvas.chosen
        key = (name, self._canvas.kind, name == self._page.job.main_seat)
        if key == self._built:
            for entry in self._place:
                entry.refresh()
            return
        self._built, self._place = key, []
        self._chosen.clear()
        with self._chosen:
            if self._canvas.kind != "seat":
                if self._canvas.kind != "unit":
                    ui.label(
                        "Drag a seat or a loudspeaker, or focus it and use the arrow keys."
                    ).classes("rw-quiet rw-small")
                    return
                Word(self._page.label(name), "h2", "rw-title")
                self._place = place_fields(self._page, "unit", name)
                return
            job = self._page.job
            Word(f"Seat {name}", "h2", "rw-title")
            self._place = place_fields(self._page, "seat", name)
            with ui.element("div").classes("rw-row"):
                if name == job.main_seat:
                    ui.label("main seat").classes("rw-quiet")
                else:
                    ui.button(
                        "Make it the main seat",
                        on_click=lambda: self._page.apply(
                            lambda job: edit_room.with_main_seat(job, name),
                            f"make {name} the main seat",
                        ),
                    ).props("outline dense")
                ui.button(
                    "Remove",
                    on_click=lambda: self._page.apply(
                        lambda job: edit_room.without_seat(job, name), f"remove seat {name}"
                    ),
                ).props("outline dense")

    # Surfaces, air, figures

    def _show_surfaces(self) -> None:
        names = edit_surfaces.surface_names(self._page.job)
        self._surfaces.show(tuple(names), lambda: self._build_surfaces(names))
        room = self._page.job.room
        made_of = {"floor": room.floor, "ceiling": room.ceiling}
        made_of |= {f"wall {number}": wall for number, wall in enumerate(room.walls, start=1)}
        for where, material in self._materials.items():
            material.text = made_of[where].material

    def _build_surfaces(self, names: Iterable[tuple[str, str]]) -> None:
        self._materials: dict[str, Word] = {}
        Word("Surfaces", "h2", "rw-title")
        with ui.element("table").classes("rw-list").props('aria-label="surfaces"'):
            for where, title in names:
                with ui.element("tr"):
                    with ui.element("td").style("white-space: nowrap"):
                        button = Word(title, "button", "rw-link").props("type=button")
                        button.props(f'aria-label="change the {title}"')
                        button.on(
                            "click",
                            lambda where=where, title=title: self._dialog.open(where, title),
                        )
                    self._materials[where] = Word("", "td", "rw-quiet")

    def _build_air(self) -> None:
        fields: tuple[tuple[str, str, float, float, Callable[[Room], float]], ...] = (
            ("Air, °C", "temperature_c", -20, 50, lambda room: room.temperature_c),
            ("Humidity, %", "humidity_percent", 0, 100, lambda room: room.humidity_percent),
            ("Noise, NC", "noise_criterion", 0, 70, lambda room: room.noise_criterion),
        )
        with self._air:
            Word("Air and noise", "h2", "rw-title")
            with ui.element("div").classes("rw-fields"):
                for label, name, low, high, read in fields:
                    self._entries.append(self._air_entry(label, name, low, high, read))

    def _air_entry(
        self, label: str, name: str, low: float, high: float, read: Callable[[Room], float]
    ) -> Entry:
        def take(text: str) -> None:
            value = read_number(text, label, low, high)
            self._apply(
                lambda job: edit_room.with_air(job, **{name: value}),
                f"set {label} to {value:g}",
            )

        return Entry(label, lambda: f"{read(self._page.job.room):g}", take)

    def _show_figures(self) -> None:
        said = tuple(room_says(self._page.job))
        self._figures.show(said, lambda: _build_figures(said))


def _sides(room: Room) -> Point:
    x0, y0, x1, y1 = room.polygon.bounds
    return (x1 - x0, y1 - y0, room.height_m)


def _build_figures(said: Iterable[tuple[str, str]]) -> None:
    Word("What follows from it", "h2", "rw-title")
    with ui.element("dl").classes("rw-facts").style("margin: 0"):
        for name, value in said:
            Word(name, "dt", "rw-quiet")
            Word(value, "dd", "rw-number").style("margin: 0")


def _corner_added(
    outline: tuple[tuple[float, float], ...], number: int
) -> list[tuple[float, float]]:
    (x0, y0), (x1, y1) = outline[number], outline[(number + 1) % len(outline)]
    corners = list(outline)
    corners.insert(number + 1, ((x0 + x1) / 2, (y0 + y1) / 2))
    return corners


def _corner_removed(
    outline: tuple[tuple[float, float], ...], number: int
) -> list[tuple[float, float]]:
    return [corner for n, corner in enumerate(outline) if n != number]
