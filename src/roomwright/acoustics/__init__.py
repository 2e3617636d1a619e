"""What physics says of a room before anything is measured in it.

Modes, the exact low-frequency field of a box, image sources, reverberation, air, walls and the
directivity of loudspeakers. Room axes: x across, y back, z up, metres; exp(+j omega t).
"""

from __future__ import annotations

from roomwright.acoustics.air import (
    air_density_kg_m3,
    attenuation_db_per_m,
    speed_of_sound_m_s,
)
from roomwright.acoustics.box_field import green_uniform, green_walls
from roomwright.acoustics.box_lattice import green_lattice
from roomwright.acoustics.data_sheet import sheet_response
from roomwright.acoustics.directivity import (
    directivity_factor,
    directivity_gain,
    piston_gain,
)
from roomwright.acoustics.image_sources import Images, images, reflection_gain
from roomwright.acoustics.modes import Modes, box_modes, mode_count, schroeder_frequency_hz
from roomwright.acoustics.reverberation import (
    arau_s,
    critical_distance_m,
    eyring_s,
    fitzroy_s,
    millington_s,
    room_reverberation_s,
    sabine_s,
    steady_level_db,
)
from roomwright.acoustics.walls import (
    absorption_at,
    absorption_from_admittance,
    admittance_from_absorption,
    box_admittances,
)

__all__ = [
    "Images",
    "Modes",
    "absorption_at",
    "absorption_from_admittance",
    "admittance_from_absorption",
    "air_density_kg_m3",
    "arau_s",
    "attenuation_db_per_m",
    "box_admittances",
    "box_modes",
    "critical_distance_m",
    "directivity_factor",
    "directivity_gain",
    "eyring_s",
    "fitzroy_s",
    "green_lattice",
    "green_uniform",
    "green_walls",
    "images",
    "millington_s",
    "mode_count",
    "piston_gain",
    "reflection_gain",
    "room_reverberation_s",
    "sabine_s",
    "schroeder_frequency_hz",
    "sheet_response",
    "speed_of_sound_m_s",
    "steady_level_db",
]
