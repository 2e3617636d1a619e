"""What an impulse response says: arrival, decay, clarity, levels, phase, spread over stations."""

from roomwright.analysis.arrival import arrival_s, onset_index
from roomwright.analysis.average import (
    LevelSpread,
    level_spread,
    mean_output_level_db,
    mean_spatial_variance_db2,
    power_average,
)
from roomwright.analysis.bass import (
    BassEvenness,
    DelayVerdict,
    bass_evenness,
    group_delay_limit_s,
    group_delay_verdict,
    late_energy_db,
)
from roomwright.analysis.bass_figures import BassFigures, bass_figures
from roomwright.analysis.clarity import Clarity, clarity
from roomwright.analysis.decay import (
    DecayCurve,
    DecayResult,
    analysis_limit_s,
    decay_times,
    energy_decay_curve,
)
from roomwright.analysis.distortion import distortion_db, total_distortion_db
from roomwright.analysis.energy_time import energy_time_db, step_response
from roomwright.analysis.frequency_window import frequency_dependent_window
from roomwright.analysis.levels import band_level_db, noise_band_levels_db, smoothed_level_db
from roomwright.analysis.modal_fit import FittedModes, fit_modes
from roomwright.analysis.phase import PhaseParts, phase_parts, smoothed_group_delay_s
from roomwright.analysis.positions import Located, locate
from roomwright.analysis.snr import decay_range_db
from roomwright.analysis.tetrahedron import (
    Bearing,
    bearing,
    capsule_arrivals_s,
    capsules_m,
    turn_deg,
)

__all__ = [
    "BassEvenness",
    "BassFigures",
    "Bearing",
    "Clarity",
    "DecayCurve",
    "DecayResult",
    "DelayVerdict",
    "FittedModes",
    "LevelSpread",
    "Located",
    "PhaseParts",
    "analysis_limit_s",
    "arrival_s",
    "band_level_db",
    "bass_evenness",
    "bass_figures",
    "bearing",
    "capsule_arrivals_s",
    "capsules_m",
    "clarity",
    "decay_range_db",
    "decay_times",
    "distortion_db",
    "energy_decay_curve",
    "energy_time_db",
    "fit_modes",
    "frequency_dependent_window",
    "group_delay_limit_s",
    "group_delay_verdict",
    "late_energy_db",
    "level_spread",
    "locate",
    "mean_output_level_db",
    "mean_spatial_variance_db2",
    "noise_band_levels_db",
    "onset_index",
    "phase_parts",
    "power_average",
    "smoothed_group_delay_s",
    "smoothed_level_db",
    "step_response",
    "total_distortion_db",
    "turn_deg",
]
