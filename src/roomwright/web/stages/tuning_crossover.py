"""Beside the graph: where the main channels hand their bass to the subwoofers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from nicegui import ui

from roomwright.commissioning.edits import crossover as edit_crossover
from roomwright.commissioning.edits.crossover import crossover_shared_by
from roomwright.web.elements import Word
from roomwright.web.stages.tuning_fields import NumberField, Panel

if TYPE_CHECKING:
    from roomwright.web.stages.tuning import TuningScreen

_FULL: Final = 0
_SLOPES: Final = {2: "12 dB/oct", 4: "24 dB/oct", 8: "48 dB/oct", _FULL: "full range"}


class CrossoverPanel(Panel):
    """The crossover of the channels that edits apply to, and what the processor can do."""

    title = "Crossover to the subwoofers"

    def __init__(self, screen: TuningScreen) -> None:
        self._screen = screen
        self._slope: ui.select | None = None
        super().__init__()

    def shape(self) -> object:
        """Whose crossover it is, and whether it has a frequency."""
        job, channels = self._screen.job, self._screen.channels
        shared = crossover_shared_by(job, channels)
        own = edit_crossover.channels_with_own(job, channels)
        return channels, own, None if shared is None else shared.full_range

    def build(self) -> None:
        """Make the fields of whom edits apply to."""
        self._slope = None
        screen = self._screen
        shared = crossover_shared_by(screen.job, screen.channels)
        if shared is None:
            Word(
                "The LFE goes to the subwoofers whole; choose a main channel, or edit all.",
                "div",
                "rw-quiet rw-small",
            )
            return
        self._build_whose()
        with ui.element("div").classes("rw-row"):
            Word("bass goes over", "span")
            self._slope = (
                ui.select(_SLOPES, value=_FULL if shared.full_range else shared.order)
                .props('dense outlined options-dense aria-label="slope of the crossover"')
                .style("width: 118px")
            )
            self._slope.on_value_change(lambda event: self._choose(event.value))
            if shared.full_range:
                Word("no high-pass; keeps its bass", "span", "rw-quiet rw-small")
                return
            Word("at", "span")
            self.fields.append(
                NumberField("crossover", self._frequency, self._move, unit="Hz", digits=0)
            )

    def build_below(self) -> None:
        """Make what is of the processor."""
        self._only_one = ui.checkbox(
            "the processor has one low-pass for the bass of all channels",
            value=self._screen.job.processor.one_bass_low_pass,
        ).classes("rw-small")
        self._only_one.on_value_change(lambda event: self._set_only_one(bool(event.value)))

    def show_values(self) -> None:
        """Show what is chosen."""
        job = self._screen.job
        shared = crossover_shared_by(job, self._screen.channels)
        if self._slope is not None and shared is not None:
            self._slope.value = _FULL if shared.full_range else shared.order
        self._only_one.value = job.processor.one_bass_low_pass

    def _build_whose(self) -> None:
        screen = self._screen
        own = edit_crossover.channels_with_own(screen.job, screen.channels)
        named = ", ".join(screen.page.label(name) for name in own)
        if not screen.channels:
            says = "the job's crossover" + (f"; of their own: {named}" if named else "")
        else:
            says = f"of its own: {named}" if named else "the job's crossover, shared by all"
        with ui.element("div").classes("rw-row rw-small"):
            ui.label(says).classes("rw-quiet")
            if own:
                ui.button(
                    "Back to the job's",
                    on_click=lambda: screen.change(
                        edit_crossover.follow_job_crossover, "crossover"
                    ),
                ).props('outline dense aria-label="back to the job\'s crossover"')

    def _frequency(self) -> float | None:
        shared = crossover_shared_by(self._screen.job, self._screen.channels)
        return None if shared is None else shared.frequency_hz

    def _move(self, frequency_hz: float) -> None:
        self._screen.must_apply(
            lambda job: edit_crossover.set_crossover(
                job, self._screen.channels, frequency_hz=frequency_hz
            ),
            "crossover",
        )

    def _choose(self, slope: int) -> None:
        channels = self._screen.channels
        shared = crossover_shared_by(self._screen.job, channels)
        if shared is None or slope == (_FULL if shared.full_range else shared.order):
            return
        full = slope == _FULL
        self._screen.apply(
            lambda job: edit_crossover.set_crossover(
                job, channels, order=None if full else slope, full_range=full
            ),
            "crossover",
        )

    def _set_only_one(self, only_one: bool) -> None:  # noqa: FBT001 - a checkbox's value
        if self._screen.job.processor.one_bass_low_pass != only_one:
            self._screen.apply(
                lambda job: edit_crossover.set_one_bass_low_pass(job, only_one=only_one),
                "bass low-pass of the processor",
            )

    _only_one: ui.checkbox
