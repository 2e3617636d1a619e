"""One requirement, and the verdict on whether it is met."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found against one criterion.

    `value` is in `unit`, None where nothing could be computed. `passed` is None where it was not
    judged; `reason` says why, or what was found. `limit` and `source` are plain words.
    `computed_from` names the data, `detail` holds single values by channel, seat or band.
    """

    criterion: str
    title: str
    value: float | None
    unit: str
    limit: str
    passed: bool | None
    reason: str
    source: str
    computed_from: str
    detail: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Requirement:
    """A criterion before anything was judged by it."""

    criterion: str
    title: str
    unit: str
    limit: str
    source: str

    def judged(
        self,
        *,
        value: float | None,
        passed: bool | None,
        reason: str,
        computed_from: str,
        detail: Iterable[tuple[str, float]] = (),
    ) -> Verdict:
        """The verdict on it."""
        return Verdict(
            criterion=self.criterion,
            title=self.title,
            value=None if value is None else float(value),
            unit=self.unit,
            limit=self.limit,
            passed=None if passed is None else bool(passed),
            reason=reason,
            source=self.source,
            computed_from=computed_from,
            detail=tuple((name, float(number)) for name, number in detail),
        )

    def not_judged(self, reason: str) -> Verdict:
        """The verdict where the data do not allow one."""
        return self.judged(value=None, passed=None, reason=reason, computed_from="nothing")
