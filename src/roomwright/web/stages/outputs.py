"""The screen of the outputs stage: the table from channel to output."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning.edits import outputs as edit_outputs
from roomwright.commissioning.edits.outputs import OutputRow
from roomwright.commissioning.plan_view import unit_label
from roomwright.model import Job
from roomwright.web.elements import SECOND, Part, style
from roomwright.web.fields import answered
from roomwright.web.page import JobPage
from roomwright.web.way import next_button

_CONNECTIONS: Final = {"analogue": "analogue", "network": "network"}

_STYLE: Final = """
.rw-outputs .q-field--dense .q-field__control, .rw-outputs .q-field--dense .q-field__marginal {
  min-height: 30px; height: 30px; }
.rw-outputs .q-field--dense .q-field__native { min-height: 30px; padding: 0; }
.rw-outputs .q-btn--dense { padding: 1px 9px; }
.rw-patch { display: grid; align-items: center; gap: 0; max-width: 1180px;
  grid-template-columns: 28px 92px minmax(120px, 1fr) minmax(110px, 1fr) 120px
    minmax(140px, 1.2fr) minmax(150px, 1.6fr); }
.rw-patch > div { display: contents; }
.rw-patch > div > * { min-height: 34px; display: flex; align-items: center;
  border-bottom: 1px solid var(--rw-line); min-width: 0; height: 100%; padding-right: 14px; }
.rw-patch > .rw-patch-head > * { color: var(--rw-quiet); font-size: 12px; min-height: 26px;
  position: sticky; top: 0; background: var(--rw-ground); z-index: 1; }
.rw-patch .q-field { width: 100%; }
.rw-patch .q-field--dense .q-field__control { min-height: 30px; height: 30px; }
.rw-patch .q-field--dense .q-field__marginal, .rw-patch .q-field__native { min-height: 30px;
  height: 30px; padding: 0; }
