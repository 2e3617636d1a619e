"""The screen of the tuning stage: the target drawn on the measured response."""

from __future__ import annotations

import asyncio
import weakref
from collections.abc import Callable
from typing import Any, Final

from nicegui import background_tasks, ui

from roomwright._errors import InputError, JobError
from roomwright.commissioning.edits import target as edit_target
from roomwright.commissioning.edits import tuning as edit_tuning
from roomwright.commissioning.edits.target import Side
from roomwright.commissioning.tuning import modes
from roomwright.commissioning.tuning.changes import says_changed
from roomwright.commissioning.tuning.handles import (
    with_filter_at,
    with_filter_drawn,
    with_handle_at,
    without_filter,
    without_handle,
)
from roomwright.commissioning.tuning.live import Live
from roomwright.commissioning.tuning.scope import units_of
from roomwright.commissioning.tuning.tune import can_be_tuned
from roomwright.model import Biquad, Job
from roomwright.web.components.graph_desk import FREQUENCY, Axis, GraphDesk, Moved, PointMoved
from roomwright.web.elements import Word
from roomwright.web.page import JobPage
from roomwright.web.stages import tuning_solver, tuning_view
from roomwright.web.stages.tuning_bass import BassPanel
from roomwright.web.stages.tuning_crossover import CrossoverPanel
from roomwright.web.stages.tuning_fields import Panel
from roomwright.web.stages.tuning_filters import FiltersPanel
from roomwright.web.stages.tuning_found import FoundPanel
from roomwright.web.stages.tuning_modes import ModesPanel
from roomwright.web.stages.tuning_outputs import LimitsPanel, OutputsPanel
from roomwright.web.stages.tuning_state import StateLine
from roomwright.web.stages.tuning_style import STYLE
from roomwright.web.stages.tuning_target import TargetPanel
from roomwright.web.stages.tuning_view import Choice, Drawing

_CHOICES: weakref.WeakKeyDictionary[JobPage, Choice] = weakref.WeakKeyDictionary()

_SCOPES: Final = {"channel": "this channel", "group": "its group", "all": "all"}
_DRAWN: Final = {"target": "target", "filters": "filters", "levels": "levels"}


def show(page: JobPage) -> None:
    """Build the screen in the current slot."""
    TuningScreen(page)


