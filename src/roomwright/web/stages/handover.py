"""The screen of the handover stage: the report and the files, made and fetched."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final
from urllib.parse import quote

from nicegui import ui

from roomwright import commissioning
from roomwright._progress import Progress
from roomwright.commissioning import HandedOver
from roomwright.web.elements import PRIMARY, SECOND, Part, Word, style
from roomwright.web.page import JobPage

#: What each file is for; FIR files are named by their output.
_PURPOSES: Final = {
    "report.pdf": "the report: what was done, reached and found, for the client and the file",
    "settings.csv": "trims, delays, polarity and filters of every output, as a table",
    "settings.json": "the same for programs",
    "biquads.csv": "every biquad with its coefficients",
    "sweep.wav": "the sweep to play with another program",
}
_FIR: Final = "the FIR filter of this output"

_STYLE: Final = """
.rw-files { border-collapse: collapse; max-width: 900px; width: 100%; }
.rw-files td, .rw-files th { text-align: left; padding: 5px 16px 5px 0;
  border-bottom: 1px solid var(--rw-line); }
.rw-files th { font-weight: 500; font-size: 12px; color: var(--rw-quiet); }
.rw-files td.figure { text-align: right; white-space: nowrap; }
.rw-handover { gap: 12px; }
.rw-wide-table { overflow-x: auto; max-width: 100%; }
.rw-handover > * { min-width: 0; }
.rw-handover .q-btn--dense { padding: 1px 9px; }
.rw-settings { width: auto; max-width: none; font-size: 12px; }
.rw-settings td { padding: 3px 14px 3px 0; white-space: nowrap; }
@media (max-width: 1100px) { .rw-settings td { padding-right: 8px; white-space: normal; } }
.rw-files a { color: var(--rw-accent); }
"""


def show(page: JobPage) -> None:
    """Build the screen in the current slot."""
    style(_STYLE)
    _Handover(page)


class _Handover:
    """What can be made, what was made, and what goes into the processor."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        with ui.element("div").classes("rw-handover rw-column"):
            with ui.element("div").classes("rw-row"):
                self._back = ui.button(on_click=lambda: page.go(self._missing)).props(PRIMARY)
                self._make = ui.button(on_click=lambda: _hand_over(page))
                self._says = Word("").props("role=status")
            with ui.element("div").classes("rw-row") as self._unproved:
                self._doubt = Word("", "span", "rw-doubt")
                ui.button("Go to proof", on_click=lambda: page.go("proof")).props(SECOND)
            self._files, self._settings = Part(), Part()
        self._update()
        page.on_change(self._update)

    def _update(self) -> None:
        page = self._page
        states = {state.stage: state for state in page.session.stages(page.label)}
        ready, state = states["tuning"].state == "done", states["handover"]
        self._missing = "survey" if states["survey"].state == "empty" else "tuning"
        self._back.text = f"Go to {self._missing}"
        self._back.set_visibility(not ready)
        self._make.text = "Make report and files" if state.state == "empty" else "Make them again"
        self._make.props(remove=f"{PRIMARY} {SECOND}")
        self._make.props(SECOND if state.state == "done" else PRIMARY)
        self._make.set_enabled(not page.session.work.holds)
        self._make.set_visibility(ready)
        old = ready and state.state == "out of date"
        self._says.text = (
            f"{'▲ ' if old else ''}{state.says[0].upper()}{state.says[1:]}."
            if ready
            else f"There is nothing to hand over yet: {states[self._missing].says}."
        )
        self._says.classes(add="rw-doubt" if old else "", remove="" if old else "rw-doubt")
        self._doubt.text = (
            f"▲ The proof is {states['proof'].state}: the report will say what is predicted only."
        )
        self._unproved.set_visibility(ready and states["proof"].state != "done")
        files = commissioning.handed_files(page.session.folder)
        sized = tuple((file, _size(file)) for file in files)
        self._files.show(sized, lambda: _build_files(page, files) if files else None)
        settings = commissioning.settings_table(page.job) if ready else []
        self._settings.show(settings, lambda: _build_settings(settings) if settings else None)


def _build_files(page: JobPage, files: tuple[Path, ...]) -> None:
    outputs = page.session.path / "outputs"
    address = f"/job/{quote(_name())}/outputs"
    with ui.element("table").classes("rw-files"):
        with ui.element("thead"), ui.element("tr"):
            for title in ("file", "what it is", "size", "to keep"):
                Word(title, "th").props("scope=col")
        with ui.element("tbody"):
            for file in files:
                name = file.relative_to(outputs).as_posix()
                with ui.element("tr"):
                    with ui.element("td"):
                        ui.link(name, f"{address}/{quote(name)}", new_tab=True)
                    Word(_PURPOSES.get(name, _FIR if name.startswith("fir/") else ""), "td")
                    Word(_size(file), "td", "figure")
                    with ui.element("td"):
                        ui.button("Download", on_click=lambda f=file: ui.download.file(f)).props(
                            f'{SECOND} aria-label="download {name}"'
                        )


def _build_settings(settings: Sequence[Sequence[str]]) -> None:
    columns, *rows = settings
    Word("What goes into the processor", "h2", "rw-title")
    with (
        ui.element("div")
        .classes("rw-wide-table")
        .props('tabindex=0 role=region aria-label="settings of the processor"'),
        ui.element("table").classes("rw-files rw-settings"),
    ):
        with ui.element("thead"), ui.element("tr"):
            for title in columns:
                Word(title, "th").props("scope=col")
        with ui.element("tbody"):
            for row in rows:
                with ui.element("tr"):
                    for cell in row:
                        Word(cell, "td")


async def _hand_over(page: JobPage) -> None:
    folder = page.session.folder

    def work(progress: Progress) -> HandedOver:
        return commissioning.hand_over(folder, progress)

    if await page.run("Handover", work) is not None and not page.gone:
        page.notify("The report and the files are made.")


def _name() -> str:
    """The job's name in this page's address."""
    return str(ui.context.client.request.path_params["name"])


def _size(file: Path) -> str:
    kilobytes = file.stat().st_size / 1000
    return f"{kilobytes:.0f} kB" if kilobytes < 1000 else f"{kilobytes / 1000:.1f} MB"
