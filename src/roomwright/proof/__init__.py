"""Criteria of published recommendations, and the verdicts on a job's responses."""

from roomwright.proof.band_names import band_name
from roomwright.proof.criteria import judge
from roomwright.proof.drawings import Drawing, drawings
from roomwright.proof.evidence import transition_hz
from roomwright.proof.room_decay import RoomDecay, read_decay
from roomwright.proof.verdict import Verdict

__all__ = [
    "Drawing",
    "RoomDecay",
    "Verdict",
    "band_name",
    "drawings",
    "judge",
    "read_decay",
    "transition_hz",
]
