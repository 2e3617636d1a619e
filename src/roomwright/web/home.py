"""The first page: the jobs there are, how far each is, and a new one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, TypeVar
from urllib.parse import quote

from nicegui import ui
from nicegui.elements.mixins.validation_element import ValidationElement

from roomwright._errors import InputError
from roomwright.commissioning import (
    StageState,
    box_room,
    demo_job,
    new_job,
    parse_rate,
    parse_size,
    stages,
)
from roomwright.model import Job
from roomwright.store import open_job
from roomwright.web.elements import PRIMARY, SECOND, Word, style
from roomwright.web.jobs import Jobs
from roomwright.web.preferences import Preferences
from roomwright.web.theme import dress
from roomwright.web.way import SHAPES

T = TypeVar("T")

_RATES: Final = (44100, 48000, 88200, 96000, 192000)

_STYLE: Final = """
.rw-home h1 { font-size: 22px; }
.rw-home h1 + p { margin: 2px 0 0; max-width: 78ch; }
.rw-two-sides { display: grid; grid-template-columns: minmax(0, 1.7fr) minmax(300px, 1fr);
  gap: 24px; align-items: start; }
.rw-jobs { display: flex; flex-direction: column; gap: 10px; margin: 0; padding: 0;
  list-style: none; }
.rw-job { display: flex; flex-direction: column; gap: 7px; color: var(--rw-text);
  text-decoration: none; padding: 12px 14px; }
.rw-job p { margin: 0; overflow-wrap: anywhere; }
a.rw-job:hover { border-color: var(--rw-accent); background: var(--rw-raised); }
.rw-job-head { display: flex; align-items: baseline; gap: 12px; flex-wrap: wrap; }
.rw-job-head h3 { font-size: 15px; font-weight: 600; margin: 0; line-height: 1.3;
  flex: 1 1 auto; }
.rw-steps { display: grid; grid-template-columns: repeat(7, minmax(0, 1fr)); gap: 4px; margin: 0;
  padding: 0; list-style: none; font-size: 12px; }
.rw-steps li { border-top: 3px solid var(--rw-line); padding-top: 3px; white-space: nowrap;
  text-transform: capitalize; color: var(--rw-quiet); }
