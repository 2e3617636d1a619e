"""Measuring: the device protocol, the order of work, and from takes to impulse responses."""

from __future__ import annotations

from roomwright.measurement.alignment import AcousticReference, Alignment, align
from roomwright.measurement.background import background_levels
from roomwright.measurement.clock import clock_error_ppm, corrected
from roomwright.measurement.deconvolution import (
    deconvolve,
    full_level_band_hz,
    harmonic_responses,
    inverse_spectrum,
    regularised_inverse,
    transform_length,
)
from roomwright.measurement.device import LOOP_BACK, Device, Recording
from roomwright.measurement.impulse_response import (
    ImpulseResponse,
    fade_tail,
    noise_floor_rms,
)
from roomwright.measurement.impulses import response_from_impulse
from roomwright.measurement.measured_response import MeasuredResponse
from roomwright.measurement.microphone import (
    CalibrationCurve,
    correction,
    parse_calibration,
    stated_serial,
)
from roomwright.measurement.noise import (
    NoiseFloor,
    noise_floor,
    signal_to_noise_db,
    trusted_band,
)
from roomwright.measurement.octaves import OCTAVES_HZ
from roomwright.measurement.overlap import (
    Pass,
    duration_s,
    pass_signals,
    plan_pass,
    plan_sweeps,
    response_window_s,
    whole_pass,
)
from roomwright.measurement.played import take_signals
from roomwright.measurement.recording_checks import check_recording, recording_faults
from roomwright.measurement.response_set import ResponseSet, collect
from roomwright.measurement.takes import Divided, divided, response_from_take, response_of

__all__ = [
    "LOOP_BACK",
    "OCTAVES_HZ",
    "AcousticReference",
    "Alignment",
    "CalibrationCurve",
    "Device",
    "Divided",
    "ImpulseResponse",
    "MeasuredResponse",
    "NoiseFloor",
    "Pass",
    "Recording",
    "ResponseSet",
    "align",
    "background_levels",
    "check_recording",
    "clock_error_ppm",
    "collect",
    "corrected",
    "correction",
    "deconvolve",
    "divided",
    "duration_s",
    "fade_tail",
    "full_level_band_hz",
    "harmonic_responses",
    "inverse_spectrum",
    "noise_floor",
    "noise_floor_rms",
    "parse_calibration",
    "pass_signals",
    "plan_pass",
    "plan_sweeps",
    "recording_faults",
    "regularised_inverse",
    "response_from_impulse",
    "response_from_take",
    "response_of",
    "response_window_s",
    "signal_to_noise_db",
    "stated_serial",
    "take_signals",
    "transform_length",
    "trusted_band",
    "whole_pass",
]
