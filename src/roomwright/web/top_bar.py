"""The bar over every stage: undo, long work, how things are shown."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, Final

from nicegui import ui

from roomwright.web.elements import Word
from roomwright.web.page import JobPage

_NAMINGS: Final = {
    "bs2051": "M+030 (BS.2051)",
    "iec": "FL (IEC 62574)",
    "english": "left (English)",
}
_UNITS: Final = {"m": "metres", "ft": "feet, inches"}

_PROGRESS_EVERY_S: Final = 0.3


class TopBar:
    """Built once, then kept up to date, so that it keeps the focus.

    Parameters
    ----------
    page
        The window it stands in.
    like
        Takes a changed preference.
    keys
        Shows the keys.
    """

    def __init__(
        self, page: JobPage, like: Callable[..., None], keys: Callable[[], object]
    ) -> None:
        self._page, session = page, page.session
        with ui.element("header").classes("rw-top"):
            with ui.link(target="/").classes("rw-back").props('aria-label="all jobs"'):
                ui.icon("chevron_left", size="20px")
            self._name = Word("", "h1", "rw-title")
            self._undo = _Tool("undo", lambda: page.attempt(session.undo))
            self._redo = _Tool("redo", lambda: page.attempt(session.redo))
            with ui.element("div").classes("rw-task") as self._task:
                self._bar = ui.linear_progress(value=0.0, show_value=False)
                self._bar.props('aria-label="progress"')
                self._doing = Word("", classes="rw-doing rw-small").props("role=status")
                ui.button("Stop", on_click=self._stop).props("outline dense")
            ui.element("div").classes("rw-space")
            _choice("names of channels", _NAMINGS, page.naming, lambda to: like(naming=to))
            _choice("units of length", _UNITS, page.units, lambda to: like(units=to))
            self._light = _Tool("light_mode", lambda: like(dark=not page.dark))
            _Tool("keyboard", keys).say("keys (?)", possible=True)
        self._clock = ui.timer(_PROGRESS_EVERY_S, self._show_progress, active=False)

    def show(self) -> None:
        """Show how the job stands now."""
        session = self._page.session
        self._name.text = session.job.name
        for tool, name, step in (
            (self._undo, "undo", session.undoes),
            (self._redo, "redo", session.redoes),
        ):
            tool.say(self._page.said(f"{name} {step or ''}"), possible=step is not None)
        to = "light" if self._page.dark else "dark"
        self._light.say(f"show it {to}", possible=True, icon=f"{to}_mode")
        self._show_progress()

    def _show_progress(self) -> None:
        task = self._page.session.work.task
        self._clock.active = task is not None
        self._task.set_visibility(task is not None)
        if task is None:
            self._doing.text = ""
            return
        remaining = task.remaining_s()
        left = "" if remaining is None else f", {_duration(remaining)} to go"
        doing = "stopping" if task.cancelled else self._page.said(task.doing)
        self._bar.value = round(task.fraction, 3)
        self._doing.text = f"{task.title} {task.fraction:.0%}{left}: {doing}"

    def _stop(self) -> None:
        if self._page.session.work.task is not None:
            self._page.session.work.task.cancel()
            self._show_progress()


class _Tool:
    """A small button known by its icon, and by a name on hover and to screen readers."""

    def __init__(self, icon: str, action: Callable[[], Any]) -> None:
        self._button = ui.button(icon=icon, on_click=action).props("flat dense")
        with self._button:
            self._tip = ui.tooltip("")

    def say(self, name: str, *, possible: bool, icon: str = "") -> None:
        self._button.props(f"aria-label={json.dumps(name.strip(), ensure_ascii=False)}")
        self._button.set_enabled(possible)
        self._tip.text = name.strip()
        if icon:
            self._button.icon = icon


def _choice(name: str, options: dict[str, str], value: str, take: Callable[[str], None]) -> None:
    select = ui.select(options, value=value, on_change=lambda event: take(str(event.value)))
    select.props(f'dense borderless options-dense aria-label="{name}"').classes("rw-wide")


def _duration(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
