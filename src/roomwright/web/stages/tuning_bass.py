"""Beside the graph: how the subwoofers are fed, and the ways compared."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final
from weakref import WeakKeyDictionary

from nicegui import ui

from roomwright._progress import Progress
from roomwright.commissioning import (
    BassComparison,
    bass_responses,
    compare_bass,
    design_bass,
    with_bass,
)
from roomwright.commissioning.bass.array import array_trouble
from roomwright.commissioning.bass.compare import WayCompared, compared_from, use_way
from roomwright.commissioning.tuning.tune import can_be_tuned
from roomwright.model import Job
from roomwright.web.elements import PRIMARY, SECOND, Word
from roomwright.web.session import JobSession
from roomwright.web.stages.bass_comparison import ComparisonDialog
from roomwright.web.stages.tuning_fields import NumberField, Panel
from roomwright.web.stages.tuning_figures import FiguresDialog

if TYPE_CHECKING:
    from roomwright.web.stages.tuning import TuningScreen

_METHODS: Final = {
    "matched": "all alike, matched",
    "even_seats": "even seats, each its own",
    "array": "plane-wave array",
    "mixture": "array, even seats above",
}
#: The last comparison in this process and what it depends on, by job.
_COMPARED: WeakKeyDictionary[JobSession, tuple[tuple[object, ...], BassComparison]] = (
    WeakKeyDictionary()
)

_MEANS: Final = {"gain_and_delay": "gain and delay", "biquads": "biquads", "fir": "FIR"}


class BassPanel(Panel):
    """How the subwoofers are fed: chosen here, or by comparing the ways side by side."""

    title = "Bass"

    def __init__(self, screen: TuningScreen) -> None:
        self._screen = screen
        self._dialog = ComparisonDialog(screen.page, self._use)
        self._figures = FiguresDialog(screen.page)
        super().__init__()

    def shape(self) -> object:
        """Whether there is a subwoofer at all."""
        return bool(self._screen.job.subwoofers)

    def build(self) -> None:
        """Make the choices."""
        if not self._screen.job.subwoofers:
            Word("There is no subwoofer; place some in the layout.", "div", "rw-quiet")
            return
        with ui.element("div").classes("rw-rows rw-rows-2"):
            self._method = self._select("fed", "method", _METHODS)
            self._means = self._select("even seats by", "means", _MEANS)
            Word("array up to, in a mixture", "span")
            self.fields.append(
                NumberField(
                    "where a mixture leaves the array",
                    lambda: self._screen.job.bass.array_up_to_hz,
                    lambda value: self._screen.must_apply(
                        lambda job: with_bass(job, array_up_to_hz=value), "mixture"
                    ),
                    unit="Hz",
                    digits=0,
                    width=92,
                )
            )
        self._array = Word("", "div", "rw-small")
        with ui.element("div").classes("rw-row"):
            self._compare = ui.button("Compare the ways to feed them", on_click=self._run)
            self._compare.props(PRIMARY)
            self._open = ui.button("Show the comparison", on_click=self._show).props(SECOND)
            ui.button("The bass in figures", on_click=self._figures.open).props(SECOND)
        self._says = Word("", "div", "rw-small rw-quiet")

    def show_values(self) -> None:
        """Show what is chosen, and how the comparison stands."""
        job, session = self._screen.job, self._screen.page.session
        if not job.subwoofers:
            return
        self._method.value, self._means.value = job.bass.method, job.bass.means
        self._array.text = _array_says(job)
        self._array.classes(
            add="rw-doubt" if array_trouble(job) else "rw-quiet",
            remove="rw-quiet" if array_trouble(job) else "rw-doubt",
        )
        self._compare.set_enabled(not session.work.holds)
        found = kept_comparison(session)
        self._open.set_visibility(found is not None)
        self._says.text = (
            "Compared at held-back stations, from the survey where the subwoofers were measured, "
            "else from the drawing."
            if found is None
            else "The comparison shows the job as it is."
        )
        self._dialog.show(found)

    def _select(self, words: str, field: str, options: dict[str, str]) -> ui.select:
        Word(words, "span")
        select = ui.select(options, value=getattr(self._screen.job.bass, field))
        select.props(f'dense outlined options-dense aria-label="{words}"').style("width: 196px")

        def change(value: Any) -> None:  # noqa: ANN401 - one of the options
            if getattr(self._screen.job.bass, field) != value:
                self._screen.apply(lambda job: with_bass(job, **{field: value}), "bass")

        return select.on_value_change(lambda event: change(event.value))

    async def _run(self) -> None:
        page = self._screen.page
        session, job = page.session, page.job

        def work(progress: Progress) -> None:
            survey, origin = bass_responses(session.folder, None)
            found = compare_bass(job, survey, progress, origin=origin)
            _COMPARED[session] = compared_from(job), found

        await page.run("Comparison of the bass", work, yields=True)
        if page.gone or self._compare.is_deleted:
            return
        self.refresh()
        if kept_comparison(session) is not None:
            self._dialog.open()

    def _show(self) -> None:
        self._dialog.open()

    async def _use(self, way: WayCompared) -> None:
        """Have the job feed its subwoofers a compared way, and the tuning follow."""
        page = self._screen.page
        if not self._screen.apply(lambda job: use_way(job, way), f"feed the subwoofers {way.name}"):
            return
        if not can_be_tuned(page.job):
            folder = page.session.folder
            await page.run(
                "Bass design", lambda progress: design_bass(folder, progress, origin="drawing")
            )


def kept_comparison(session: JobSession) -> BassComparison | None:
    """The last comparison, None if there is none of the job as it is."""
    inputs, found = _COMPARED.get(session, ((), None))
    return found if inputs == compared_from(session.job) else None


def _array_says(job: Job) -> str:
    trouble = array_trouble(job)
    if trouble:
        return f"▲ {trouble}"
    if not job.bass.launching and not job.bass.absorbing:
        return "No subwoofer is marked for an array; the layout stage marks or proposes one."
    launching, absorbing = ", ".join(job.bass.launching), ", ".join(job.bass.absorbing)
    return f"▶ {launching} launch the wave, ⊠ {absorbing} absorb it."