.rw-patch .q-field__bottom { display: none; }
.rw-patch b { font-weight: 600; }
@media (max-width: 1000px) {
  .rw-patch { grid-template-columns: 26px 74px minmax(64px, 1fr) minmax(74px, 1fr) 112px
    minmax(96px, 1fr) minmax(84px, 1.2fr); }
  .rw-patch > div > * { padding-right: 8px; }
}
"""


def show(page: JobPage) -> None:
    """Build the screen in the current slot."""
    _Patch(page)


@dataclass(slots=True)
class _Line:
    """The elements of one row."""

    row: OutputRow
    whole: ui.element
    chosen: ui.checkbox
    number: ui.input
    label: ui.label
    played: ui.label
    connection: ui.select
    name: ui.input
    says: Part
    shown: bool = False


class _Patch:
    """The table, its search and what is done to many rows at once."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._lines: dict[str, _Line] = {}
        style(_STYLE)
        with ui.element("div").classes("rw-outputs rw-column"):
            self._build()
        self._update()
        page.on_change(self._update)

    def _build(self) -> None:
        with ui.element("div").classes("rw-row"):
            self._search = (
                ui.input(placeholder="Search", on_change=self._show_found)
                .props('dense outlined clearable debounce=100 aria-label="search the table"')
                .style("width: 220px")
            )
            self._count = _field("outputs of the processor", self._resize).style("width: 64px")
            ui.label("outputs in the processor").classes("rw-quiet")
            self._use = ui.label().classes("rw-quiet")
            next_button(self._page.go, "survey")
        with ui.element("div").classes("rw-row rw-panel") as self._bulk:
            self._build_bulk()
        self._table = ui.element("div").classes("rw-patch").props('role=table aria-label="outputs"')
        self._build_rows()

    def _build_bulk(self) -> None:
        self._chosen = ui.label()
        ui.label("number them from")
        self._first = _field("first output", lambda: None).style("width: 56px")
        self._first.value = "1"
        ui.button("Fill", on_click=self._fill).props(SECOND)
        ui.element("span").style("width: 12px")
        for connection in _CONNECTIONS:
            ui.button(f"Make {connection}", on_click=lambda c=connection: self._connect(c)).props(
                "outline dense"
            )
        ui.button("Name by label", on_click=self._name_by_label).props(SECOND)
        ui.button("Take outputs away", on_click=self._clear).props(SECOND)

    def _build_rows(self) -> None:
        self._table.clear()
        self._lines.clear()
        with self._table:
            with ui.element("div").classes("rw-patch-head").props("role=row"):
                with ui.element("span").props("role=columnheader"):
                    self._all = ui.checkbox(on_change=self._choose_all).props(
                        'dense size=xs aria-label="choose all that are shown"'
                    )
                for title in ("output", "drives", "plays", "leaves as", "named", "to settle"):
                    ui.label(title).props("role=columnheader")
            for row in edit_outputs.output_rows(self._page.job):
                self._lines[row.drives] = self._build_line(row)

    def _build_line(self, row: OutputRow) -> _Line:
        unit = row.drives
        with ui.element("div").props("role=row") as whole:
            with ui.element("span").props("role=cell"):
                chosen = ui.checkbox(on_change=self._show_chosen).props(
                    f'dense size=xs aria-label="choose {unit}"'
                )
            with ui.element("span").props("role=cell"):
                number = _field(f"output of {unit}", lambda: self._assign(unit))
            label = ui.label().props("role=cell").style("font-weight: 600")
            played = ui.label().props("role=cell").classes("rw-quiet")
            with ui.element("span").props("role=cell"):
                connection = ui.select(
                    _CONNECTIONS, on_change=lambda: self._connect_one(unit)
                ).props(f'dense borderless options-dense aria-label="how {unit} leaves"')
            with ui.element("span").props("role=cell"):
                name = _field(f"name of the output of {unit}", lambda: self._rename(unit))
            says = Part("rw-row rw-small")
            says.element.props("role=cell")
        return _Line(row, whole, chosen, number, label, played, connection, name, says)

    # Following the job

    def _update(self) -> None:
        job = self._page.job
        rows = {row.drives: row for row in edit_outputs.output_rows(job)}
        if list(rows) != list(self._lines):
            self._build_rows()
        self._count.value = str(job.processor.outputs)
        self._use.text = f"{len(edit_outputs.free_outputs(job))} of them free"
        for unit, row in rows.items():
            self._show_row(unit, row)
        self._show_found()
        self._show_chosen()

    def _show_row(self, unit: str, row: OutputRow) -> None:
        """Show a row; what is being typed stays where the row is as it was."""
        line = self._lines[unit]
        line.label.text = unit_label(self._page.job, unit, self._page.label)
        line.played.text = self._plays(row)
        if line.shown and row == line.row:
            return
        line.row, line.shown = row, True
        line.number.value = "" if row.number is None else str(row.number)
        line.connection.value = row.connection
        line.connection.set_enabled(row.number is not None)
        line.name.value = row.name
        line.name.set_enabled(row.number is not None)
        self._say(line, row.conflicts)

    def _plays(self, row: OutputRow) -> str:
        """What is heard through it, in other words than its own name."""
        names = [self._page.label(channel) for channel in row.channels]
        other = row.english if self._page.naming != "english" else row.drives
        return (
            other
            if names == [unit_label(self._page.job, row.drives, self._page.label)]
            else (", ".join(names) or other)
        )

    def _say(self, line: _Line, sentences: tuple[str, ...], swap_with: int | None = None) -> None:
        def build() -> None:
            if sentences:
                ui.label(f"▲ {self._page.said('; '.join(sentences))}").classes("rw-doubt")
            if swap_with is not None:
                ui.button(
                    "Swap the two", on_click=lambda: self._swap(line.row.drives, swap_with)
                ).props(SECOND)

        line.says.show((sentences, swap_with), build)

    def _show_found(self) -> None:
        shown = (line.row for line in self._lines.values())
        found = edit_outputs.found_rows(shown, self._search.value or "")
        names = {row.drives for row in found}
        for unit, line in self._lines.items():
            line.whole.set_visibility(unit in names)
            if unit not in names:
                line.chosen.value = False

    def _choose_all(self) -> None:
        for line in self._lines.values():
            line.chosen.value = bool(self._all.value) and line.whole.visible

    def _show_chosen(self) -> None:
        units = self._units()
        self._chosen.text = f"{len(units)} chosen:" if units else "Choose rows to change many:"
        for element in self._bulk.default_slot.children:
            if isinstance(element, ui.button):
                element.set_enabled(bool(units))

    def _units(self) -> list[str]:
        return [unit for unit, line in self._lines.items() if line.chosen.value]

    # Changing one row

    def _assign(self, unit: str) -> None:
        line = self._lines[unit]
        text = line.number.value.strip()
        if text == ("" if line.row.number is None else str(line.row.number)):
            self._say(line, line.row.conflicts)
            return
        number: int | None = None
        try:
            number = _number(text)
            self._page.session.apply(
                lambda job: edit_outputs.assign_output(job, unit, number), f"output of {unit}"
            )
        except InputError as error:
            taken = number is not None and any(
                other.row.number == number for other in self._lines.values()
            )
            self._say(line, (str(error),), number if taken else None)

    def _swap(self, unit: str, number: int) -> None:
        self._page.apply(
            lambda job: edit_outputs.assign_output(job, unit, number, swap=True),
            f"swap the outputs of {unit} and another",
        )

    def _connect_one(self, unit: str) -> None:
        line = self._lines[unit]
        if line.row.number is not None and line.connection.value != line.row.connection:
            self._change([unit], line.connection.value)

    def _rename(self, unit: str) -> None:
        line = self._lines[unit]
        name = line.name.value or ""
        if name == line.row.name:
            return
        try:
            self._page.session.apply(
                lambda job: edit_outputs.name_outputs(job, {unit: name}), f"name of {unit}"
            )
        except InputError as error:
            self._say(line, (str(error),))

    def _resize(self) -> None:
        text = self._count.value.strip()
        if text == str(self._page.job.processor.outputs):
            self._count.error = None
            return
        answered(
            self._count,
            lambda: self._page.session.apply(
                lambda job: edit_outputs.resize_processor(job, _number(text) or 0),
                "outputs of the processor",
            ),
            self._page.said,
        )

    # Changing many

    def _fill(self) -> None:
        units = self._units()

        def change(job: Job) -> Job:
            return edit_outputs.fill_outputs(job, units, _number(self._first.value) or 0)

        answered(
            self._first,
            lambda: self._page.session.apply(change, f"number {len(units)} outputs"),
            self._page.said,
        )

    def _connect(self, connection: str) -> None:
        self._change(self._units(), connection)

    def _change(self, units: list[str], connection: str) -> None:
        self._page.apply(
            lambda job: edit_outputs.connect_outputs(
                job, units, "network" if connection == "network" else "analogue"
            ),
            f"make {len(units)} outputs {connection}",
        )

    def _name_by_label(self) -> None:
        job = self._page.job
        names = {unit: unit_label(job, unit, self._page.label) for unit in self._units()}
        self._page.apply(
            lambda job: edit_outputs.name_outputs(job, names), f"name {len(names)} outputs"
        )

    def _clear(self) -> None:
        units = self._units()
        self._page.apply(
            lambda job: edit_outputs.clear_outputs(job, units), f"take {len(units)} outputs away"
        )


def _field(name: str, commit: Callable[[], None]) -> ui.input:
    """A field that is taken over when it is left or Enter is pressed."""
    field = (
        ui.input()
        .props(f'dense outlined hide-bottom-space aria-label="{name}"')
        .classes("rw-narrow")
    )
    field.on("blur", commit)
    field.on("keydown.enter", commit)
    return field


def _number(text: str) -> int | None:
    """A whole number, None for an empty field; InputError for anything else."""
    if not text.strip():
        return None
    if not text.strip().isdigit():
        raise InputError(f"{text.strip()!r} is not a whole number")
    return int(text)
