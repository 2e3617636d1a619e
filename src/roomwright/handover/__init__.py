"""Handover: the report for client and engineer, and the files for the processor."""

from __future__ import annotations

from roomwright.handover.content import BassWay, Content
from roomwright.handover.listening_modes import job_in_mode, mode_folder
from roomwright.handover.report import build_report
from roomwright.handover.settings import (
    biquads_csv,
    fir_taps_by_output,
    settings_csv,
    settings_json,
    taps_csv,
)
from roomwright.handover.station_sheet import StationSheet, build_station_sheet

__all__ = [
    "BassWay",
    "Content",
    "StationSheet",
    "biquads_csv",
    "build_report",
    "build_station_sheet",
    "fir_taps_by_output",
    "job_in_mode",
    "mode_folder",
    "settings_csv",
    "settings_json",
    "taps_csv",
]
