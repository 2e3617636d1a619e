"""The meter, and the level assistant: each output to the level wanted, by keys or by itself."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final, get_args

from nicegui import ui

from roomwright._errors import DeviceError, InputError
from roomwright._progress import Progress
from roomwright.commissioning.edits import levels as edit_levels
from roomwright.commissioning.edits.survey import with_interface
from roomwright.commissioning.levels import assistant as level_assistant
from roomwright.commissioning.levels import reference as level_reference
from roomwright.commissioning.levels import set_levels
from roomwright.commissioning.levels.live_input import LiveInput
from roomwright.commissioning.levels.set_levels import LevelRow
from roomwright.commissioning.plan_view import unit_label
from roomwright.model import Job, LevelGroup
from roomwright.web.components.level_table import LevelLine, LevelTable
from roomwright.web.elements import PRIMARY, SECOND, Word, style
from roomwright.web.fields import Entry, read_number
from roomwright.web.live import live
from roomwright.web.page import JobPage
from roomwright.web.stages.survey_meter import MeterPart

_LOOK_S: Final = 0.3

_CAUTION: Final = (
    "▲ Noise and sweeps can hurt hearing: nobody near a loudspeaker, ears protected, amplifiers "
    "turned down at first. The ceiling and Escape stop the sound; they do not replace care."
)
_KEYS: Final = (
    "Keys in the table: ↑ ↓ previous and next output, ← → a step softer and louder, Space plays "
    "and stops, M measures, Enter measures or accepts and goes on, Esc stops."
)

_PLAN: Final = (
    ("reference_db", "wanted, dB SPL", 30.0, 110.0),
    ("ceiling_db", "ceiling, dB SPL", 40.0, 120.0),
    ("noise_dbfs", "noise, dBFS", -80.0, 0.0),
    ("ceiling_dbfs", "ceiling of noise, dBFS", -80.0, 0.0),
    ("ramp_s", "rise, s", 0.0, 30.0),
)

_STYLE: Final = """
.rw-level-desk { display: grid; grid-template-columns: minmax(300px, 5fr) minmax(380px, 6fr);
  gap: 18px; align-items: start; }
