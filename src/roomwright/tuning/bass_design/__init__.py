"""Bass designed: where N subwoofers should stand, and what each should be fed.

Everything starts from a `BassField`, complex responses (sources, points, frequencies), computed or
measured. Placement judges every set of places with its best gains and delays; even seats gives a
placed set all that the processor can do.
"""

from __future__ import annotations

from roomwright.tuning.bass_design.certainty import Certainty
from roomwright.tuning.bass_design.choice import Choice
from roomwright.tuning.bass_design.designs import Each, here
from roomwright.tuning.bass_design.field import BassField, field_findings
from roomwright.tuning.bass_design.filters import FilterLimits
from roomwright.tuning.bass_design.further_stations import (
    FurtherStations,
    diffuse_covariance,
    ensemble_covariance,
    further_stations,
)
from roomwright.tuning.bass_design.gain_delay import (
    QUICK,
    THOROUGH,
    GainDelayLimits,
    Settings,
    Thoroughness,
    gain_and_delay,
)
from roomwright.tuning.bass_design.judging import Judged, Weights, judged
from roomwright.tuning.bass_design.magnitude import magnitude_gains
from roomwright.tuning.bass_design.nested import all_sets, best_gain_costs, ridge
from roomwright.tuning.bass_design.placement import PlacementSearch, SearchEffort, best_places
from roomwright.tuning.bass_design.playing import (
    Playing,
    judged_playing,
    playing,
    with_source_moved,
)
from roomwright.tuning.bass_design.relaxation import least_cost_bound
from roomwright.tuning.bass_design.screening import travelling_wave
from roomwright.tuning.bass_design.seats import (
    EvenSeats,
    common_correction,
    even_seats,
    mean_level_db,
)
from roomwright.tuning.bass_design.sensitivity import Sensitivity, Variants
from roomwright.tuning.bass_design.short_filters import ShortFilters, short_filters
from roomwright.tuning.bass_design.symmetry import Symmetry, all_equivalent, symmetries
from roomwright.tuning.bass_design.unity import unity_spreads

__all__ = [
    "QUICK",
    "THOROUGH",
    "BassField",
    "Certainty",
    "Choice",
    "Each",
    "EvenSeats",
    "FilterLimits",
    "FurtherStations",
    "GainDelayLimits",
    "Judged",
    "PlacementSearch",
    "Playing",
    "SearchEffort",
    "Sensitivity",
    "Settings",
    "ShortFilters",
    "Symmetry",
    "Thoroughness",
    "Variants",
    "Weights",
    "all_equivalent",
    "all_sets",
    "best_gain_costs",
    "best_places",
    "common_correction",
    "diffuse_covariance",
    "ensemble_covariance",
    "even_seats",
    "field_findings",
    "further_stations",
    "gain_and_delay",
    "here",
    "judged",
    "judged_playing",
    "least_cost_bound",
    "magnitude_gains",
    "mean_level_db",
    "playing",
    "ridge",
    "short_filters",
    "symmetries",
    "travelling_wave",
    "unity_spreads",
    "with_source_moved",
]
