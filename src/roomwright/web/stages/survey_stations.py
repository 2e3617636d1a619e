"""Where the microphone goes: stations planned by task, the time they take, the plan on paper."""

from __future__ import annotations

from typing import Final

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning.survey.duration import survey_duration
from roomwright.commissioning.survey.plan_stations import (
    AROUND_EACH_SEAT,
    StationTask,
    plan_stations,
)
from roomwright.commissioning.survey.write_stations import StationFiles, write_stations
from roomwright.model import Finding, Job
from roomwright.web.elements import PRIMARY, SECOND, Part, Word
from roomwright.web.fields import number_in
from roomwright.web.page import JobPage

_TASKS: Final[dict[StationTask, str]] = {
    "seats": "one at each seat",
    "seats and around": "each seat and around it",
    "bass grid": "seats and a grid for bass control",
}


class StationsPanel:
    """A task, what comes of it, and the plan to print."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._findings: tuple[Finding, ...] = ()
        with ui.element("div").classes("rw-row"):
            self._task = ui.select(
                dict(_TASKS), value="seats and around", on_change=self._show_fields
            ).props('dense outlined options-dense aria-label="task of the stations"')
            self._around = (
                ui.input("around each seat", value=f"{AROUND_EACH_SEAT}")
                .props("dense outlined")
                .style("width: 130px")
            )
            self._upper = (
                ui.input("control up to, Hz", value=f"{page.job.bass.band_hz[1]:g}")
                .props("dense outlined")
                .style("width: 130px")
            )
            ui.button("Plan the stations", on_click=self._plan).props(PRIMARY)
            ui.button("Print: PDF", on_click=lambda: self._print("pdf")).props(SECOND)
            ui.button("Print: SVG", on_click=lambda: self._print("svg")).props(SECOND)
        Word(
            "Stations at which something was recorded stay. They are numbered in the order in "
            "which the microphone is carried.",
            "div",
            "rw-small rw-quiet",
        )
        self._says = Part()
        self._show_fields()
        self.update()

    def update(self) -> None:
        """Follow the job."""
        try:
            says, tone = f"{survey_duration(self._page.job).says}.", ""
        except InputError as error:
            says, tone = f"▲ {error}", "rw-doubt"

        def build() -> None:
            Word(says, "div", tone).props("role=status")
            for finding in self._findings:
                said = self._page.said(finding.text)
                Word(f"▲ {finding.severity}: {said}", "div", "rw-doubt rw-small")

        self._says.show((says, self._findings), build)

    def shown(self, *, shown: bool) -> None:
        """Nothing runs here."""

    def _show_fields(self) -> None:
        self._around.set_visibility(self._task.value == "seats and around")
        self._upper.set_visibility(self._task.value == "bass grid")

    def _plan(self) -> None:
        task = self._task.value
        found: list[Finding] = []
        around: float | None = AROUND_EACH_SEAT
        upper_hz: float | None = self._page.job.bass.band_hz[1]
        if self._around.visible:
            around = number_in(self._around, "stations around each seat", 1, 12)
        if self._upper.visible:
            upper_hz = number_in(self._upper, "the upper frequency of control", 30, 500)
        if around is None or upper_hz is None:
            return

        def planned(job: Job) -> Job:
            plan = plan_stations(job, task, around_each=round(around), upper_hz=upper_hz)
            found.extend(plan.findings)
            return plan.job

        if self._page.apply(planned, "plan the stations"):
            self._findings = tuple(found)
            self.update()

    async def _print(self, kind: str) -> None:
        page = self._page
        folder, units = page.session.folder, page.units

        def work(_: object) -> StationFiles:
            return write_stations(folder, units)

        files = await page.run("Plan of the stations", work)
        if files is not None and not page.gone:
            ui.download.file(files.pdf if kind == "pdf" else files.svg)
