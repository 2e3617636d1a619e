"""Criteria of published recommendations, and the verdicts on a job's responses."""

from roomwright.proof.band_names import band_name
from roomwright.proof.criteria import judge
from roomwright.proof.drawings import Drawing, drawings
from roomwright.proof.evidence import transition_hz
from roomwright.proof.verdict import Verdict

__all__ = ["Drawing", "Verdict", "band_name", "drawings", "judge", "transition_hz"]