.rw-steps .rw-good { border-color: var(--rw-good); color: var(--rw-text); }
.rw-steps .rw-doubt { border-color: var(--rw-doubt); color: var(--rw-text); }
.rw-steps .rw-shape { font-size: 10px; margin-right: 4px; }
.rw-steps .rw-good .rw-shape { color: var(--rw-good); }
.rw-steps .rw-doubt .rw-shape { color: var(--rw-doubt); }
.rw-new { display: grid; grid-template-columns: repeat(6, minmax(0, 1fr)); gap: 10px; }
.rw-new > * { grid-column: span 2; }
.rw-new > .rw-whole { grid-column: 1 / -1; }
.rw-home code { font-size: 12px; overflow-wrap: anywhere; }
.rw-home .rw-panel p { margin: 0; }
@media (max-width: 900px) { .rw-two-sides { grid-template-columns: minmax(0, 1fr); } }
@media (max-width: 560px) { .rw-steps { grid-template-columns: repeat(4, minmax(0, 1fr)); } }
"""


def show_home(jobs: Jobs, cookies: Mapping[str, str]) -> None:
    """Build the first page."""
    dress(dark=Preferences.from_cookies(cookies).dark)
    style(_STYLE)
    with ui.element("div").classes("rw-home"):
        with ui.element("header"):
            Word("Roomwright", "h1", "rw-title")
            Word(
                "From the drawing of a private cinema to its proof: seven stages, each of which "
                "says what it needs and what comes next.",
                "p",
                "rw-quiet",
            )
        with ui.element("div").classes("rw-two-sides"):
            with ui.element("section").classes("rw-column"):
                _show_jobs(jobs)
            with ui.element("div").classes("rw-column").style("gap: 14px"):
                if jobs.library is None:
                    Word(
                        "Start the program with a folder of jobs to make new ones in it.",
                        "p",
                        "rw-quiet",
                    )
                else:
                    _NewJob(jobs)
                    _say_where(jobs.library)


def _show_jobs(jobs: Jobs) -> None:
    Word("Jobs", "h2", "rw-title")
    folders = sorted(jobs.folders().items(), key=lambda one: _changed(one[1]), reverse=True)
    if not folders:
        Word(
            "There are no jobs here yet. Make one from a room's size, or try the invented cinema: "
            "it can be measured, tuned and proved without any hardware.",
            "p",
            "rw-panel",
        )
        return
    with ui.element("ul").classes("rw-jobs"):
        for name, path in folders:
            with ui.element("li"):
                _show_job(name, path)


def _show_job(name: str, path: Path) -> None:
    try:
        with open_job(path) as folder:
            job = folder.job
    except InputError as error:
        with ui.element("div").classes("rw-panel rw-job"):
            Word(name, "h3", "rw-title")
            Word(f"▲ {error}", "p", "rw-bad rw-small")
        return
    changed = datetime.fromtimestamp(_changed(path), UTC).astimezone()
    with ui.element("a").classes("rw-panel rw-job").props(f'href="/job/{quote(name)}"'):
        with ui.element("div").classes("rw-job-head"):
            Word(job.name, "h3")
            Word(f"changed {changed:%d %b %Y, %H:%M}", "span", "rw-small rw-quiet")
        layout = "labels of its own" if "," in job.layout else job.layout
        seats = f"{len(job.seats)} seat{'' if len(job.seats) == 1 else 's'}"
        Word(f"{layout}, {seats}, {job.room.volume_m3:.0f} m³; {path}", "p", "rw-small rw-quiet")
        _show_steps(stages(job))


def _show_steps(states: tuple[StageState, ...]) -> None:
    with ui.element("ol").classes("rw-steps"):
        for state in states:
            shape, tone = SHAPES[state.state]
            with ui.element("li").classes(tone).props(f'title="{state.stage}: {state.state}"'):
                Word(shape, "span", "rw-shape")
                Word(state.stage)
    waiting = next((state for state in states if state.state != "done"), None)
    if waiting is None:
        Word("All stages are done.", "p")
    else:
        Word(f"Next: {waiting.stage} - {waiting.says}.", "p")


def _changed(path: Path) -> float:
    """When the job was last saved, as a time stamp; 0 if that cannot be told."""
    try:
        return (path / "job.json").stat().st_mtime
    except OSError:
        return 0.0


def _say_where(library: Path) -> None:
    with ui.element("section").classes("rw-panel rw-column"):
        Word("A job from elsewhere", "h2", "rw-title")
        with ui.element("p"):
            Word("A job is one folder. Copy it into ")
            Word(str(library), "code")
            Word(" and show this page again.")
        ui.button("Look again", on_click=ui.navigate.reload).props(SECOND).style(
            "align-self: flex-start"
        )


class _NewJob:
    """The form of a new job; what is wrong is said under it."""

    def __init__(self, jobs: Jobs) -> None:
        self._jobs = jobs
        with ui.element("section").classes("rw-panel rw-column"):
            Word("New job", "h2", "rw-title")
            with ui.element("div").classes("rw-new"):
                self._name = _field("Name", "").classes("rw-whole")
                self._size = _field("Width x length x height, m or ft", "5.4x7.2x2.8").style(
                    "grid-column: span 4"
                )
                self._layout = _field("Layout", "7.4.4")
                self._rows = _count("Rows of seats", 2, 20)
                self._seats = _count("Seats in a row", 4, 40)
                self._rate = ui.select(
                    {rate: f"{rate / 1000:g} kHz" for rate in _RATES}, value=48000, label="Rate"
                ).props("outlined dense options-dense")
            Word(
                "Layout: a BS.2051 system (name or letter), a count such as 7.4.4 (bed, "
                "subwoofers, height), or BS.2051 labels separated by commas. All of it can be "
                "changed later, but for the sampling rate.",
                "p",
                "rw-small rw-quiet",
            )
            self._wrong = Word("", "p", "rw-bad")
            self._wrong.props("role=alert")
            ui.button("Make the job", on_click=lambda: self._make(self._job)).props(PRIMARY).style(
                "align-self: flex-start"
            )
        with ui.element("section").classes("rw-panel rw-column"):
            Word("Nothing to measure yet?", "h2", "rw-title")
            Word(
                "An invented cinema stands in for the real one: the whole way, from room to "
                "report, in a few minutes.",
                "p",
            )
            ui.button(
                "Make an invented cinema to try", on_click=lambda: self._make(demo_job)
            ).props(SECOND).style("align-self: flex-start")

    def _job(self) -> Job:
        name = _read(self._name, lambda: _named(self._name.value))
        size = _read(self._size, lambda: parse_size(str(self._size.value)))
        rows = _read(self._rows, lambda: _whole("rows", self._rows.value, 20))
        seats = _read(self._seats, lambda: _whole("seats in a row", self._seats.value, 40))
        return new_job(
            name,
            layout=str(self._layout.value).strip(),
            room=box_room(size),
            rows=rows,
            seats_per_row=seats,
            sampling_rate_hz=parse_rate(int(self._rate.value or 0)),
        )

    def _make(self, lay_out: Callable[[], Job]) -> None:
        for field in (self._name, self._size, self._rows, self._seats):
            field.error = None
        try:
            name = self._jobs.create(lay_out())
        except InputError as error:
            fields = (self._name, self._size, self._rows, self._seats)
            self._wrong.text = "" if any(field.error for field in fields) else str(error)
            return
        ui.navigate.to(f"/job/{quote(name)}")


def _field(label: str, value: str) -> ui.input:
    return ui.input(label, value=value).props("outlined dense hide-bottom-space")


def _count(label: str, value: int, most: int) -> ui.number:
    number = ui.number(label, value=value, min=1, max=most, step=1, precision=0)
    return number.props("outlined dense hide-bottom-space")


def _read(field: ValidationElement[Any], value: Callable[[], T]) -> T:
    """A field's value; what is wrong with it is said under it."""
    try:
        return value()
    except InputError as error:
        field.error = str(error)
        raise


def _named(text: str | None) -> str:
    name = (text or "").strip()
    if not name:
        raise InputError("the job needs a name")
    return name


def _whole(what: str, value: float | None, most: int) -> int:
    if value is None or not 1 <= value <= most or value != int(value):
        raise InputError(f"the number of {what} is a whole number from 1 to {most}")
    return int(value)
