"""What the commands print of their results, as text and for JSON."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from roomwright.cli import show

if TYPE_CHECKING:
    from roomwright.commissioning import Proved, Surveyed
    from roomwright.model import Finding, Job, Tuning
    from roomwright.proof import Verdict


def angles(job: Job) -> list[dict[str, Any]]:
    """Where every loudspeaker stands as seen from every seat, for JSON."""
    from dataclasses import asdict

    from roomwright import commissioning

    return [asdict(row) for row in commissioning.audit(job)]


def show_angles(job: Job) -> None:
    """Print where every loudspeaker stands as seen from every seat."""
    from roomwright import commissioning

    rows = [
        (
            row.seat,
            row.loudspeaker,
            row.iec or "",
            row.english,
            f"{row.azimuth_deg:.0f}",
            _range(row.azimuth_range_deg),
            f"{row.elevation_deg:.0f}",
            _range(row.elevation_range_deg),
            f"{row.distance_m:.2f}",
            "within" if row.within else "outside",
        )
        for row in commissioning.audit(job)
    ]
    columns = ("seat", "loudspeaker", "IEC", "name", "azimuth", "allowed", "elevation", "allowed")
    show.table((*columns, "distance m", ""), rows)


def _range(degrees: tuple[float, float]) -> str:
    low, high = degrees
    return f"{low:.0f}" if low == high else f"{low:.0f} to {high:.0f}"


def state(job: Job) -> dict[str, Any]:
    """The stages of a job, for JSON."""
    from roomwright import commissioning

    return {
        "name": job.name,
        "stages": [
            {"stage": s.stage, "state": s.state, "says": s.says} for s in commissioning.stages(job)
        ],
    }


def show_state(job: Job) -> None:
    """Print the stages of a job."""
    from roomwright import commissioning

    rows = [(s.stage, s.state, s.says) for s in commissioning.stages(job)]
    show.table(("stage", "state", ""), rows)


def show_survey(path: Path, surveyed: Surveyed, *, json: bool) -> None:
    """Print what a survey or an import gave."""
    responses = surveyed.responses
    if json:
        show.as_json(
            {
                "job": str(path),
                "sources": list(responses.sources),
                "stations": list(responses.stations),
                "findings": findings(surveyed.findings),
            }
        )
        return
    show.say(f"{len(responses.sources)} sources at {len(responses.stations)} stations")
    show_findings(surveyed.findings)


def findings(found: Sequence[Finding]) -> list[dict[str, str]]:
    """Findings, for JSON."""
    return [finding.model_dump() for finding in found]


def show_findings(found: Sequence[Finding]) -> None:
    """Print findings, those that say the same together."""
    from roomwright.model import gathered

    for finding in gathered(found):
        show.say(f"{finding.severity}: {finding.where}: {finding.text}")


def proved(result: Proved) -> dict[str, Any]:
    """Verdicts and findings, for JSON."""
    return {
        "predicted": [_verdict(verdict) for verdict in result.verdicts_predicted],
        "measured": [_verdict(verdict) for verdict in result.verdicts_measured],
        "findings": findings(result.findings),
    }


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "criterion": verdict.criterion,
        "title": verdict.title,
        "value": verdict.value,
        "unit": verdict.unit,
        "limit": verdict.limit,
        "passed": verdict.passed,
        "reason": verdict.reason,
        "source": verdict.source,
        "computed_from": verdict.computed_from,
    }


def show_verdicts(result: Proved) -> None:
    """Print the verdicts, predicted and measured."""
    measured = {verdict.criterion: verdict for verdict in result.verdicts_measured}
    words = {True: "met", False: "not met", None: "not judged"}
    rows = []
    for predicted in result.verdicts_predicted:
        verdict = measured.get(predicted.criterion, predicted)
        rows.append(
            (
                verdict.title,
                verdict.limit,
                _value(predicted),
                _value(verdict) if verdict is not predicted else "-",
                words[verdict.passed],
            )
        )
    show.table(("criterion", "required", "predicted", "measured", "verdict"), rows)


def _value(verdict: Verdict) -> str:
    return "-" if verdict.value is None else f"{verdict.value:.3g} {verdict.unit}"


def show_outputs(tuning: Tuning) -> None:
    """Print the settings of every output."""
    rows = [
        (
            output.drives,
            f"{output.trim_db:+.1f}",
            f"{1000 * output.delay_s:.2f}",
            "inverted" if output.inverted else "normal",
            str(len(output.biquads)),
            "" if output.fir is None else str(output.fir.taps),
        )
        for output in tuning.outputs
    ]
    show.table(("output drives", "trim dB", "delay ms", "polarity", "biquads", "FIR taps"), rows)
