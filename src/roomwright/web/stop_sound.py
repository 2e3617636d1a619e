"""A stop for whatever makes a sound: a key that works everywhere, and a large button."""

from __future__ import annotations

from typing import Final

from nicegui import ui

from roomwright.web.elements import style
from roomwright.web.live import live
from roomwright.web.page import JobPage

_LOOK_S: Final = 0.2

#: Escape in any place, whatever has the focus: caught before anything else sees it.
_LISTEN: Final = """<script>
window.addEventListener('keydown', (event) => {
  if (event.key === 'Escape' && !event.repeat && window.emitEvent) emitEvent('rw-stop');
}, { capture: true });
</script>"""

_STYLE: Final = """
.rw-stop { position: fixed; left: 10px; bottom: 12px; z-index: 7000; }
.rw-stop .q-btn { min-height: 56px; font-size: 18px; font-weight: 600; padding: 4px 22px;
  box-shadow: 0 3px 14px #0008; }
@media (max-width: 1100px) {
  .rw-stop { left: 6px; }
  .rw-stop .q-btn { width: 120px; font-size: 16px; padding: 4px 6px; }
}
.rw-stop .q-btn__content { color: var(--rw-ground); }
"""


class StopSound:
    """The key and the button of one window; the button is there while there may be sound."""

    def __init__(self, page: JobPage) -> None:
        self._live = live(page.session)
        style(_STYLE)
        ui.add_body_html(_LISTEN)
        ui.on("rw-stop", self._live.stop_sound)
        with ui.element("div").classes("rw-stop") as self._box:
            ui.button("■ Stop (Esc)", on_click=self._live.stop_sound).props(
                'unelevated color=negative aria-label="stop the sound (Escape)"'
            )
        self._box.set_visibility(False)
        ui.timer(_LOOK_S, self._look)

    def _look(self) -> None:
        if self._box.visible != self._live.sounds:
            self._box.set_visibility(self._live.sounds)
