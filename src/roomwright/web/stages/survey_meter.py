"""The live meter on the survey's screen: level, spectrum, exposure."""

from __future__ import annotations

from typing import Final

from nicegui import ui
from nicegui.events import ValueChangeEventArguments

from roomwright._errors import DeviceError, InputError
from roomwright.commissioning.levels.live_meter import LEVEL_NAMES, LevelName
from roomwright.commissioning.levels.meter_words import meter_reading
from roomwright.web.components.level_meter import LevelMeter
from roomwright.web.elements import PRIMARY, SECOND, Word
from roomwright.web.live import Live, live
from roomwright.web.page import JobPage

#: A reading is sent this often, seconds: well over ten a second.
_SEND_S: Final = 0.07


class MeterPart:
    """Built in the current slot; sends readings while it is seen and the meter runs."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._live: Live = live(page.session)
        self._seen: object = self
        with ui.element("div").classes("rw-row"):
            self._power = ui.button(on_click=self._toggle)
            ui.toggle(list(LEVEL_NAMES), value=self._live.level, on_change=self._choose).props(
                'dense unelevated no-caps toggle-color=primary aria-label="level shown"'
            )
            ui.button("Restart", on_click=self._live.restart).props(
                f'{SECOND} aria-label="forget Leq, peak and peak hold"'
            )
        self._meter = LevelMeter("sound level meter")
        self._exposure = Word("", "div", "rw-small")
        self._trouble = Word("", "div", "rw-doubt").props("role=status")
        self._timer = ui.timer(_SEND_S, self._send)
        self._show_power()

    def shown(self, *, shown: bool) -> None:
        """Send readings only while they are seen."""
        self._timer.active = shown

    def _show_power(self) -> None:
        on = self._live.on
        self._power.text = "Meter off" if on else "Meter on"
        self._power.props(remove=f"{PRIMARY} {SECOND}").props(SECOND if on else PRIMARY)

    async def _toggle(self) -> None:
        if self._live.on:
            await self._live.close()
            return
        self._power.set_enabled(False)
        try:
            await self._live.open()
        except (DeviceError, InputError) as error:
            self._page.complain(error)
        finally:
            if not self._page.gone:
                self._power.set_enabled(True)

    def _choose(self, event: ValueChangeEventArguments[LevelName]) -> None:
        self._live.choose(event.value)

    def _send(self) -> None:
        view, trouble = self._live.view, self._live.trouble
        self._say(self._trouble, f"▲ {trouble}" if trouble else "")
        if (self._power.text == "Meter off") != self._live.on:
            self._show_power()
        if view is self._seen:
            return
        self._seen = view
        self._meter.show(None if view is None else meter_reading(view))
        says = "" if view is None else f"Exposure at the microphone: {view.exposure_says}."
        self._say(self._exposure, says)

    @staticmethod
    def _say(word: Word, text: str) -> None:
        if word.text != text:
            word.text = text
