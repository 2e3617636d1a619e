"""Criteria of published recommendations, and the verdicts on a job's responses."""

from roomwright.proof.criteria import judge
from roomwright.proof.evidence import transition_hz
from roomwright.proof.verdict import Verdict

__all__ = ["Verdict", "judge", "transition_hz"]
