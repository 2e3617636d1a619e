"""What a survey needs beside its takes, each unfolded above them when it is wanted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final, Protocol
from weakref import WeakKeyDictionary

from nicegui import background_tasks, ui

from roomwright.commissioning.survey.redo import Pair
from roomwright.web.elements import SECOND, style
from roomwright.web.live import live
from roomwright.web.page import JobPage
from roomwright.web.stages.survey_interface import InterfacePanel
from roomwright.web.stages.survey_levels import LevelsPanel
from roomwright.web.stages.survey_measure import MeasurePanel, Surveying
from roomwright.web.stages.survey_places import PlacesPanel
from roomwright.web.stages.survey_stations import StationsPanel


class Panel(Protocol):
    """One tool, built in the current slot."""

    def update(self) -> None:
        """Follow the job."""
        ...

    def shown(self, *, shown: bool) -> None:
        """Be told whether it is seen."""
        ...


_MEASURE: Final = "Measure"

_TOOLS: Final[dict[str, Callable[[JobPage], Panel]]] = {
    "Interface and microphone": InterfacePanel,
    "Meter and levels": LevelsPanel,
    "Where to measure": StationsPanel,
    "Where loudspeakers are": PlacesPanel,
}

_STYLE: Final = """
.rw-tool[aria-expanded=true] .q-btn__content { font-weight: 600; }
.rw-tool[aria-expanded=true] { background: var(--rw-raised) !important;
  box-shadow: inset 0 -3px var(--rw-accent); }
.rw-tool-panel h2 { margin: 0; }
.rw-tool-panel .q-field--dense .q-field__control,
.rw-tool-panel .q-field--dense .q-field__marginal { min-height: 40px; height: 40px; }
.rw-tool-panel .q-field--dense.q-field--outlined .q-field__native { min-height: 40px; }
.rw-tool-panel .q-field--labeled.q-field--dense.q-field--outlined .q-field__native {
  padding: 14px 0 2px; }
.rw-tool-panel .q-select.q-field--labeled.q-field--dense.q-field--outlined .q-field__native {
  min-height: 24px; padding: 0 0 2px; }
.rw-pairs { display: grid; grid-template-columns: auto 1fr; gap: 2px 12px; margin: 0; }
.rw-pairs dt { color: var(--rw-quiet); } .rw-pairs dd { margin: 0; }
.rw-list-table { border-collapse: collapse; width: 100%; }
.rw-list-table th { text-align: left; font-weight: 500; color: var(--rw-quiet);
  padding: 2px 10px 2px 0; }
.rw-list-table td { padding: 2px 10px 2px 0; border-top: 1px solid var(--rw-line);
  vertical-align: top; }
.rw-list-table tr:first-child td { border: 0; }
.rw-list-table .rw-number { white-space: nowrap; }
"""

#: What is unfolded in each window.
_OPEN: WeakKeyDictionary[JobPage, str] = WeakKeyDictionary()


class Tools:
    """A row of buttons, and beneath it the one tool that is unfolded.

    Parameters
    ----------
    page
        The window.
    survey
        Runs a survey, see `survey_measure.Surveying`.
    mark
        Marks a station on the plan.
    """

    def __init__(self, page: JobPage, survey: Surveying, mark: Callable[[str], object]) -> None:
        self._page = page
        self._make: dict[str, Callable[[JobPage], Panel]] = {
            **_TOOLS,
            _MEASURE: lambda page: MeasurePanel(page, survey, mark),
        }
        self._panels: dict[str, tuple[ui.element, Panel]] = {}
        style(_STYLE)
        with ui.element("div").classes("rw-row") as self._row:
            self._buttons = {
                name: ui.button(name, on_click=partial(self._toggle, name))
                .props(f'{SECOND} aria-expanded="false"')
                .classes("rw-tool")
                for name in self._make
            }
        self._slot = ui.element("div").classes("w-full")
        self._show(_OPEN.get(page, ""))

    async def measure(self, title: str, pairs: Sequence[Pair] | None) -> None:
        """Unfold what measures, and measure pairs of source and station, or everything."""
        self._show(_MEASURE)
        panel = self._panels[_MEASURE][1]
        if isinstance(panel, MeasurePanel):
            await panel.measure(title, pairs)

    def update(self) -> None:
        """Follow the job."""
        for _, panel in self._panels.values():
            panel.update()
        background_tasks.create(live(self._page.session).renew(), name="live input")

    def _toggle(self, name: str) -> None:
        self._show("" if _OPEN.get(self._page) == name else name)

    def _show(self, name: str) -> None:
        _OPEN[self._page] = name
        if name and name not in self._panels:
            with self._slot:
                box = ui.element("section").classes("rw-panel rw-tool-panel rw-column")
                box.props(f'aria-label="{name}"')
                with box:
                    self._panels[name] = box, self._make[name](self._page)
        for other, button in self._buttons.items():
            button.props(f'aria-expanded="{"true" if other == name else "false"}"')
        for other, (box, panel) in self._panels.items():
            box.set_visibility(other == name)
            panel.shown(shown=other == name)
        if name:
            ui.run_javascript(f"getHtmlElement({self._row.id}).scrollIntoView()")
