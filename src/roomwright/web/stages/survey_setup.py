"""A dialog for the sweep that is played, and for how far the simulated room is from ideal."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import partial
from typing import Final, get_args

from nicegui import ui

from roomwright.commissioning.edits import survey as edit_survey
from roomwright.commissioning.plan_view import unit_label
from roomwright.model import Fault, Job
from roomwright.web.elements import SECOND, Part, focus_first
from roomwright.web.fields import Entry, read_number
from roomwright.web.page import JobPage

_SWEEP: Final = (
    ("duration_s", "sweep, s", 0.2, 60.0),
    ("start_hz", "from, Hz", 1.0, 1000.0),
    ("stop_hz", "to, Hz", 1000.0, 96000.0),
    ("level_dbfs", "level, dBFS", -80.0, 0.0),
    ("tail_s", "tail, s", 0.2, 20.0),
)
_ROOM: Final = (
    ("seed", "seed", 0.0, 2.0**31),
    ("clock_error_ppm", "clock error, ppm", -500.0, 500.0),
    ("latency_s", "latency, s", 0.0, 1.0),
    ("unit_spread_db", "units differ by, dB", 0.0, 6.0),
    ("distortion_percent", "distortion, %", 0.0, 30.0),
)

#: What the amount of a fault is, where it has one.
_AMOUNTS: Final = {
    "quiet": "by, dB",
    "late": "by, ms",
    "distorting": "by, %",
    "displaced": "by, m",
    "moved": "by, m",
    "hot_input": "by, dB",
}


class SetupDialog:
    """The dialog; `open` shows it."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        with (
            ui.dialog().props('aria-label="sweep and simulated room"') as self._dialog,
            ui.card().classes("rw-column").style("min-width: 560px"),
        ):
            self._slot = ui.element("div").classes("rw-column w-full")

    def open(self) -> None:
        """Show it with what holds now."""
        self._build()
        self._dialog.open()

    def _build(self) -> None:
        self._slot.clear()
        with self._slot:
            ui.label("Sweep that is played").classes("rw-title")
            with ui.element("div").classes("rw-row"):
                for name, label, low, high in _SWEEP:
                    self._entry("sweep", edit_survey.with_sweep, name, label, (low, high))
            ui.label("Takes already made keep the sweep they were made with.").classes(
                "rw-small rw-quiet"
            )
            ui.label("Simulated room").classes("rw-title")
            with ui.element("div").classes("rw-row"):
                for name, label, low, high in _ROOM:
                    self._entry("rehearsal", edit_survey.with_rehearsal, name, label, (low, high))
            ui.label("Planted faults").classes("rw-title")
            self._build_faults()
            with ui.element("div").classes("rw-row"):
                ui.element("div").classes("rw-space")
                ui.button("Close", on_click=self._dialog.close).props(SECOND)

    def _entry(
        self,
        part: str,
        change: Callable[..., Job],
        name: str,
        label: str,
        allowed: tuple[float, float],
    ) -> None:
        """A field for one number of a part of the job."""

        def show() -> str:
            return f"{getattr(getattr(self._page.job, part), name):g}"

        def take(text: str) -> None:
            number = read_number(text, label, *allowed)
            self._page.session.apply(lambda job: change(job, **{name: number}), label)

        Entry(label, show, take).style("width: 128px")

    def _build_faults(self) -> None:
        job = self._page.job
        self._faults = Part()
        self._show_faults()
        kinds = {kind: kind for kind in get_args(Fault.model_fields["kind"].annotation)}
        units = {o.drives: unit_label(job, o.drives, self._page.label) for o in job.outputs}
        if not units:
            return
        first = next(iter(units))
        with ui.element("div").classes("rw-row"):
            kind = ui.select(kinds, value="reversed").props(
                'dense outlined options-dense aria-label="kind of fault"'
            )
            unit = ui.select(units, value=first).props(
                'dense outlined options-dense aria-label="what is faulty"'
            )
            other = ui.select(units, value=first, label="with").props(
                'dense outlined options-dense aria-label="swapped with"'
            )
            amount = ui.input("by", value="-10").props("dense outlined").style("width: 90px")
            self._planter = ui.button(
                "Plant", on_click=lambda: self._plant(kind.value, unit.value, other.value, amount)
            ).props(SECOND)
            other.bind_visibility_from(kind, "value", value="swapped")
            amount.bind_visibility_from(kind, "value", lambda value: value in _AMOUNTS)
            kind.on_value_change(lambda event: amount.props(f'label="{_AMOUNTS.get(event.value)}"'))

    def _show_faults(self) -> None:
        """Show the list; what stands around it keeps the focus and what was typed."""
        job = self._page.job
        said = [edit_survey.fault_words(job, fault) for fault in job.rehearsal.faults]
        self._faults.show(said, lambda: self._build_list(said))

    def _build_list(self, said: Sequence[str]) -> None:
        for number, sentence in enumerate(said):
            with ui.element("div").classes("rw-row"):
                ui.label(self._page.said(sentence))
                ui.button("Mend", on_click=partial(self._mend, number)).props(
                    f"{SECOND} aria-label={json.dumps(f'mend: {sentence}')}"
                )
        if not said:
            ui.label("None. Plant one to see how a survey finds it.").classes("rw-quiet")

    def _plant(self, kind: str, unit: str, other: str, amount: ui.input) -> None:
        def plant() -> None:
            by = 0.0
            if kind in _AMOUNTS:
                by = read_number(amount.value, _AMOUNTS[kind], -60.0, 500.0)
            self._page.session.apply(
                lambda job: edit_survey.with_fault(
                    job,
                    kind,
                    unit,
                    other=other if kind == "swapped" else None,
                    amount=by / 1e3 if kind == "late" else by,
                ),
                f"plant a fault: {kind}",
            )

        if self._page.attempt(plant):
            self._show_faults()

    def _mend(self, number: int) -> None:
        if self._page.apply(lambda job: edit_survey.without_fault(job, number), "mend a fault"):
            self._show_faults()
            focus_first(self._faults.element, "button", or_else=self._planter)
