"""Text that follows a drag."""

from __future__ import annotations

from nicegui.element import Element


class LiveWord(Element, component="live_word.js"):
    """Text that may change many times a second; `elements.Word` is for text that stands.

    A change goes to the browser at once and draws nothing else anew.
    """

    def __init__(self) -> None:
        super().__init__()
        self._text = ""
        self.on("ready", lambda: self.run_method("say", self._text), [])

    def say(self, text: str) -> None:
        """Show this text."""
        if text != self._text:
            self._text = text
            self.run_method("say", text)
