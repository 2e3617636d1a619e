"""Real devices behind the device protocol: audio interfaces, and players with recorders."""

from __future__ import annotations

from roomwright.devices.audio_interface import AudioInterface
from roomwright.devices.find_sweeps import FoundSweep, find_sweeps, runs
from roomwright.devices.listing import AudioDevice, audio_devices, check_interface, rates_hz
from roomwright.devices.monitor import Monitor
from roomwright.devices.playback import Passage, Playback, passage_signals

__all__ = [
    "AudioDevice",
    "AudioInterface",
    "FoundSweep",
    "Monitor",
    "Passage",
    "Playback",
    "audio_devices",
    "check_interface",
    "find_sweeps",
    "passage_signals",
    "rates_hz",
    "runs",
]
