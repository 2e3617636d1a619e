"""Signals and what is done to them: levels, bands, weighting, sweeps, noise, spectra, filters.

Pure functions over arrays. The last axis is time or frequency; computing is in float64; a
delay of tau is exp(-j omega tau); spectra are one-sided, on the grid of `frequencies_hz`.
Filters are second-order sections in scipy's order, shape (n, 6) with a0 = 1.
"""

from __future__ import annotations

from roomwright.signals.bands import (
    band_edges,
    band_filter_sos,
    band_powers,
    midbands,
    nominal_label,
    nominal_words,
)
from roomwright.signals.biquads import cascade_sos, coefficients, response
from roomwright.signals.crossovers import crossover_biquads, crossover_sos
from roomwright.signals.fir import fir_taps, interpolated
from roomwright.signals.levels import (
    REFERENCE_PRESSURE_PA,
    amplitude_db,
    from_amplitude_db,
    from_power_db,
    power_db,
    pressure_level_db,
    rms,
)
from roomwright.signals.noise import octave_shaped_noise_spectrum, pink_noise, shaped_noise
from roomwright.signals.resampling import fractional_delay, resample
from roomwright.signals.smoothing import log_frequencies, smooth_complex, smooth_power
from roomwright.signals.spectra import (
    excess_phase,
    frequencies_hz,
    group_delay_s,
    minimum_phase,
    minimum_phase_fir,
    phase,
)
from roomwright.signals.sweeps import (
    Timeline,
    continued_sweep,
    excitation,
    harmonic_advance_s,
    instantaneous_frequency_hz,
    pilot_samples,
    sweep_samples,
    timeline,
)
from roomwright.signals.target import roll_off_db, target_db
from roomwright.signals.weighting import WeightingKind, weight, weighting_db, weighting_sos

__all__ = [
    "REFERENCE_PRESSURE_PA",
    "Timeline",
    "WeightingKind",
    "amplitude_db",
    "band_edges",
    "band_filter_sos",
    "band_powers",
    "cascade_sos",
    "coefficients",
    "continued_sweep",
    "crossover_biquads",
    "crossover_sos",
    "excess_phase",
    "excitation",
    "fir_taps",
    "fractional_delay",
    "frequencies_hz",
    "from_amplitude_db",
    "from_power_db",
    "group_delay_s",
    "harmonic_advance_s",
    "instantaneous_frequency_hz",
    "interpolated",
    "log_frequencies",
    "midbands",
    "minimum_phase",
    "minimum_phase_fir",
    "nominal_label",
    "nominal_words",
    "octave_shaped_noise_spectrum",
    "phase",
    "pilot_samples",
    "pink_noise",
    "power_db",
    "pressure_level_db",
    "resample",
    "response",
    "rms",
    "roll_off_db",
    "shaped_noise",
    "smooth_complex",
    "smooth_power",
    "sweep_samples",
    "target_db",
    "timeline",
    "weight",
    "weighting_db",
    "weighting_sos",
]
