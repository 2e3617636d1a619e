"""Beside the graph: listening modes, two of them side by side."""

from __future__ import annotations

import json
from functools import partial
from typing import TYPE_CHECKING, Final

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning.tuning import modes
from roomwright.web.elements import Word
from roomwright.web.stages.tuning_fields import NumberField, Panel, small_button

if TYPE_CHECKING:
    from roomwright.web.stages.tuning import TuningScreen

_CONTROLS: Final = (
    ("bass_db", "bass", "dB", 1, -12.0, 12.0, 0.5),
    ("treble_db", "treble", "dB", 1, -12.0, 12.0, 0.5),
    ("tilt_db", "tilt", "dB/oct", 2, -2.0, 2.0, 0.1),
)
_CORNERS: Final = (("bass_hz", "bass below"), ("treble_hz", "treble above"))


class ModesPanel(Panel):
    """Tone controls of two modes, each with its curve on the graph."""

    title = "Listening modes"

    def __init__(self, screen: TuningScreen) -> None:
        self._screen = screen
        self._sliders: list[tuple[ui.slider, str, str]] = []
        self._says: list[tuple[Word, str]] = []
        self._chosen: list[ui.select] = []
        super().__init__()

    def make(self) -> None:
        """Make the two columns; the choice of a mode stays while its controls are exchanged."""
        with ui.element("div").classes("rw-two"):
            for side in (0, 1):
                with ui.element("div").classes("rw-column"):
                    self._build_choice(side)
                    self.add_rows(
                        partial(self._shape_of, side), partial(self._build_controls, side)
                    )
        with ui.element("div").classes("rw-row"):
            self._name = (
                ui.input(placeholder="late evening")
                .props('dense outlined aria-label="name of a new listening mode"')
                .style("width: 150px")
            )
            self._name.on("keydown.enter", self._add)
            ui.button("Add a mode", on_click=self._add).props("outline dense")

    def show_values(self) -> None:
        """Show the tone controls, and what could not be reached."""
        job = self._screen.job
        by_name = {mode.name: mode for mode in job.modes}
        names = [modes.REFERENCE, *by_name]
        for box, name in zip(self._chosen, self._screen.choice.modes, strict=True):
            if box.options != names or box.value != name:
                box.set_options(names, value=name)
        for slider, name, field in self._sliders:
            if name in by_name:
                slider.value = getattr(by_name[name], field)
        for says, name in self._says:
            says.text = self._what(name)

    def _shape_of(self, side: int) -> object:
        """The mode that is shown, while it exists."""
        name = self._screen.choice.modes[side]
        return name if any(mode.name == name for mode in self._screen.job.modes) else None

    def _build_choice(self, side: int) -> None:
        which = "first" if side == 0 else "second"
        chosen = ui.select([modes.REFERENCE], value=modes.REFERENCE).props(
            f'dense outlined options-dense aria-label="{which} listening mode shown"'
        )
        chosen.on_value_change(lambda event: self._screen.choose_mode(side, event.value))
        self._chosen.append(chosen)

    def _build_controls(self, side: int) -> None:
        screen = self._screen
        name = screen.choice.modes[side]
        self._sliders = [one for one in self._sliders if not one[0].is_deleted]
        self._says = [one for one in self._says if not one[0].is_deleted]
        if name == modes.REFERENCE:
            Word("The target as it is drawn, without tone controls.", "div", "rw-quiet rw-small")
            return
        for field, words, unit, digits, low, high, step in _CONTROLS:
            with ui.element("div").classes("rw-tone"):
                Word(words, "span")
                self._number(name, field, f"{words} of {name}", unit, digits, 96)
                slider = ui.slider(min=low, max=high, step=step).props(
                    f"dense aria-label={json.dumps(f'{words} of {name}')}"
                )
                slider.on(
                    "update:model-value",
                    lambda event, f=field: screen.draw_mode(name, {f: float(event.args)}),
                    throttle=0.08,
                )
                slider.on("change", lambda event, f=field: self._set(name, f, float(event.args)))
                self._sliders.append((slider, name, field))
        for field, words in _CORNERS:
            with ui.element("div").classes("rw-tone"):
                Word(words, "span")
                self._number(name, field, f"{words}, of {name}", "Hz", 0, 84)
        self._says.append((Word("", "div", "rw-quiet rw-small"), name))
        small_button(
            "delete",
            f"Remove the listening mode {name}",
            lambda: screen.remove_mode(name),
        )

    def _number(
        self, name: str, field: str, words: str, unit: str, digits: int, width: int
    ) -> None:
        def read() -> float | None:
            found = (mode for mode in self._screen.job.modes if mode.name == name)
            mode = next(found, None)
            return None if mode is None else float(getattr(mode, field))

        def write(value: float) -> None:
            self._screen.must_apply(
                lambda job: modes.change_mode(job, name, **{field: value}), f"mode {name}"
            )

        self.fields.append(NumberField(words, read, write, unit=unit, digits=digits, width=width))

    def _set(self, name: str, field: str, value: float) -> None:
        self._screen.apply(
            lambda job: modes.change_mode(job, name, **{field: value}), f"mode {name}"
        )

    def _add(self) -> None:
        name = str(self._name.value or "").strip()
        try:
            self._screen.must_apply(lambda job: modes.add_mode(job, name), f"mode {name}")
        except InputError as error:
            self._name.error = str(error)
            return
        self._screen.choose_mode(1, name)

    def _what(self, name: str) -> str:
        job = self._screen.job
        if job.tuning is None:
            return ""
        realised = modes.realised(job, job.tuning, modes.mode_called(job, name))
        shelves = len(realised.shelves)
        said = f"{shelves} {'shelf' if shelves == 1 else 'shelves'} in every output"
        if realised.trim_change_db:
            said += f", all trims {realised.trim_change_db:+.1f} dB"
        found = (self._screen.page.said(finding.text) for finding in realised.findings)
        return ". ".join([said, *found])

    _name: ui.input
