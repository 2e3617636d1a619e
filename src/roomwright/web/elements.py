"""Elements that the toolkit does not have."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Final
from weakref import WeakKeyDictionary

from nicegui import Client, ui
from nicegui.elements.mixins.text_element import TextElement

#: Looks of buttons: the one that leads on, and all others.
PRIMARY: Final = "unelevated dense color=primary text-color=dark"
SECOND: Final = "outline dense color=primary"

_STYLED: WeakKeyDictionary[Client, set[str]] = WeakKeyDictionary()


def style(css: str) -> None:
    """Add a style sheet to the page being built, once however often it is asked for."""
    styled = _STYLED.setdefault(ui.context.client, set())
    if css not in styled:
        styled.add(css)
        ui.add_css(css)


class Part:
    """A part of a screen that is built again only when what it shows differs.

    What has the focus or is just being pressed must not be taken away and put there anew.
    """

    def __init__(self, classes: str = "rw-column") -> None:
        self.element = ui.element("div").classes(classes)
        self._shown: object = Part

    @property
    def left(self) -> bool:
        """Whether its screen was left; then nothing may be built in it any more."""
        return self.element.is_deleted

    def show(self, what: object, build: Callable[[], None]) -> None:
        """Show `what`, compared by `==`; `build` makes its elements in the current slot."""
        if self.left or what == self._shown:
            return
        self._shown = what
        self.element.clear()
        with self.element:
            build()


def focus_first(inside: ui.element, selector: str, or_else: ui.element | None = None) -> None:
    """Give the focus to the first of the elements in `inside`, which were just built again."""
    other = "null" if or_else is None else f"getHtmlElement({or_else.id})"
    inside.client.run_javascript(
        f"requestAnimationFrame(() => (getHtmlElement({inside.id})"
        f"?.querySelector({json.dumps(selector)}) || {other})?.focus())"
    )


class Word(TextElement):
    """Text in an HTML element of one's choice; it is never read as markup."""

    def __init__(self, text: str, tag: str = "span", classes: str = "") -> None:
        super().__init__(tag=tag, text=text)
        self.classes(classes)