class TuningScreen:
    """One window's view of targets and tuning, and what is done to them in it.

    Attributes
    ----------
    page
        The window.
    choice
        What it looks at and edits.
    ready
        The prepared survey once it is read.
    """

    def __init__(self, page: JobPage) -> None:
        self.page = page
        self.ready: Live | None = None
        self.choice = _CHOICES.setdefault(page, _first_choice(page))
        self._drawing: Drawing | None = None
        self._asked = 0
        self._solved_for: Job | None = None
        self._changed = ""
        self._dragging = False
        self._why = ""
        ui.add_css(STYLE)
        with ui.element("div").classes("rw-tune"):
            with ui.element("aside").props('aria-label="target and settings"'):
                self._panels: tuple[Panel, ...] = (
                    TargetPanel(self),
                    FiltersPanel(self),
                    BassPanel(self),
                    OutputsPanel(self),
                    CrossoverPanel(self),
                    LimitsPanel(self),
                    ModesPanel(self),
                    FoundPanel(self),
                )
            with ui.element("section"):
                self._build_head()
                self._state = StateLine(self)
                with ui.element("div").classes("rw-tune-desk"):
                    self._desk = GraphDesk(
                        x=FREQUENCY,
                        y=Axis("level re target at 1 kHz", "dB", -25, 15),
                        lower=tuning_view.FILTERS,
                        name="target and tuning",
                    )
        self._desk.on_handle(self._handle_moved).on_point(self._point_moved)
        self._desk.on_add(self._added).on_remove(self._removed)
        page.on_change(self.update)
        self.update()

    @property
    def job(self) -> Job:
        """The job as it was last saved."""
        return self.page.job

    @property
    def channels(self) -> tuple[str, ...]:
        """The channels that edits apply to; none stands for all."""
        return self.choice.channels(self.job)

    # Changing

    def apply(self, change: Callable[[Job], Job], says: str) -> bool:
        """Change the job, which the solver follows; False, and said here, if that is refused."""
        return self.page.attempt(lambda: self.must_apply(change, says))

    def must_apply(self, change: Callable[[Job], Job], says: str) -> None:
        """Change the job, as `apply`; `InputError` if that is refused, for the field to show."""
        try:
            with tuning_solver.followed(self.page.session):
                self.page.session.apply(change, says)
        except JobError:
            raise  # its problems are worded where they are said
        except InputError as error:
            raise InputError(self.page.said(str(error))) from error

    def change(self, edit: Callable[..., Job], says: str, *arguments: Any) -> bool:  # noqa: ANN401
        """Change the channels that edits apply to, as `apply`."""
        return self.apply(lambda job: edit(job, self.channels, *arguments), says)

    def must_change(self, edit: Callable[..., Any], says: str, *arguments: Any) -> None:  # noqa: ANN401
        """Change the channels that edits apply to, as `must_apply`."""
        self.must_apply(lambda job: edit(job, self.channels, *arguments), says)

    def change_units(self, edit: Callable[..., Job], says: str, *arguments: Any) -> bool:  # noqa: ANN401
        """Change the loudspeakers and subwoofers that edits apply to, as `apply`."""
        return self.apply(lambda job: edit(job, units_of(job, self.channels), *arguments), says)

    def take_roll_off(self, side: Side) -> None:
        """Take the roll-off of the target from the measurement."""
        ready = self.ready
        if ready is None:
            self.page.notify("nothing is measured yet; there is no roll-off to take")
            return
        self.apply(
            lambda job: edit_target.take_roll_off(job, ready, self.channels, side),
            "roll-off as measured",
        )

    def remove_mode(self, name: str) -> None:
        """Take a listening mode away, from the graph too."""
        self.choice.modes = [modes.REFERENCE if m == name else m for m in self.choice.modes]
        self.apply(lambda job: modes.remove_mode(job, name), f"mode {name}")

    # Choosing

    def choose_mode(self, side: int, name: str) -> None:
        """Show a listening mode as the first or second of two."""
        if self.choice.modes[side] != name:
            self.choice.modes[side] = name
            self.update()

    def _choose(self, **chosen: Any) -> None:  # noqa: ANN401
        for name, value in chosen.items():
            setattr(self.choice, name, value)
        self.page.channel, self.page.seat = self.choice.channel, self.choice.seat
        self.update()

    # Following

    def update(self) -> None:
        """Follow the job: panels at once, the graph as soon as it is computed."""
        self._settle_choice()
        if tuning_solver.wanted(self.page.session):
            background_tasks.create(tuning_solver.follow(self.page.session))
        for panel in self._panels:
            panel.refresh()
        self._show_head()
        self._state.show(self._drawing, self._changed)
        background_tasks.create(self._draw_anew())

    async def _draw_anew(self) -> None:
        self._asked += 1
        if not can_be_tuned(self.job):
            self._solved_for = self.job
        if self._drawing is None:
            self._desk.set_empty("Reading the responses …")
        asked, job, choice, session = self._asked, self.job, self.choice, self.page.session

        def work() -> tuple[Live | None, Drawing | None, str]:
            ready = tuning_view.ready_for(session, job)
            if ready is None or not job.channels:
                return None, None, ""
            refits = job.tuning is not None and can_be_tuned(job)
            was = tuning_view.tuned_job(session, job) if refits else None
            drawing = tuning_view.compute(
                ready, job, choice, refits=refits, since=self._solved_for or was if refits else None
            )
            return ready, drawing, says_changed(was, job) if refits else ""

        try:
            ready, drawing, changed = await asyncio.to_thread(work)
            self._why = ""
        except InputError as error:
            ready, drawing, changed, self._why = None, None, "", str(error)
        if asked != self._asked or self.page.gone or self._desk.is_deleted:
            return
        first = self.ready is None and ready is not None
        self.ready, self._drawing, self._changed = ready, drawing, changed
        if first:
            self._panels[0].refresh()
        if drawing is not None and not self._dragging:
            tuning_view.draw(self._desk, drawing, choice, self.page.label)
        self._desk.set_empty("" if drawing is not None else self._reason())
        self._state.show(self._drawing, self._changed)

    def _reason(self) -> str:
        return self.page.said(self._why) or (
            "Nothing is measured yet. Rehearse or import recordings in the survey; the tuning is "
            "computed as soon as there is one."
        )

    def _settle_choice(self) -> None:
        job, choice = self.job, self.choice
        channels = [channel.id for channel in job.channels]
        if choice.channel not in channels and channels:
            choice.channel = channels[0]
        if choice.seat not in {seat.id for seat in job.seats}:
            choice.seat = job.main_seat
        names = {modes.REFERENCE, *(mode.name for mode in job.modes)}
        choice.modes = [name if name in names else modes.REFERENCE for name in choice.modes]

    # Showing

    def _build_head(self) -> None:
        """Build the choices once: what is being chosen in must not be gone."""
        choice = self.choice
        with ui.element("div").classes("rw-tune-head"):
            self._channel = ui.select([], label="channel", on_change=self._choose_shown).props(
                'dense borderless options-dense aria-label="channel shown"'
            )
            self._seat = ui.select([], label="seat", on_change=self._choose_shown).props(
                'dense borderless options-dense aria-label="seat shown"'
            )
            for words, name, options, value in (
                ("edit", "scope", _SCOPES, choice.scope),
                ("drag", "drawn", _DRAWN, choice.drawn),
            ):
                with ui.element("div").classes("rw-row"):
                    Word(words, "span", "rw-quiet")
                    toggle = ui.toggle(
                        options,
                        value=value,
                        on_change=lambda event, name=name: self._choose(**{name: event.value}),
                    )
                    says = "what edits apply to" if name == "scope" else "what is dragged"
                    toggle.props(f'dense unelevated no-caps role=group aria-label="{says}"')

    def _show_head(self) -> None:
        job, choice = self.job, self.choice
        channels = {c.id: self.page.label(c.id) for c in job.channels}
        seats = {s.id: s.id for s in job.seats}
        for box, options, value in (
            (self._channel, channels, choice.channel if channels else None),
            (self._seat, seats, choice.seat),
        ):
            if box.options != options or box.value != value:
                box.set_options(options, value=value)

    def _choose_shown(self) -> None:
        channel, seat = self._channel.value, self._seat.value
        if channel and seat and (channel, seat) != (self.choice.channel, self.choice.seat):
            self._choose(channel=channel, seat=seat)

    # Dragging

    async def _handle_moved(self, moved: Moved) -> None:
        def edit(job: Job) -> Job:
            return with_handle_at(job, self.channels, moved.id, moved.x, moved.y)

        if moved.done:
            self._dragging = False
            if not self.apply(edit, "target" if self.choice.drawn == "target" else moved.id):
                self.update()
            return
        await self._drag(edit)

    async def _point_moved(self, moved: PointMoved) -> None:
        points = {point.id: point for point in self._drawing.points} if self._drawing else {}
        if moved.id not in points:
            return
        biquad = points[moved.id].biquad.model_copy(
            update={"frequency_hz": moved.frequency_hz, "gain_db": moved.level_db, "q": moved.q}
        )
        if moved.done:
            self._dragging = False
            channel = self.choice.channel
            if not self.change(
                lambda job, channels: with_filter_at(job, channels, channel, moved.id, biquad),
                "filter",
            ):
                self.update()
            return
        await self._drag(None, moved.id, biquad)

    async def _drag(
        self, edit: Callable[[Job], Job] | None, point: str = "", biquad: Biquad | None = None
    ) -> None:
        """Draw what a drag would give, without changing the job."""
        before, job, choice = self._drawing, self.job, self.choice
        ready = self.ready
        if ready is None or before is None:
            return
        self._dragging = True

        def work() -> Drawing:
            if edit is not None:
                refits = choice.drawn == "target"
                return tuning_view.compute(
                    ready,
                    edit(job),
                    choice,
                    tuning=before.tuning,
                    refits=refits,
                    since=job,
                    others=False,
                )
            drawn = before.tuning
            if drawn is not None and biquad is not None:
                drawn = with_filter_drawn(job, drawn, self.channels, point, biquad)
            return tuning_view.compute(ready, job, choice, tuning=drawn, others=False)

        try:
            drawing = await asyncio.to_thread(work)
        except InputError:
            return
        if not self._dragging or self.page.gone or self._desk.is_deleted:
            return
        self._desk.update_curves(tuning_view.curves(drawing, choice, self.page.label))
        self._desk.set_bands(tuning_view.bands(drawing))
        self._state.show_spread(drawing)

    async def draw_mode(self, name: str, controls: dict[str, float]) -> None:
        """Draw what a listening mode's tone control would give while it slides."""
        await self._drag(lambda job: modes.change_mode(job, name, **controls))
        self._dragging = False

    def _added(self, frequency_hz: float, level_db: float) -> None:
        if self.choice.drawn == "target":
            self.change(edit_target.add_point, "target", frequency_hz, level_db)
        if self.choice.drawn != "filters":
            return
        biquad = Biquad(kind="peaking", frequency_hz=frequency_hz, gain_db=-3.0, q=1.0)
        self.change_units(edit_tuning.add_filter, "filter by hand", biquad)

    def _removed(self, thing: str) -> None:
        if thing.startswith(("hand:", "solver:")):
            channel = self.choice.channel
            self.change(
                lambda job, channels: without_filter(job, channels, channel, thing), "filter"
            )
        else:
            self.change(without_handle, "target", thing)


def _first_choice(page: JobPage) -> Choice:
    channels = [channel.id for channel in page.job.channels]
    first = page.channel if page.channel in channels else next(iter(channels), "")
    return Choice(first or "", page.seat)
