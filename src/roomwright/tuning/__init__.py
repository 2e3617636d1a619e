"""Tuning: filters, trims, delays and bass management within limits, and what they will give."""

from __future__ import annotations

from roomwright.tuning.bass import plan_of
from roomwright.tuning.chain import bass_gain, output_response, predict
from roomwright.tuning.correction import average_power
from roomwright.tuning.design import design, tuning_basis
from roomwright.tuning.fit import fit_biquads
from roomwright.tuning.latency import Latency, latency
from roomwright.tuning.meetings import ChannelMeeting, channel_meetings, sections_of
from roomwright.tuning.modes import in_mode, tone_biquads, tone_db
from roomwright.tuning.prepared import SUBWOOFERS, Prepared, prepared, refitted
from roomwright.tuning.stations import station_weights
from roomwright.tuning.summation import Alignment, align, summation_loss_db
from roomwright.tuning.target import aimed_db, measured_roll_off
from roomwright.tuning.wanted import FitLimits, Wanted

__all__ = [
    "SUBWOOFERS",
    "Alignment",
    "ChannelMeeting",
    "FitLimits",
    "Latency",
    "Prepared",
    "Wanted",
    "aimed_db",
    "align",
    "average_power",
    "bass_gain",
    "channel_meetings",
    "design",
    "fit_biquads",
    "in_mode",
    "latency",
    "measured_roll_off",
    "output_response",
    "plan_of",
    "predict",
    "prepared",
    "refitted",
    "sections_of",
    "station_weights",
    "summation_loss_db",
    "tone_biquads",
    "tone_db",
    "tuning_basis",
]
