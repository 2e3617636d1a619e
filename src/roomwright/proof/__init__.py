"""Criteria of published recommendations, and the verdicts on a job's responses."""

from roomwright.proof.band_names import band_name
from roomwright.proof.criteria import judge
from roomwright.proof.evidence import transition_hz
from roomwright.proof.verdict import Verdict

__all__ = ["Verdict", "band_name", "judge", "transition_hz"]
