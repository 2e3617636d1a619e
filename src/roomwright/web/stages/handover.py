"""The screen of the handover stage: the report and the files, made and fetched."""

from __future__ import annotations

from pathlib import Path
from typing import Final
from urllib.parse import quote

from nicegui import ui

from roomwright import commissioning
from roomwright._progress import Progress
from roomwright.commissioning import HandedOver
from roomwright.web.elements import PRIMARY, SECOND, Word, style
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
.rw-handover .q-btn--dense { padding: 1px 9px; }
.rw-settings { width: auto; max-width: none; font-size: 12px; }
.rw-settings td { padding: 3px 14px 3px 0; white-space: nowrap; }
.rw-files a { color: var(--rw-accent); }
"""


def show(page: JobPage) -> None:
    """Build the screen in the current slot."""
    style(_STYLE)
    with ui.element("div").classes("rw-handover rw-column"):
        _build(page)


def _build(page: JobPage) -> None:
    states = {state.stage: state for state in page.session.stages(page.label)}
    ready = states["tuning"].state == "done"
    state = states["handover"]
    with ui.element("div").classes("rw-row"):
        if not ready:
            missing = "survey" if states["survey"].state == "empty" else "tuning"
            ui.label(f"There is nothing to hand over yet: {states[missing].says}.")
            ui.button(f"Go to {missing}", on_click=lambda: page.go(missing)).props(PRIMARY)
        else:
            text = "Make report and files" if state.state == "empty" else "Make them again"
            button = ui.button(text, on_click=lambda: _hand_over(page))
            button.props(SECOND if state.state == "done" else PRIMARY)
            button.set_enabled(not page.session.work.holds)
            tone = "rw-doubt" if state.state == "out of date" else ""
            mark = "▲ " if tone else ""
            ui.label(f"{mark}{state.says[0].upper()}{state.says[1:]}.").classes(tone)
    if ready and states["proof"].state != "done":
        with ui.element("div").classes("rw-row"):
            ui.label(
                f"▲ The proof is {states['proof'].state}: the report will say what is predicted "
                "only."
            ).classes("rw-doubt")
            ui.button("Go to proof", on_click=lambda: page.go("proof")).props(SECOND)
    files = commissioning.handed_files(page.session.folder)
    if files:
        _build_files(page, files)
    if ready:
        _build_settings(page)


def _build_files(page: JobPage, files: tuple[Path, ...]) -> None:
    outputs = page.session.path / "outputs"
    address = f"/job/{quote(_name())}/outputs"
    with ui.element("table").classes("rw-files"):
        with ui.element("thead"), ui.element("tr"):
            for title in ("file", "what it is", "size", ""):
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


def _build_settings(page: JobPage) -> None:
    columns, *rows = commissioning.settings_table(page.job)
    ui.label("What goes into the processor").classes("rw-title")
    with ui.element("table").classes("rw-files rw-settings"):
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
