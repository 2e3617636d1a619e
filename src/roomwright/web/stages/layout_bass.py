"""The bass in the layout stage: where the subwoofers should stand, searched, shown and used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from nicegui import background_tasks, ui

from roomwright._progress import Progress
from roomwright.commissioning import (
    PlacesFound,
    keep_places,
    kept_places,
    search_places,
    use_places,
)
from roomwright.commissioning.bass.plan import places_say, with_new_box
from roomwright.commissioning.bass.standing import (
    Standing,
    StandingFigures,
    stand,
    standing_from,
    stood,
)
from roomwright.model import Job
from roomwright.web.elements import PRIMARY, SECOND, Part, Word, style
from roomwright.web.newest import Newest
from roomwright.web.page import JobPage
from roomwright.web.room_canvas import RoomCanvas
from roomwright.web.room_forecast import signed
from roomwright.web.stages.layout_array import ArrayPart
from roomwright.web.stages.layout_found import (
    NOW,
    FoundGraphs,
    build_rows,
    named_choices,
    sentences,
)
from roomwright.web.stages.layout_wishes import BoxList, WishFields

_STYLE: Final = """
.rw-bass .q-item { padding: 4px 0; min-height: 32px; font-weight: 600; font-size: 15px; }
.rw-bass .q-item__section--side { padding-right: 4px; min-width: 0; }
.rw-bass-body { display: flex; flex-direction: column; gap: 8px; padding: 2px 0 10px; }
.rw-bass-body > .q-btn, .rw-bass-body .rw-column > .q-btn { align-self: flex-start; }
.rw-bass .rw-part { font-size: 13px; font-weight: 600; margin: 8px 0 0; line-height: 1.3; }
.rw-bass .rw-choices td, .rw-bass .rw-choices th { padding: 2px 3px; white-space: nowrap; }
.rw-found-graphs { display: grid; grid-template-rows: 1fr 1fr; height: 100%; }
.rw-found-graphs > * { min-height: 0; border-bottom: 1px solid var(--rw-line); }
.rw-room:not(.rw-room-wide) .rw-found-graphs .rg-buttons { display: none; }
.rw-room-panel .q-btn { align-self: flex-start; }
"""


@dataclass(frozen=True, slots=True)
class _Question:
    """The job as saved, and as it would be with what is being dragged."""

    saved: Job
    job: Job


class BassPlaces:
    """One window's search for places; `graphs` builds what stands in the canvas' tab."""

    def __init__(self, page: JobPage) -> None:
        style(_STYLE)
        self._page = page
        self._chosen = ""
        self._found: PlacesFound | None = None
        self._opened = False
        self._rows: dict[str, ui.element] = {}
        self._graphs = FoundGraphs(page, self._choose)
        self._newest = Newest(self._stood, self._show_standing, self._refuse)

    def build_graphs(self) -> None:
        """Build the front and the levels, in the tab of the canvas."""
        self._graphs.build()

    def build(self, canvas: RoomCanvas) -> None:
        """Build the section in the current slot."""
        self._canvas = canvas
        canvas.drew_box = self._drew
        with (
            ui.expansion("Bass: where the subwoofers stand", on_value_change=self._unfold)
            .classes("rw-bass")
            .props("dense dense-toggle switch-toggle-side"),
            ui.element("div").classes("rw-bass-body"),
        ):
            self._standing = ui.label("").classes("rw-small").props("role=status")
            self._fields = WishFields(self._page)
            self._build_boxes()
            with ui.element("div").classes("rw-row"):
                self._search = ui.button("Search places", on_click=self._run).props(PRIMARY)
                self._count = ui.label("").classes("rw-small rw-quiet")
            self._table = Part()
            with ui.element("div").classes("rw-row"):
                self._use = ui.button("Use it", on_click=self._use_chosen).props(PRIMARY)
            self._sentences = Part("rw-column rw-small")
            self._array = ArrayPart(self._page)

    def update(self) -> None:
        """Follow the job."""
        self._fields.refresh()
        self._boxes.refresh()
        self._array.refresh()
        self._count.text = places_say(self._page.job)
        self._search.set_enabled(not self._page.session.work.holds)
        found = kept_places(self._page.session.folder) if self._opened else None
        if found != self._found:
            self._found, self._chosen = found, "1" if found is not None else ""
            self._table.show(found, self._build_table)
        self._show_choice()
        self.follow(self._page.job)

    def follow(self, job: Job) -> None:
        """Say what the subwoofers give where a job has them; while they are dragged too."""
        if self._opened and job.subwoofers:
            question = _Question(self._page.job, job)
            background_tasks.create(self._newest.ask(question), name="standing subwoofers")
        else:
            self._canvas.say_more("")

    # Wishes

    def _build_boxes(self) -> None:
        Word("Keep clear", "h3", "rw-part")
        self._boxes = BoxList(self._page, self._canvas)
        with ui.element("div").classes("rw-row"):
            self._outline = ui.checkbox(
                "Exclude by dragging on the plan",
                on_change=lambda event: self._outlines(on=bool(event.value)),
            )
            self._outline.props("dense size=sm").classes("rw-small")
            ui.button("Add a box", on_click=self._add_box).props(SECOND)

    def _outlines(self, *, on: bool) -> None:
        if on:
            self._canvas.lay("places")
        self._canvas.outline_boxes(on)

    def _add_box(self) -> None:
        self._canvas.lay("places")
        self._page.apply(with_new_box, "add a box to keep clear")

    def _drew(self, from_m: tuple[float, float], to_m: tuple[float, float]) -> None:
        self._page.apply(lambda job: with_new_box(job, from_m, to_m), "exclude a box")

    def _unfold(self, event: object) -> None:
        self._opened = bool(getattr(event, "value", False))
        if self._opened:
            self._canvas.lay("places")
        self.update()

    # Searching

    async def _run(self) -> None:
        folder, job = self._page.session.folder, self._page.job

        def work(progress: Progress) -> None:
            keep_places(folder, search_places(job, progress))

        await self._page.run("Search for places", work)
        if self._page.gone or self._table.left:
            return
        self.update()
        if kept_places(folder) is not None:
            self._canvas.lay("places")
            self._canvas.look_at_tab()

    def _build_table(self) -> None:
        self._rows.clear()
        if self._found is not None:
            build_rows(self._found, self._chosen, self._choose, self._rows)

    def _choose(self, name: str) -> None:
        if self._found is None or name not in named_choices(self._found) or name == self._chosen:
            return
        self._chosen = name
        self._show_choice()

    def _show_choice(self) -> None:
        found, chosen = self._found, self._chosen
        for name, row in self._rows.items():
            row.classes(
                add="chosen" if name == chosen else "", remove="" if name == chosen else "chosen"
            )
        self._graphs.show(found, chosen)
        choice = None if found is None else named_choices(found).get(chosen)
        self._canvas.show_places(() if choice is None else choice.positions_m)
        self._use.set_visibility(choice is not None and chosen != NOW)
        self._use.text = f"Use choice {chosen}"
        said: tuple[str, ...] = () if found is None else sentences(found, chosen)
        self._sentences.show(said, lambda: _say(said))

    def _use_chosen(self) -> None:
        choice = None if self._found is None else named_choices(self._found).get(self._chosen)
        if choice is not None:
            self._page.apply(lambda job: use_places(job, choice), f"use places {self._chosen}")

    # As they stand

    def _stood(self, question: _Question) -> StandingFigures | None:
        saved = question.saved
        base: Standing | None = self._page.session.remembered(
            "standing", standing_from(saved), lambda: stand(saved)
        )
        return None if base is None else stood(base, question.job).figures

    def _show_standing(self, found: StandingFigures | None) -> None:
        if self._page.gone or self._table.left or found is None:
            return
        short = f"spread {found.spread_db2:.1f} dB², level {signed(found.level_db)} dB per drive"
        self._standing.text = (
            f"As they stand: {short}, with the gains and delays that suit them best; "
            f"{found.alike_spread_db2:.1f} dB² and {signed(found.alike_level_db)} dB fed alike. "
            "Drag one on the plan and watch."
        )
        self._canvas.say_more(short)

    def _refuse(self, sentence: str) -> None:
        if not self._page.gone and not self._table.left:
            self._standing.text = f"▲ {sentence}"
            self._canvas.say_more("")


def _say(sentences: tuple[str, ...]) -> None:
    for sentence in sentences:
        Word(sentence, "span", "rw-quiet")
