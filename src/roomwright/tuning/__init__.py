"""Tuning: filters, trims, delays and bass management within limits, and what they will give."""

from __future__ import annotations

from roomwright.tuning.chain import output_response, predict
from roomwright.tuning.design import design, tuning_basis
from roomwright.tuning.fit import fit_biquads
from roomwright.tuning.summation import Alignment, align, summation_loss_db
from roomwright.tuning.target import target_db
from roomwright.tuning.wanted import FitLimits, Wanted

__all__ = [
    "Alignment",
    "FitLimits",
    "Wanted",
    "align",
    "design",
    "fit_biquads",
    "output_response",
    "predict",
    "summation_loss_db",
    "target_db",
    "tuning_basis",
]
