"""Real devices behind the device protocol: audio interfaces, and players with recorders."""

from __future__ import annotations

from roomwright.devices.audio_interface import AudioInterface
from roomwright.devices.listing import AudioDevice, audio_devices, check_interface, rates_hz
from roomwright.devices.monitor import Monitor

__all__ = [
    "AudioDevice",
    "AudioInterface",
    "Monitor",
    "audio_devices",
    "check_interface",
    "rates_hz",
]
