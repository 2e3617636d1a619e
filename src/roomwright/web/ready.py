"""Nothing can be typed or dragged before the page is connected.

On connecting, the toolkit sends values and elements that waited for the connection; what is typed
before would be overwritten by them.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Final

from nicegui import ui

_HOLD: Final = """<script>
document.body.inert = true;
document.body.setAttribute('aria-busy', 'true');
</script>"""

#: Comes after all that waited for the connection, and is put off until that is drawn.
_RELEASE: Final = """setTimeout(() => {
  document.body.inert = false;
  document.body.removeAttribute('aria-busy');
})"""

_STYLE: Final = """
html:has(body[inert]) { cursor: progress; }
body[inert]::before { content: ""; position: fixed; inset: 0 0 auto; height: 3px; z-index: 9999;
  background: linear-gradient(90deg, transparent, var(--rw-accent), transparent) 0 0 / 40% 100%
    no-repeat; opacity: 0; animation: rw-coming 1.2s 0.4s infinite linear; }
@keyframes rw-coming { from { background-position: -60% 0; opacity: 1; }
  to { background-position: 160% 0; opacity: 1; } }
"""


def hold_until_ready(first: Callable[[], Awaitable[None]] | None = None) -> None:
    """Make the page being built inert until it is connected and shows all that it was sent.

    `first` is done in between, with the connection.
    """
    ui.add_css(_STYLE)
    ui.add_body_html(_HOLD)
    client = ui.context.client

    async def release() -> None:
        try:
            if first is not None:
                await first()
        finally:
            client.run_javascript(_RELEASE)

    client.on_connect(release)
