"""Placing the loudspeakers of a layout for a room's seats, and judging their angles."""

from roomwright.layout.audit import PlacementRow, audit
from roomwright.layout.geometry import ANGLE_TOLERANCE_DEG, Direction, direction, within
from roomwright.layout.layouts import Layout, read_layout
from roomwright.layout.placement import Placement, place, role_of
from roomwright.layout.seating import main_seat_of, rows_of_seats
from roomwright.layout.stations import seat_stations

__all__ = [
    "ANGLE_TOLERANCE_DEG",
    "Direction",
    "Layout",
    "Placement",
    "PlacementRow",
    "audit",
    "direction",
    "main_seat_of",
    "place",
    "read_layout",
    "role_of",
    "rows_of_seats",
    "seat_stations",
    "within",
]
