"""Plane-wave bass arrays: launched at one wall, absorbed at the opposite one.

Geometry says how many subwoofers where; gains and delays make the simple array; filters for all
subwoofers together, designed on the measured grid, replace it where they beat it at held-back
stations. Fields are H (emitters, stations, bins), and no solver asks where H came from.
"""

from __future__ import annotations

from roomwright.layout import held_back
from roomwright.tuning.arrays.band import ControlBand, band_shape, control_band
from roomwright.tuning.arrays.band_decay import BandDecay, band_decay
from roomwright.tuning.arrays.design import ArrayDesign, ArrayOptions, designed_array
from roomwright.tuning.arrays.drivers import Drivers
from roomwright.tuning.arrays.emitters import Emitters, emitters
from roomwright.tuning.arrays.evidence import Evidence, evidence
from roomwright.tuning.arrays.filters import FilterProblem, filters_by_bin, filters_in_time
from roomwright.tuning.arrays.grid import Grid, at_output_rate, design_grid, response_spectra
from roomwright.tuning.arrays.near_field import NEAR_FIELD_HARMLESS, near_field
from roomwright.tuning.arrays.plane_wave import launched_field, plane_wave, reachable_wave
from roomwright.tuning.arrays.proposal import (
    Proposal,
    absorbing_gain,
    emitters_needed,
    places_on_wall,
    proposed_array,
)
from roomwright.tuning.arrays.robustness import Uncertainty
from roomwright.tuning.arrays.simple_array import SimpleArray, simple_array
from roomwright.tuning.arrays.stations import StationGrid, station_grid
from roomwright.tuning.arrays.time_terms import TimeTerms
from roomwright.tuning.arrays.transverse_modes import control_limit_hz, first_surviving_mode
from roomwright.tuning.arrays.wave_front import front_delays_s

__all__ = [
    "NEAR_FIELD_HARMLESS",
    "ArrayDesign",
    "ArrayOptions",
    "BandDecay",
    "ControlBand",
    "Drivers",
    "Emitters",
    "Evidence",
    "FilterProblem",
    "Grid",
    "Proposal",
    "SimpleArray",
    "StationGrid",
    "TimeTerms",
    "Uncertainty",
    "absorbing_gain",
    "at_output_rate",
    "band_decay",
    "band_shape",
    "control_band",
    "control_limit_hz",
    "design_grid",
    "designed_array",
    "emitters",
    "emitters_needed",
    "evidence",
    "filters_by_bin",
    "filters_in_time",
    "first_surviving_mode",
    "front_delays_s",
    "held_back",
    "launched_field",
    "near_field",
    "places_on_wall",
    "plane_wave",
    "proposed_array",
    "reachable_wave",
    "response_spectra",
    "simple_array",
    "station_grid",
]
