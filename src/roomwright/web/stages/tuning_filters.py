"""Beside the graph: the filters of the chosen channel, by hand or left to the solver."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from nicegui import ui

from roomwright.commissioning.edits import tuning as edit_tuning
from roomwright.commissioning.tuning.handles import (
    FilterPoint,
    filter_points,
    with_filter_at,
    without_filter,
)
from roomwright.commissioning.tuning.scope import units_of
from roomwright.model import Biquad, ByHand, Job
from roomwright.web.elements import Word
from roomwright.web.stages.tuning_fields import NumberField, Panel, small_button

if TYPE_CHECKING:
    from roomwright.web.stages.tuning import TuningScreen

_KINDS: Final = {
    "peaking": "peak",
    "low_shelf": "low shelf",
    "high_shelf": "high shelf",
    "all_pass": "all-pass",
    "low_pass": "low pass",
    "high_pass": "high pass",
}
_ADDED: Final = ("peaking", "low_shelf", "high_shelf", "all_pass")
_FIRST: Final = Biquad(kind="peaking", frequency_hz=1000.0, gain_db=-3.0, q=1.0)


class FiltersPanel(Panel):
    """A row for each filter; a change of one of the solver's takes it over by hand."""

    title = "Filters"

    def __init__(self, screen: TuningScreen) -> None:
        self._screen = screen
        super().__init__()

    @property
    def _points(self) -> list[FilterPoint]:
        job, tuning = self._screen.job, self._screen.job.tuning
        return [] if tuning is None else filter_points(job, tuning, self._screen.choice.channel)

    def _hand_units(self) -> tuple[str, ...]:
        return units_of(self._screen.job, (self._screen.choice.channel,))

    def shape(self) -> object:
        """One row for each filter."""
        screen = self._screen
        return (
            screen.choice.channel,
            screen.channels,
            tuple((p.id, p.biquad.kind) for p in self._points),
            tuple(screen.job.hand(unit) != ByHand(drives=unit) for unit in self._hand_units()),
        )

    def build(self) -> None:
        """Make the rows."""
        screen = self._screen
        points = self._points
        fir = screen.job.limits.method == "fir" and screen.job.tuning is not None
        if fir:
            Word("The solver corrects with a FIR; filters by hand come on top.", "div", "rw-quiet")
        if not points:
            Word("No filters.", "div", "rw-quiet")
        else:
            self._build_rows(points)

    def build_below(self) -> None:
        """Make the buttons."""
        with ui.element("div").classes("rw-row"):
            for kind in _ADDED:
                ui.button(f"+ {_KINDS[kind]}", on_click=partial(self._add, kind)).props(
                    f'outline dense aria-label="add a filter: {_KINDS[kind]}"'
                )
        with ui.element("div").classes("rw-row"):
            ui.button("Hold all as they are", on_click=self._hold).props("outline dense")
            ui.button("Leave all to the solver", on_click=self._leave).props("outline dense")
        self._adds = ui.switch("The solver adds its own", on_change=self._solver_adds).props(
            "dense size=sm"
        )

    def show_values(self) -> None:
        """Show whether the solver adds filters."""
        units = self._hand_units()
        adds = not any(self._screen.job.hand(unit).no_more_biquads for unit in units)
        if self._adds.value != adds:
            self._quiet = True
            self._adds.value = adds
        self._quiet = False

    def _build_rows(self, points: list[FilterPoint]) -> None:
        with ui.element("div").classes("rw-rows rw-rows-5"):
            for title in ("", "at", "gain", "Q", ""):
                Word(title, "span", "rw-quiet")
            for number, point in enumerate(points):
                words = f"{_KINDS[point.biquad.kind]}{', by hand' if point.by_hand else ''}"
                Word(words, "b" if point.by_hand else "span", "rw-small")
                self._field(number, "frequency_hz", "Hz", 2, 84)
                self._field(number, "gain_db", "dB", 1, 74)
                self._field(number, "q", "", 2, 52)
                if point.by_hand:
                    small_button("close", f"Remove {point.label}", partial(self._remove, point.id))
                else:
                    small_button(
                        "push_pin",
                        f"Hold {point.label}, as if set by hand",
                        partial(self._take_over, point),
                    )

    def _field(self, number: int, name: str, unit: str, digits: int, width: int) -> None:
        def read() -> float | None:
            points = self._points
            return float(getattr(points[number].biquad, name)) if number < len(points) else None

        def write(value: float) -> None:
            point = self._points[number]
            biquad = Biquad.model_validate({**point.biquad.model_dump(), name: value})
            self._screen.must_change(self._moving(point.id, biquad), "filter")

        words = {"frequency_hz": "frequency", "gain_db": "gain", "q": "Q"}[name]
        self.fields.append(
            NumberField(
                f"filter {number + 1}, {words}", read, write, unit=unit, digits=digits, width=width
            )
        )

    def _moving(self, point: str, biquad: Biquad) -> Callable[..., Job]:
        channel = self._screen.choice.channel
        return lambda job, channels: with_filter_at(job, channels, channel, point, biquad)

    def _take_over(self, point: FilterPoint) -> None:
        self._screen.change(self._moving(point.id, point.biquad), "filter by hand")

    def _remove(self, point: str) -> None:
        channel = self._screen.choice.channel
        self._screen.change(
            lambda job, channels: without_filter(job, channels, channel, point), "filter"
        )

    def _add(self, kind: str) -> None:
        biquad = Biquad.model_validate({**_FIRST.model_dump(), "kind": kind})
        self._screen.change_units(edit_tuning.add_filter, "filter by hand", biquad)

    def _hold(self) -> None:
        self._screen.change_units(edit_tuning.hold_filters, "filters held")

    def _leave(self) -> None:
        self._screen.change_units(edit_tuning.leave_filters_to_solver, "filters left to the solver")

    def _solver_adds(self) -> None:
        if self._quiet:
            return
        adds = bool(self._adds.value)
        self._screen.change_units(
            lambda job, units: edit_tuning.solver_adds_filters(job, units, adds=adds),
            "what the solver adds",
        )

    _adds: ui.switch
    _quiet = False
