"""Placing the loudspeakers of a layout for a room's seats, and judging their angles."""

from roomwright.layout.additions import (
    MOST_SUBWOOFERS,
    place_beside,
    place_channels,
    place_subwoofers,
)
from roomwright.layout.audit import PlacementRow, audit
from roomwright.layout.bass_candidates import CandidateRules, Exclusion, bass_candidates
from roomwright.layout.bass_grid import bass_grid
from roomwright.layout.bass_stations import (
    BassGrid,
    bass_grid_points,
    bass_stations,
    grid_layers_m,
    grid_spacing_m,
)
from roomwright.layout.geometry import ANGLE_TOLERANCE_DEG, Direction, direction, within
from roomwright.layout.held_back import held_back, stations_held_back
from roomwright.layout.layouts import Layout, read_layout
from roomwright.layout.placement import Placement, place, role_of
from roomwright.layout.seating import main_seat_of, rows_of_seats
from roomwright.layout.stations import seat_stations, stations_around_seats
from roomwright.layout.walking import walk_m, walking_order

__all__ = [
    "ANGLE_TOLERANCE_DEG",
    "MOST_SUBWOOFERS",
    "BassGrid",
    "CandidateRules",
    "Direction",
    "Exclusion",
    "Layout",
    "Placement",
    "PlacementRow",
    "audit",
    "bass_candidates",
    "bass_grid",
    "bass_grid_points",
    "bass_stations",
    "direction",
    "grid_layers_m",
    "grid_spacing_m",
    "held_back",
    "main_seat_of",
    "place",
    "place_beside",
    "place_channels",
    "place_subwoofers",
    "read_layout",
    "role_of",
    "rows_of_seats",
    "seat_stations",
    "stations_around_seats",
    "stations_held_back",
    "walk_m",
    "walking_order",
    "within",
]
