"""The dialog for a loudspeaker's type: its data sheet."""

from __future__ import annotations

from typing import Final, Literal, cast, get_args

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning.edits.layout import with_model
from roomwright.model import DirectivityClass, LoudspeakerModel
from roomwright.web.elements import Word
from roomwright.web.fields import read_number
from roomwright.web.page import JobPage

#: Field of the data sheet, its label, and what is allowed.
_NUMBERS: Final = (
    ("sensitivity_db", "Level at 1 m for −20 dBFS, dB", 40.0, 130.0),
    ("maximum_level_db", "Highest level at 1 m, dB", 60.0, 150.0),
    ("low_hz", "−3 dB at the low end, Hz", 1.0, 2000.0),
    ("high_hz", "−3 dB at the high end, Hz", 30.0, 60000.0),
)
_SLOPES: Final = (("low_slope_db", "Slope below, dB/octave"), ("high_slope_db", "above"))


class TypeDialog:
    """Another type for one unit, or for all of its type."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        with (
            ui.dialog().props('aria-label="type of loudspeaker"') as self._dialog,
            ui.card().style("width: 520px"),
        ):
            self._body = ui.element("div").classes("rw-column w-full")

    def open(self, unit_id: str) -> None:
        """Open it for one loudspeaker or subwoofer."""
        job = self._page.job
        self._build(unit_id, job.model_of(job.unit(unit_id)))
        self._dialog.open()

    def _build(self, unit_id: str, sheet: LoudspeakerModel) -> None:
        job = self._page.job
        same = [unit.id for unit in job.units if unit.model == sheet.name]
        self._body.clear()
        with self._body:
            Word(f"Type of {self._page.label(unit_id)}", "h2", "rw-title")
            ui.select(
                [model.name for model in job.loudspeaker_models],
                value=sheet.name,
                label="Types in this job",
                on_change=lambda event: fill(_named(self._page, event.value)),
            ).props("outlined dense options-dense").classes("w-full")
            name = ui.input("Name", value=sheet.name).props("outlined dense").classes("w-full")
            with ui.element("div").style("display: grid; grid-template-columns: 1fr 1fr; gap: 8px"):
                numbers = {
                    field: ui.input(label, value=f"{getattr(sheet, field):g}").props(
                        "outlined dense"
                    )
                    for field, label, _, _ in _NUMBERS
                }
                slopes = {
                    field: ui.select([12, 24], value=getattr(sheet, field), label=label).props(
                        "outlined dense options-dense"
                    )
                    for field, label in _SLOPES
                }
            beam = ui.select(
                list(get_args(DirectivityClass)), value=sheet.directivity, label="Directivity"
            ).props("outlined dense options-dense")
            error = ui.label("").classes("rw-bad").props("role=alert")

            def fill(sheet: LoudspeakerModel) -> None:
                """Show another sheet in the fields, so that the list keeps the focus."""
                name.value, beam.value = sheet.name, sheet.directivity
                for field, number in numbers.items():
                    number.value = f"{getattr(sheet, field):g}"
                for field, slope in slopes.items():
                    slope.value = getattr(sheet, field)

            def use(*, whole: bool) -> None:
                try:
                    if not (name.value or "").strip():
                        raise InputError("the type needs a name")  # noqa: TRY301 - shown below
                    values = {
                        field: read_number(numbers[field].value, label, low, high)
                        for field, label, low, high in _NUMBERS
                    }
                    model = LoudspeakerModel(
                        name=name.value.strip(),
                        sensitivity_db=values["sensitivity_db"],
                        maximum_level_db=values["maximum_level_db"],
                        low_hz=values["low_hz"],
                        high_hz=values["high_hz"],
                        low_slope_db=cast("Literal[12, 24]", slopes["low_slope_db"].value),
                        high_slope_db=cast("Literal[12, 24]", slopes["high_slope_db"].value),
                        directivity=cast("DirectivityClass", beam.value),
                    )
                    self._page.session.apply(
                        lambda job: with_model(job, unit_id, model, whole_role=whole),
                        f"make {unit_id} a {model.name}",
                    )
                except InputError as refused:
                    error.text = str(refused)
                else:
                    self._dialog.close()

            with ui.element("div").classes("rw-row"):
                ui.button("Use it here", on_click=lambda: use(whole=False)).props(
                    "unelevated dense"
                )
                if len(same) > 1:
                    ui.button(
                        f"Use it for all {len(same)} of its type", on_click=lambda: use(whole=True)
                    ).props("outline dense")
                ui.button("Cancel", on_click=self._dialog.close).props("flat dense")


def _named(page: JobPage, name: str) -> LoudspeakerModel:
    return next(model for model in page.job.loudspeaker_models if model.name == name)
