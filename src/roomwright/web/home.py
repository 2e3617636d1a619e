"""The first page: the jobs there are, and a new one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final
from urllib.parse import quote

from nicegui import ui

from roomwright._errors import InputError
from roomwright.commissioning import (
    box_room,
    demo_job,
    new_job,
    parse_rate,
    parse_size,
    stages,
)
from roomwright.model import Job
from roomwright.store import open_job
from roomwright.web.elements import Word
from roomwright.web.jobs import Jobs
from roomwright.web.preferences import Preferences
from roomwright.web.theme import dress

_RATES: Final = (44100, 48000, 88200, 96000, 192000)


def show_home(jobs: Jobs, cookies: Mapping[str, str]) -> None:
    """Build the first page."""
    dress(dark=Preferences.from_cookies(cookies).dark)
    with ui.element("main").classes("rw-home"):
        Word("Roomwright", "h1", "rw-title")
        folders = jobs.folders()
        if folders:
            with ui.element("div").classes("rw-jobs"):
                for name, path in folders.items():
                    _show_job(name, path)
        else:
            ui.label("There are no jobs here yet.").classes("rw-quiet")
        if jobs.library is None:
            ui.label("Start the program with a folder of jobs to make new ones in it.").classes(
                "rw-quiet"
            )
        else:
            _NewJob(jobs)


def _show_job(name: str, path: Path) -> None:
    try:
        with open_job(path) as folder:
            job = folder.job
    except InputError as error:
        with ui.element("div").classes("rw-panel rw-job"):
            Word(name, "h2", "rw-title")
            Word(f"▲ {error}", "p", "rw-bad rw-small")
        return
    with ui.element("a").classes("rw-panel rw-job").props(f'href="/job/{quote(name)}"'):
        Word(job.name, "h2", "rw-title")
        Word(f"{job.layout}, {len(job.seats)} seats", "p", "rw-small")
        done = [state.stage for state in stages(job) if state.state == "done"]
        old = [state.stage for state in stages(job) if state.state == "out of date"]
        Word(f"■ done: {', '.join(done) or 'nothing'}", "p", "rw-small rw-good")
        if old:
            Word(f"▲ out of date: {', '.join(old)}", "p", "rw-small rw-doubt")
        Word(str(path), "p", "rw-small rw-quiet")


class _NewJob:
    """The form of a new job; what is wrong is said under it."""

    def __init__(self, jobs: Jobs) -> None:
        self._jobs = jobs
        with ui.element("section").classes("rw-panel rw-column"):
            Word("New job", "h2", "rw-title")
            with ui.element("div").classes("rw-row"):
                self._name = _field("Name", "", "width: 200px")
                self._layout = _field("Layout", "7.4.4", "width: 150px")
                self._size = _field("Width x length x height, m", "5.4x7.2x2.8", "width: 190px")
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
            with ui.element("div").classes("rw-row"):
                ui.button("Make the job", on_click=lambda: self._make(self._job))
                ui.button(
                    "Make an invented cinema to try", on_click=lambda: self._make(demo_job)
                ).props("outline")

    def _job(self) -> Job:
        name = str(self._name.value).strip()
        if not name:
            raise InputError("the job needs a name")
        return new_job(
            name,
            layout=str(self._layout.value).strip(),
            room=box_room(parse_size(str(self._size.value))),
            rows=_whole("rows", self._rows.value, 20),
            seats_per_row=_whole("seats in a row", self._seats.value, 40),
            sampling_rate_hz=parse_rate(int(self._rate.value or 0)),
        )

    def _make(self, lay_out: Callable[[], Job]) -> None:
        try:
            name = self._jobs.create(lay_out())
        except InputError as error:
            self._wrong.text = str(error)
            return
        ui.navigate.to(f"/job/{quote(name)}")


def _field(label: str, value: str, style: str) -> ui.input:
    return ui.input(label, value=value).props("outlined dense").style(style)


def _count(label: str, value: int, most: int) -> ui.number:
    number = ui.number(label, value=value, min=1, max=most, step=1, precision=0)
    return number.props("outlined dense").style("width: 105px")


def _whole(what: str, value: float | None, most: int) -> int:
    if value is None or not 1 <= value <= most or value != int(value):
        raise InputError(f"the number of {what} is a whole number from 1 to {most}")
    return int(value)