.rw-level-desk > div { min-width: 0; }
.rw-level-plan .q-field { width: 150px; }
.rw-level-keys .q-btn { min-height: 36px; min-width: 40px; }
@media (max-width: 1000px) { .rw-level-desk { grid-template-columns: minmax(0, 1fr); } }
"""

_GROUPS: Final[tuple[LevelGroup, ...]] = get_args(LevelGroup)


class LevelsPanel:
    """Meter on one side, outputs and what is wanted of them on the other."""

    def __init__(self, page: JobPage) -> None:
        self._page, self._live = page, live(page.session)
        self._chosen = next((output.drives for output in page.job.outputs), "")
        self._entries: list[Entry] = []
        style(_STYLE)
        Word(_CAUTION, "div", "rw-doubt rw-small")
        with ui.element("div").classes("rw-level-desk"):
            with ui.element("div").classes("rw-column"):
                self._meter = MeterPart(page)
            with ui.element("div").classes("rw-column"):
                self._table = LevelTable("levels of the outputs", self._key)
                self._build_keys()
                self._build_all()
                Word(_KEYS, "div", "rw-small rw-quiet")
        self._build_plan()
        self._timer = ui.timer(_LOOK_S, self._show_rows)
        self.update()

    def update(self) -> None:
        """Follow the job."""
        for entry in self._entries:
            entry.refresh()
        self._show_rows()
        reference = self._page.job.levels.reference
        self._back.set_visibility(reference is not None)
        self._stored.text = (
            "No reference level is stored yet; store it once the levels are set."
            if reference is None
            else f"Stored: {reference.drives} at {reference.station} gives "
            f"{reference.level_db:.1f} dB."
        )

    def shown(self, *, shown: bool) -> None:
        """Work only while it is seen."""
        self._timer.active = shown
        self._meter.shown(shown=shown)

    # Building

    def _build_plan(self) -> None:
        with ui.element("div").classes("rw-row rw-level-plan"):
            for name, label, low, high in _PLAN:
                self._entry(label, (low, high), self._plan(name), partial(_with_plan, name), label)
            self._entry(
                "ceiling of all, dBFS",
                (-80.0, 0.0),
                lambda: self._page.job.interface.ceiling_dbfs,
                lambda job, value: with_interface(job, ceiling_dbfs=value),
                "the ceiling of the interface",
            )
        with ui.element("div").classes("rw-row rw-level-plan"):
            for group in _GROUPS:
                self._entry(
                    f"{group} by, dB",
                    (-30.0, 30.0),
                    self._offset(group),
                    partial(_with_offset, group),
                    f"offset of {group}",
                )

    def _plan(self, name: str) -> Callable[[], float]:
        return lambda: float(getattr(self._page.job.levels, name))

    def _offset(self, group: LevelGroup) -> Callable[[], float]:
        return lambda: self._page.job.levels.offset_db(group)

    def _entry(
        self,
        label: str,
        allowed: tuple[float, float],
        value: Callable[[], float],
        change: Callable[[Job, float], Job],
        says: str,
    ) -> None:
        def take(text: str) -> None:
            number = read_number(text, label, *allowed)
            self._page.session.apply(lambda job: change(job, number), says)

        self._entries.append(Entry(label, lambda: f"{value():g}", take))

    def _build_keys(self) -> None:
        with ui.element("div").classes("rw-row rw-level-keys"):
            for text, does, name in (
                ("↑", "previous", "previous output"),
                ("↓", "next", "next output"),
                ("−", "softer", "a step softer"),
                ("+", "louder", "a step louder"),
            ):
                ui.button(text, on_click=partial(self._press, does)).props(
                    f'{SECOND} aria-label="{name}"'
                )
            self._play = ui.button("Play", on_click=partial(self._press, "play")).props(SECOND)
            ui.button("Measure", on_click=partial(self._press, "measure")).props(SECOND)
            ui.button("Accept", on_click=partial(self._press, "accept")).props(PRIMARY)

    def _build_all(self) -> None:
        with ui.element("div").classes("rw-row"):
            ui.button("Set all levels by itself", on_click=self._set_all).props(SECOND)
            ui.button("Store the reference level", on_click=self._store).props(SECOND)
            self._back = ui.button("Return to the stored level", on_click=self._return)
            self._back.props(SECOND)
        self._stored = ui.label().classes("rw-small rw-quiet")
        self._said = ui.label().classes("rw-small").props("role=status")

    # Showing

    def _rows(self) -> list[LevelRow]:
        job, found = self._page.job, self._live.rows
        if self._page.session.work.holds:
            # Trims that are being set are saved when all are.
            return [found.get(row.drives, row) for row in set_levels.level_rows(job)]
        return list(level_assistant.rows_now(job, found))

    def _show_rows(self) -> None:
        rows = self._rows()
        if rows and self._chosen not in {row.drives for row in rows}:
            self._chosen = rows[0].drives
        self._table.show([self._line(row) for row in rows], self._chosen)
        playing = "Stop" if self._live.plays else "Play"
        if self._play.text != playing:
            self._play.text = playing

    def _line(self, row: LevelRow) -> LevelLine:
        plays = row.drives == self._live.plays
        shape, tone, state = "○", "none", "not measured"
        if row.says:
            shape, tone, state = "▲", "off", row.says
        elif row.reached:
            shape, tone, state = "●", "good", "as wanted"
        elif row.level_db is not None:
            shape, tone, state = "◐", "off", f"asks for {row.asked_db:+.1f} dB"
        return LevelLine(
            drives=row.drives,
            number=row.number,
            label=unit_label(self._page.job, row.drives, self._page.label),
            group=row.group,
            level="–" if row.level_db is None else f"{row.level_db:.1f} ±{row.uncertainty_db:.1f}",
            wanted=f"{row.wanted_db:.1f}",
            trim=f"{row.trim_db:+.1f}",
            asked="–" if row.asked_db is None else f"{row.asked_db:+.1f}",
            shape=f"{shape} ♪" if plays else shape,
            tone=tone,
            words=f"trim {row.trim_db:+.1f} dB, {state}{', plays' if plays else ''}",
            says=row.says,
        )

    # Doing

    async def _press(self, does: str) -> None:
        await self._key(does, self._chosen)

    async def _key(self, does: str, drives: str) -> None:
        if does == "choose":
            await self._choose(drives)
        elif does in ("next", "previous"):
            await self._step(does)
        elif does in ("louder", "softer"):
            await self._trim(1 if does == "louder" else -1)
        elif does == "play":
            await self._toggle_play()
        elif does == "measure":
            await self._measure()
        else:
            await self._accept()

    async def _choose(self, drives: str) -> None:
        self._chosen = drives
        if self._live.plays and self._live.plays != drives:
            await self._start(drives)
        self._show_rows()

    async def _step(self, does: str) -> None:
        names = [row.drives for row in self._rows()]
        order = names if does == "next" else names[::-1]
        following = order[order.index(self._chosen) :][1:2] if self._chosen in order else []
        if following:
            await self._choose(following[0])

    async def _trim(self, steps: int) -> None:
        drives = self._chosen
        done = self._page.apply(
            lambda job: edit_levels.with_trim_stepped(job, drives, steps), f"trim of {drives}"
        )
        if done and self._live.plays == drives:
            await self._start(drives)

    async def _toggle_play(self) -> None:
        if self._live.plays:
            self._live.stop_sound()
        else:
            await self._start(self._chosen)
        self._show_rows()

    async def _start(self, drives: str) -> None:
        if self._page.session.work.holds:
            self._page.notify(f"{self._page.session.work.holds} is running; stop it first")
            return
        try:
            await self._live.play(drives)
        except (DeviceError, InputError) as error:
            self._page.complain(error)

    async def _measure(self) -> None:
        drives = self._chosen

        def work(_: Progress, source: LiveInput) -> LevelRow:
            bench, job, _station = source.bench()
            row = next(row for row in set_levels.level_rows(job) if row.drives == drives)
            return set_levels.measured_row(job, bench, row)

        found = await self._live.run(self._page, f"Level of {drives}", work)
        if found is not None:
            self._live.rows[drives] = found
            self._shown_again()

    async def _accept(self) -> None:
        row = next((row for row in self._rows() if row.drives == self._chosen), None)
        if row is None or self._page.session.work.holds:
            return
        if row.asked_db is None:
            await self._measure()
            return
        accept = partial(level_assistant.accepted, row=row)
        if row.asked_db == row.trim_db or self._page.apply(accept, f"trim of {row.drives}"):
            await self._step("next")

    async def _set_all(self) -> None:
        rows, folder = self._live.rows, self._page.session.folder

        def work(progress: Progress, source: LiveInput) -> None:
            bench, job, station = source.bench()
            rows.clear()
            set_levels.set_levels(
                folder,
                bench,
                job,
                station.id,
                progress,
                on_row=lambda row: rows.update({row.drives: row}),
            )

        await self._live.run(self._page, "Setting levels", work)
        self._shown_again()

    async def _store(self) -> None:
        folder = self._page.session.folder

        def work(_: Progress, source: LiveInput) -> str:
            bench, job, station = source.bench()
            level_reference.store_reference(folder, bench, job, station)
            return "The reference level is stored with the job."

        self._say(await self._live.run(self._page, "Reference level", work))

    async def _return(self) -> None:
        folder = self._page.session.folder

        def work(_: Progress, source: LiveInput) -> str:
            bench, job, station = source.bench(level_reference.as_stored(folder.job))
            found = level_reference.compare_with_reference(job, bench, station)
            if found.change_db and found.possible:
                level_reference.return_to_reference(folder, folder.job, found)
            return f"{found.says}."

        self._say(await self._live.run(self._page, "Return to the stored level", work))

    def _say(self, sentence: str | None) -> None:
        if sentence and not self._page.gone and not self._said.is_deleted:
            self._said.text = sentence

    def _shown_again(self) -> None:
        if not self._page.gone and not self._said.is_deleted:
            self._show_rows()


def _with_plan(name: str, job: Job, value: float) -> Job:
    return edit_levels.with_levels(job, **{name: value})


def _with_offset(group: LevelGroup, job: Job, value: float) -> Job:
    return edit_levels.with_group_offset(job, group, value)
