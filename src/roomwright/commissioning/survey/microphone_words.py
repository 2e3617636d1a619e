"""What is known of a job's microphone, in words."""

from __future__ import annotations

import math

from roomwright.model import Job
from roomwright.signals import pressure_level_db


def full_scale_text(job: Job) -> str:
    """Level of the sine that reaches full scale, dB SPL; empty if not known."""
    peak_pa = job.microphone.sensitivity_pa
    return "" if peak_pa is None else f"{float(pressure_level_db(peak_pa / math.sqrt(2.0))):.1f}"


def radius_text(job: Job) -> str:
    """Radius of the capsules in millimetres; empty for a microphone of one."""
    radius_m = job.microphone.capsule_radius_m
    return "" if radius_m is None else f"{1e3 * radius_m:g}"


def millimetres(value_mm: float) -> float:
    """A length typed in millimetres, in metres."""
    return value_mm / 1e3


def microphone_words(job: Job) -> tuple[tuple[str, str], ...]:
    """What is known of the microphone, as pairs of words."""
    microphone, full_scale = job.microphone, full_scale_text(job)
    along, side = microphone.calibration_file, microphone.side_calibration_file
    return (
        ("microphone", f"{microphone.name} {microphone.serial}".strip()),
        ("file for its axis", along or "none: its own response stays in every result"),
        ("file for the side", side or ("none: that for its axis serves" if along else "none")),
        ("full scale", f"{full_scale} dB SPL" if full_scale else "not known: levels are relative"),
    )
