"""Beside the graph: trims, delays and polarity of every output; limits of the solver."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from nicegui import ui

from roomwright.commissioning.edits import tuning as edit_tuning
from roomwright.commissioning.tuning.scope import units_of
from roomwright.model import OutputTuning, TuningLimits
from roomwright.web.elements import Word
from roomwright.web.stages.tuning_fields import NumberField, Panel, small_button

if TYPE_CHECKING:
    from roomwright.web.stages.tuning import TuningScreen

_LIMITS: Final = (
    ("maximum_boost_db", "largest boost", "dB", 1),
    ("maximum_cut_db", "largest cut", "dB", 1),
    ("maximum_q", "largest Q below the transition", "", 1),
    ("maximum_q_above_transition", "largest Q above it", "", 1),
    ("highest_hz", "corrected up to", "Hz", 0),
    ("biquads_per_output", "filters in each output", "", 0),
)
_METHODS: Final = {"biquads": "filters (biquads)", "fir": "FIR, minimum phase"}


class OutputsPanel(Panel):
    """Levels and delays as they leave the processor; what is typed is kept by the solver."""

    title = "Levels and delays"

    def __init__(self, screen: TuningScreen) -> None:
        self._screen = screen
        self._marks: dict[str, tuple[ui.button, ui.button]] = {}
        super().__init__()

    def _settings(self) -> dict[str, OutputTuning]:
        tuning = self._screen.job.tuning
        return {} if tuning is None else {output.drives: output for output in tuning.outputs}

    def shape(self) -> object:
        """One row for each output."""
        screen = self._screen
        return tuple(self._settings()), units_of(screen.job, screen.channels), screen.page.naming

    def build(self) -> None:
        """Make the rows."""
        self._marks.clear()
        settings = self._settings()
        if not settings:
            Word("Computed as soon as there is a survey.", "div", "rw-quiet")
            return
        edited = set(units_of(self._screen.job, self._screen.channels))
        with ui.element("div").classes("rw-rows rw-rows-5"):
            for title in ("", "trim", "delay", "polarity", ""):
                Word(title, "span", "rw-quiet")
            for unit in settings:
                self._build_row(unit, edited=unit in edited)
        self._build_together()

    def show_values(self) -> None:
        """Show polarity and what is by hand."""
        settings = self._settings()
        for unit, (polarity, reset) in self._marks.items():
            if unit in settings:
                polarity.text = "reversed" if settings[unit].inverted else "normal"
                hand = self._screen.job.hand(unit)
                changed = hand.trim_change_db or hand.delay_change_s or hand.flipped
                reset.set_visibility(bool(changed))

    def _build_row(self, unit: str, *, edited: bool) -> None:
        label = self._screen.page.label(unit)
        Word(label, "b" if edited else "span", "rw-small")
        self.fields.append(
            NumberField(
                f"trim of {label}",
                lambda: self._read(unit, "trim_db"),
                lambda db: self._screen.must_apply(
                    lambda job: edit_tuning.set_trim(job, unit, db), f"trim of {label}"
                ),
                unit="dB",
                width=78,
            )
        )
        self.fields.append(
            NumberField(
                f"delay of {label}",
                lambda: self._read(unit, "delay_s", 1e3),
                lambda ms: self._screen.must_apply(
                    lambda job: edit_tuning.set_delay(job, unit, ms / 1e3), f"delay of {label}"
                ),
                unit="ms",
                digits=2,
                width=82,
            )
        )
        polarity = ui.button(
            "normal",
            on_click=lambda: self._screen.apply(
                lambda job: edit_tuning.flip(job, (unit,)), f"polarity of {label}"
            ),
        ).props(f'flat dense aria-label="reverse the polarity of {label}"')
        with ui.element("span"):
            reset = small_button("undo", f"Leave {label} to the solver", lambda: self._reset(unit))
        self._marks[unit] = polarity, reset

    def _build_together(self) -> None:
        screen = self._screen
        units = units_of(screen.job, screen.channels)
        if len(units) < 2:
            return
        Word(f"All {len(units)} that edits apply to", "h2", "rw-part")
        with ui.element("div").classes("rw-row"):
            Word("louder than computed by", "span")
            self.fields.append(
                NumberField(
                    "change of all trims",
                    lambda: screen.job.hand(units[0]).trim_change_db,
                    lambda db: screen.must_apply(
                        lambda job: edit_tuning.change_trim(job, units, db), "trims"
                    ),
                    unit="dB",
                    width=78,
                )
            )
            Word("later by", "span")
            self.fields.append(
                NumberField(
                    "change of all delays",
                    lambda: 1e3 * screen.job.hand(units[0]).delay_change_s,
                    lambda ms: screen.must_apply(
                        lambda job: edit_tuning.change_delay(job, units, ms / 1e3), "delays"
                    ),
                    unit="ms",
                    digits=2,
                    width=82,
                )
            )

    def _read(self, unit: str, name: str, factor: float = 1.0) -> float | None:
        output = self._settings().get(unit)
        return None if output is None else factor * float(getattr(output, name))

    def _reset(self, unit: str) -> None:
        self._screen.apply(
            lambda job: edit_tuning.flip_back(
                edit_tuning.change_trim(edit_tuning.change_delay(job, (unit,), 0.0), (unit,), 0.0),
                (unit,),
            ),
            f"{unit} left to the solver",
        )


class LimitsPanel(Panel):
    """What the solver may do."""

    title = "Limits"

    def __init__(self, screen: TuningScreen) -> None:
        self._screen = screen
        super().__init__()

    def shape(self) -> object:
        """Always the same."""
        return ()

    def build(self) -> None:
        """Make the fields."""
        screen = self._screen
        with ui.element("div").classes("rw-rows rw-rows-2"):
            for field, words, unit, digits in _LIMITS:
                Word(words, "span")
                self._number(field, words, unit, digits)
            Word("made of", "span")
            self._method = (
                ui.select(_METHODS, value=screen.job.limits.method)
                .props('dense outlined options-dense aria-label="what the solver uses"')
                .style("width: 168px")
            )
            self._method.on_value_change(lambda event: self._set_if_new("method", event.value))
        Word(
            f"{screen.job.processor.name}: {screen.job.processor.biquads_per_output} biquads, "
            f"{screen.job.processor.fir_taps_per_output} FIR taps in each output",
            "div",
            "rw-quiet rw-small",
        )

    def show_values(self) -> None:
        """Show what is chosen."""
        self._method.value = self._screen.job.limits.method

    def _number(self, field: str, words: str, unit: str, digits: int) -> None:
        whole = field == "biquads_per_output"

        def write(value: float) -> None:
            self._set(field, round(value) if whole else value)

        def read() -> float:
            return float(getattr(self._screen.job.limits, field))

        self.fields.append(NumberField(words, read, write, unit=unit, digits=digits, width=92))

    def _set(self, field: str, value: object) -> None:
        self._screen.must_apply(
            lambda job: edit_tuning.set_limits(job, **{field: value}), field_words(field)
        )

    def _set_if_new(self, field: str, value: object) -> None:
        if getattr(self._screen.job.limits, field) != value:
            self._screen.apply(
                lambda job: edit_tuning.set_limits(job, **{field: value}), field_words(field)
            )

    _method: ui.select


def field_words(field: str) -> str:
    """A field of the limits in words, for "undo ..."."""
    if field not in TuningLimits.model_fields:
        return field
    return field.removesuffix("_hz").removesuffix("_db").replace("_", " ")
