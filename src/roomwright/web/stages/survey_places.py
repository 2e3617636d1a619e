"""Where the loudspeakers really are, and which way a microphone of four capsules looks."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from typing import Final

from nicegui import background_tasks, ui
from nicegui.events import ValueChangeEventArguments

from roomwright._errors import InputError
from roomwright.commissioning.levels.reference import reference_output
from roomwright.commissioning.plan_view import unit_label
from roomwright.commissioning.survey.facing import Facing, facing_of_recording, rehearse_facing
from roomwright.commissioning.survey.whereabouts import Whereabouts, take_over, whereabouts
from roomwright.web.components.drop_zone import DropZone
from roomwright.web.elements import PRIMARY, SECOND, Part, Word, style
from roomwright.web.fields import number_in
from roomwright.web.page import JobPage
from roomwright.web.stages.survey_facing import build_facing
from roomwright.web.uploads import Uploads

_STYLE: Final = """
.rw-places { display: grid; grid-template-columns: minmax(0, 3fr) minmax(260px, 2fr); gap: 18px;
  align-items: start; }
.rw-places > div { min-width: 0; }
@media (max-width: 900px) { .rw-places { grid-template-columns: minmax(0, 1fr); } }
"""


class PlacesPanel:
    """Places on one side, the dial on the other."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._chosen: set[str] = set()
        self._uploads: Uploads | None = None
        self._facing: Facing | None = None
        style(_STYLE)
        with ui.element("div").classes("rw-places"):
            with ui.element("div").classes("rw-column"):
                Word("Where loudspeakers are", "h2", "rw-title")
                self._places = Part("rw-column w-full")
                with self._places.element:
                    Word("Reading the responses …", "div", "rw-quiet")
            with ui.element("div").classes("rw-column"):
                self._build_facing()
        self.update()

    def update(self) -> None:
        """Follow the job."""
        self._show_capsules()
        background_tasks.create(self._load(), name="places")

    def shown(self, *, shown: bool) -> None:
        """Nothing runs here."""

    # Places

    async def _load(self) -> None:
        page = self._page

        def compute() -> tuple[Whereabouts, ...] | None:
            survey = page.session.survey()
            return None if survey is None else whereabouts(page.job, survey, page.units)

        says = "Measure first: places come from the arrival times of the survey."
        try:
            found = await asyncio.to_thread(compute)
        except InputError as error:
            found, says = None, str(error)
        if page.gone or self._places.left:
            return
        key = (found, says, page.naming, page.units)
        self._places.show(key, lambda: self._build_places(found, says))

    def _build_places(self, found: Sequence[Whereabouts] | None, says: str) -> None:
        self._chosen.clear()
        if found is None:
            Word(self._page.said(says), "div", "rw-quiet")
            return
        with ui.element("table").classes("rw-list-table"), ui.element("tbody"):
            with ui.element("tr"):
                for title in ("", "loudspeaker", "planned: x, y, z", "found: x, y, z", ""):
                    Word(title, "th") if title else ui.element("td")
            for one in found:
                self._build_place(one)
        with ui.element("div").classes("rw-row"):
            ui.button("Take over the chosen places", on_click=lambda: self._take(found)).props(
                PRIMARY
            )
            Word("They become the places of the plan; undo brings them back.", "span", "rw-quiet")

    def _build_place(self, one: Whereabouts) -> None:
        label = unit_label(self._page.job, one.unit, self._page.label)
        with ui.element("tr"):
            with ui.element("td"):
                if one.found_m is not None:
                    ui.checkbox(value=False, on_change=self._marks(one.unit)).props(
                        f'dense aria-label="take over {label}"'
                    )
            with ui.element("td"):
                Word(label, "b")
            Word(self._point(one.planned_m), "td", "rw-number")
            Word("–" if one.found_m is None else self._point(one.found_m), "td", "rw-number")
            tone = "rw-doubt" if one.moved else "rw-quiet"
            Word(f"{'▲ ' if one.moved else ''}{one.says}", "td", f"rw-small {tone}")

    def _marks(self, unit: str) -> Callable[[ValueChangeEventArguments[bool | None]], None]:
        def mark(event: ValueChangeEventArguments[bool | None]) -> None:
            chosen = bool(event.value)
            (self._chosen.add if chosen else self._chosen.discard)(unit)

        return mark

    def _point(self, place: Sequence[float]) -> str:
        return ", ".join(self._page.length(value) for value in place)

    def _take(self, found: Sequence[Whereabouts]) -> None:
        chosen = [one for one in found if one.unit in self._chosen]
        if not chosen:
            self._page.notify("Choose at least one place to take over.")
            return
        self._page.apply(
            lambda job: take_over(job, chosen), f"take over {len(chosen)} places from the survey"
        )

    # The microphone's own direction

    def _build_facing(self) -> None:
        page = self._page
        Word("Which way a microphone of four capsules looks", "h2", "rw-title")
        self._none = Word(
            "This job's microphone has one capsule, which hears no direction. For one of four, set "
            "the radius of its capsules under Interface and microphone.",
            "div",
            "rw-quiet",
        )
        with ui.element("div").classes("rw-column") as self._four:
            with ui.element("div").classes("rw-row"):
                self._source = ui.select(
                    {u.id: unit_label(page.job, u.id, page.label) for u in page.job.loudspeakers},
                    label="what plays",
                ).props("dense outlined options-dense")
                self._station = ui.select(
                    [station.id for station in page.job.stations], label="microphone at"
                ).props("dense outlined options-dense")
                self._source.style("width: 170px")
                self._station.style("width: 130px")
            with ui.element("div").classes("rw-row"):
                self._turned = ui.input("turned to the left by, °", value="30")
                self._turned.props("dense outlined").style("width: 170px")
                ui.button("Rehearse the first take", on_click=self._rehearse).props(SECOND)
            DropZone(
                self._begin,
                "Or drop its recording of the sweep: one WAV file with a channel for each capsule.",
                self._received,
            )
            self._dial = Part("rw-row")

    def _show_capsules(self) -> None:
        job = self._page.job
        four = job.microphone.capsule_radius_m is not None
        self._none.set_visibility(not four)
        self._four.set_visibility(four)
        names = {unit.id for unit in job.loudspeakers}
        if self._source.value is None and job.outputs:
            first = reference_output(job)
            self._source.value = first if first in names else None
        if self._station.value is None and job.stations:
            self._station.value = job.stations[0].id

    async def _rehearse(self) -> None:
        page, source, station = self._page, str(self._source.value), str(self._station.value)
        turned = number_in(self._turned, "how far it is turned", -180.0, 180.0)
        if turned is None:
            return
        job = page.job
        self._show_facing(
            await page.run(
                "First take of four capsules",
                lambda _: rehearse_facing(job, source, station, turned),
                yields=True,
            )
        )

    def _begin(self) -> Uploads:
        self._uploads = Uploads(self._page.session.path)
        return self._uploads

    async def _received(self, refused: Sequence[str]) -> None:
        uploads, self._uploads = self._uploads, None
        for sentence in refused:
            self._page.notify(sentence)
        if uploads is None or not uploads.files:
            return
        job, source, station = self._page.job, str(self._source.value), str(self._station.value)
        path = uploads.folder / uploads.files[-1]
        try:
            self._show_facing(
                await self._page.run(
                    "Take of four capsules",
                    lambda _: facing_of_recording(job, path, source, station),
                    yields=True,
                )
            )
        finally:
            uploads.close()

    def _show_facing(self, found: Facing | None) -> None:
        if found is None or self._page.gone or self._dial.left:
            return

        self._dial.show(found, lambda: build_facing(found))
