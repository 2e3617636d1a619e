"""The frame around every stage, and how a window follows the job."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Final

from nicegui import ui

from roomwright._errors import InputError
from roomwright.model import Job
from roomwright.store import dump_job
from roomwright.web.elements import Word
from roomwright.web.jobs import Jobs
from roomwright.web.page import JobPage
from roomwright.web.preferences import COOKIE, Preferences
from roomwright.web.session import JobSession
from roomwright.web.stages import STAGES, screen
from roomwright.web.stop_sound import StopSound
from roomwright.web.theme import dress
from roomwright.web.top_bar import TopBar
from roomwright.web.way import Way

_KEYS: Final = (
    ("Ctrl Z", "undo"),
    ("Ctrl Shift Z", "redo"),
    ("1 … 7", "open a stage"),
    ("?", "show these keys"),
    ("Esc", "stop the sound, wherever the focus is; close a menu or a dialog"),
)

#: Sends the frame's keys to the server, but none that is typed into a field.
_LISTEN: Final = """<script>
document.addEventListener('keydown', (event) => {
  const typing = event.target.closest && event.target.closest(
    'input, textarea, select, [contenteditable=true]');
  if (event.altKey || event.defaultPrevented || typing || document.body.inert) return;
  const command = event.ctrlKey || event.metaKey;
  let key = null;
  if (command && event.key.toLowerCase() === 'z') key = event.shiftKey ? 'redo' : 'undo';
  else if (command && event.key.toLowerCase() === 'y') key = 'redo';
  else if (!command && (event.key === '?' || /^[1-7]$/.test(event.key))) key = event.key;
  if (key === null) return;
  event.preventDefault();
  emitEvent('rw-key', key);
});
</script>"""

_PREFERS_LIGHT: Final = "return matchMedia('(prefers-color-scheme: light)').matches"

#: A browser that does not answer so long gets a dark page.
_ANSWER_S: Final = 5.0


def show_job(jobs: Jobs, name: str, cookies: Mapping[str, str], stage: str) -> None:
    """Build one window on a job, or the page that says why it cannot be shown."""
    likes = Preferences.from_cookies(cookies)
    try:
        session = jobs.session(name)
    except InputError as error:
        _show_refusal(error, likes)
    else:
        _Shell(session, likes, stage)


def _show_refusal(error: InputError, likes: Preferences) -> None:
    dress(dark=likes.dark)
    with ui.element("div").classes("rw-home"):
        Word("Roomwright", "h1", "rw-title")
        Word(f"▲ {error}", "p", "rw-panel rw-bad")
        ui.link("All jobs", "/")


class _Shell:
    """One window: what it shows, and how it follows the job."""

    def __init__(self, session: JobSession, likes: Preferences, stage: str) -> None:
        self._session = session
        self._dark = dress(dark=likes.dark, first=self._learn)
        ui.page_title(f"{session.job.name} - Roomwright")
        ui.add_body_html(_LISTEN)
        self.page = JobPage(session, likes, self._go)
        self.page.stage = stage if stage in STAGES else "room"
        self.page.rebuild = self._show_all
        self._noted = session.notes[-1][0] if session.notes else 0
        self._shown: tuple[Job, str | None, str] | None = None
        self._keys = _keys_dialog()
        with ui.element("div").classes("rw-frame"):
            self._top = TopBar(self.page, self._like, self._keys.open)
            with ui.element("div").classes("rw-trouble").props("role=alert") as self._trouble:
                self._build_trouble()
            self._way = Way(self._go)
            self._stage = ui.element("div").classes("rw-stage")
        StopSound(self.page)
        self._show_all()
        ui.on("rw-key", lambda event: self._key(str(event.args)))
        # What fails in this window is logged, and neither stops the others nor the change itself.
        client = ui.context.client
        client.on_delete(session.listen(lambda: client.safe_invoke(self._changed)))

    async def _learn(self) -> None:
        """Ask the browser whether it prefers light pages, unless the person has said so."""
        if self.page.preferences.dark is not None:
            return
        try:
            light = await ui.run_javascript(_PREFERS_LIGHT, timeout=_ANSWER_S)
        except TimeoutError:
            light = False
        self.page.preferences = dataclasses.replace(self.page.preferences, dark=not light)
        if light:
            self._show_all()

    def _changed(self) -> None:
        """Follow what happened to the job, in whichever window."""
        if self.page.gone:
            return
        for number, sentence in self._session.notes:
            if number > self._noted:
                self._noted = number
                self.page.notify(sentence)
        before = self._shown
        self._show_frame()
        if self.page.updates is not None:
            with self._stage:
                self.page.updates()
        elif before != self._shown:
            self._show_stage()

    def _key(self, key: str) -> None:
        if key == "undo":
            self.page.attempt(self._session.undo)
        elif key == "redo":
            self.page.attempt(self._session.redo)
        elif key == "?":
            self._keys.open()
        elif key in "1234567":
            self._go(STAGES[int(key) - 1])

    def _go(self, stage: str) -> None:
        if stage not in STAGES or stage == self.page.stage:
            return
        self.page.stage = stage
        ui.run_javascript(f"history.replaceState(null, '', '?stage={stage}')")
        self._show_all()

    def _like(self, **changes: object) -> None:
        """Take a preference, keep it in the browser, show everything by it."""
        likes = dataclasses.replace(self.page.preferences, **changes)  # type: ignore[arg-type]
        self.page.preferences = likes
        ui.run_javascript(
            f"document.cookie = '{COOKIE}={likes.cookie()}; path=/; max-age=31536000; SameSite=Lax'"
        )
        self._dark.value = self.page.dark
        self._show_all()

    def _show_all(self) -> None:
        self._show_frame()
        self._show_stage()

    def _show_frame(self) -> None:
        session = self._session
        self._shown = (session.job, session.work.holds, session.trouble)
        self._top.show()
        self._way.show(session.stages(self.page.label), self.page.stage)
        self._trouble.set_visibility(bool(session.trouble))
        self._says.text = f"▲ {session.trouble}"
        self._put_back.set_visibility(session.writable)

    def _build_trouble(self) -> None:
        self._says = Word("")
        self._put_back = ui.button(
            "Put this window's job back",
            on_click=lambda: self.page.attempt(self._session.put_back),
        ).props("outline dense")
        ui.button("Save a copy of job.json", on_click=self._download).props("outline dense")

    def _download(self) -> None:
        ui.download.content(dump_job(self._session.job), "job.json", "application/json")

    def _show_stage(self) -> None:
        self.page.updates = None
        self._stage.clear()
        with self._stage, ui.element("div").classes("rw-screen"):
            try:
                screen(self.page.stage)(self.page)
            except InputError as error:
                Word(f"▲ {error}", "p", "rw-bad").props("role=alert")


def _keys_dialog() -> ui.dialog:
    with ui.dialog().props('aria-label="keys"') as dialog, ui.card():
        Word("Keys", "h2", "rw-title")
        with ui.element("div").classes("rw-keys"):
            for keys, what in _KEYS:
                Word(keys, "kbd")
                Word(what)
        ui.button("Close", on_click=dialog.close).props("outline dense")
    return dialog
