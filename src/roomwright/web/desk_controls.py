"""Controls of the graph desk: lists to choose one or several from, and small buttons."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from nicegui import ui

from roomwright.web.desk_looks import summary
from roomwright.web.elements import Word


def several(
    name: str,
    options: dict[str, str],
    value: tuple[str, ...],
    choose: Callable[[tuple[Any, ...]], None],
) -> None:
    """A list to choose several from; closed, it says how many are chosen."""
    known = [one for one in value if one in options]
    box = ui.select(options, value=known, multiple=True)
    box.props(f'dense borderless options-dense aria-label="{name}"')
    box.classes("rw-desk-select")
    # An element of its own: a change of the list itself would send back what is chosen, over what
    # was pressed meanwhile.
    with box.add_slot("selected"):
        says = Word(summary(name, [options[one] for one in known]))

    def changed() -> None:
        picked = [one for one in options if one in box.value]
        says.text = summary(name, [options[one] for one in picked])
        choose(tuple(picked))

    box.on_value_change(changed)


def one_of(
    name: str,
    options: Mapping[Any, str | None],
    value: object,
    choose: Callable[[Any], None],
) -> ui.select:
    """A list to choose one from; an option without words stands for itself."""
    named = {key: key if text is None else text for key, text in options.items()}
    box = ui.select(named, value=value, on_change=lambda event: choose(event.value))
    return box.props(f'dense borderless options-dense aria-label="{name}"').classes(
        "rw-desk-select"
    )


def tool(text: str, says: str, press: Callable[[], None]) -> ui.element:
    """A small button; what it does shows on hover."""
    button = ui.element("button").classes("rg-tool").props(f'type=button title="{says}"')
    with button:
        ui.html(text, sanitize=False, tag="span")
    button.on("click", press, [])
    return button
