"""A sound level in large figures over its third octaves with peak hold."""

from __future__ import annotations

from nicegui.element import Element

from roomwright.commissioning.levels.meter_words import MeterReading


class LevelMeter(Element, component="level_meter.js"):
    """Shows what it is sent at once; nothing is kept between two readings.

    Parameters
    ----------
    name
        What screen readers call it.
    """

    def __init__(self, name: str) -> None:
        super().__init__()
        self._props["label"] = name

    def show(self, reading: MeterReading | None) -> None:
        """Show a reading, or that the meter is off."""
        self.run_method("show", None if reading is None else reading.sent())
