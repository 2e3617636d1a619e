"""Beside the plan: which subwoofers launch a plane wave and which absorb it, or a proposal."""

from __future__ import annotations

from typing import Final

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning import ArrayProposal, propose_array, use_array
from roomwright.commissioning.bass.array import array_trouble
from roomwright.commissioning.bass.wishes import ArrayMark, mark_of, with_mark
from roomwright.model import Job
from roomwright.web.elements import SECOND, Part, Word
from roomwright.web.fields import Entry, read_number
from roomwright.web.page import JobPage

_WORDS: Final[dict[ArrayMark, str]] = {
    "": "○ neither",
    "launches": "▶ launches",
    "absorbs": "⊠ absorbs",
}


class ArrayPart:
    """Marks of every subwoofer, whether they make an array, and what the tool would propose."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._up_to_hz = page.job.bass.band_hz[1]
        self._proposal: ArrayProposal | None = None
        Word("Plane-wave array", "h3", "rw-part")
        self._marks = Part("rw-column")
        self._selects: dict[str, ui.select] = {}
        self._says = ui.label("").classes("rw-small")
        with ui.element("div").classes("rw-row").style("flex-wrap: nowrap; align-items: start"):
            self._entry = Entry("Plane up to, Hz", lambda: f"{self._up_to_hz:g}", self._take)
            self._robust = ui.checkbox("with errors of place and gain")
            self._robust.props("dense size=sm").classes("rw-small")
        ui.button("Propose an array", on_click=self._propose).props(SECOND)
        self._error = ui.label("").classes("rw-small rw-doubt").props("role=alert")
        self._proposed = Part("rw-column rw-small")

    def refresh(self) -> None:
        """Follow the job."""
        job = self._page.job
        names = {one.id: self._page.label(one.id) for one in job.subwoofers}
        self._marks.show(tuple(names.items()), lambda: self._build(names))
        for name, select in self._selects.items():
            select.value = mark_of(job, name)
        trouble = array_trouble(job)
        marked = bool(job.bass.launching or job.bass.absorbing)
        shape = "▲ " if trouble else "■ "
        self._says.text = shape + (trouble or "these marks make an array") if marked else ""
        self._says.classes(
            add="rw-doubt" if trouble else "rw-good", remove="rw-good" if trouble else "rw-doubt"
        )

    def _build(self, names: dict[str, str]) -> None:
        self._selects.clear()
        if not names:
            Word("There is no subwoofer yet.", "span", "rw-quiet")
        with ui.element("div").style(
            "display: grid; grid-template-columns: repeat(auto-fill, minmax(150px, 1fr)); gap: 6px"
        ):
            for name, label in names.items():
                select = ui.select(
                    dict(_WORDS),
                    value=mark_of(self._page.job, name),
                    label=label,
                    on_change=lambda event, name=name: mark(self._page, name, event.value),
                )
                select.props(f'outlined dense options-dense aria-label="{label} in the array"')
                self._selects[name] = select

    def _take(self, text: str) -> None:
        self._up_to_hz = read_number(text, "plane up to, Hz", 20.0, 300.0)

    def _propose(self) -> None:
        try:
            self._proposal = propose_array(
                self._page.job, highest_hz=self._up_to_hz, robust=bool(self._robust.value)
            )
            self._error.text = ""
        except InputError as error:
            self._proposal, self._error.text = None, f"▲ {self._page.said(str(error))}"
        self._proposed.show(self._proposal, self._build_proposal)

    def _build_proposal(self) -> None:
        found = self._proposal
        if found is None:
            return
        Word(f"{found.says}.")
        Word(
            f"The absorbing ones are inverted, {1e3 * found.delay_s:.1f} ms later and at "
            f"{found.gain_db:+.1f} dB.".replace("-", "−")
        )
        for name in found.blocked:
            Word(f"▲ a place lies in {name}, which is to be kept clear", "span", "rw-doubt")
        ui.button("Place and mark them so", on_click=lambda: self._use(found)).props(SECOND)

    def _use(self, found: ArrayProposal) -> None:
        self._page.apply(lambda job: use_array(job, found), "place the array as proposed")


def mark(page: JobPage, name: str, wanted: ArrayMark) -> None:
    """Mark a subwoofer as launching, absorbing, or neither."""
    if mark_of(page.job, name) == wanted:
        return

    def change(job: Job) -> Job:
        return with_mark(job, name, wanted)

    page.apply(change, f"{page.label(name)} {wanted or 'not in the array'}")
