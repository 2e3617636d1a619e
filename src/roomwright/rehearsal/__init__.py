"""The rehearsal room: a simulated cinema, played and recorded like a real one.

Physics of a box room from every source to the microphone, loudspeakers that differ a little from
their data sheets, noise, latency, a clock that is off, distortion, and faults to be found.
"""

from __future__ import annotations

from roomwright.rehearsal.box import Box, box_of
from roomwright.rehearsal.cinema import LARGEST_JITTER, RehearsalRoom
from roomwright.rehearsal.faults import Wire, wiring
from roomwright.rehearsal.inputs import microphone_curve
from roomwright.rehearsal.processor import render
from roomwright.rehearsal.room import Emitter, room_responses
from roomwright.rehearsal.units import distortion, unit_response

__all__ = [
    "LARGEST_JITTER",
    "Box",
    "Emitter",
    "RehearsalRoom",
    "Wire",
    "box_of",
    "distortion",
    "microphone_curve",
    "render",
    "room_responses",
    "unit_response",
    "wiring",
]
