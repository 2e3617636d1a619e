"""The settings that a job's bass method gives its subwoofers, before their common correction."""

from __future__ import annotations

from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.measurement import ResponseSet
from roomwright.model import BassMeans, Finding, Job, OutputTuning, SubwooferPlaces
from roomwright.tuning.bass_ways.array import array_ways
from roomwright.tuning.bass_ways.case import LowCase, low_case
from roomwright.tuning.bass_ways.even import even_ways
from roomwright.tuning.bass_ways.mixture import mixture_way
from roomwright.tuning.bass_ways.way import Way

Findings = tuple[Finding, ...]

#: Settings of every subwoofer before their common correction, and what is to be known of them.
BassPlan = tuple[dict[str, OutputTuning], Findings]

_MEANS: dict[BassMeans, str] = {
    "gain_and_delay": "gain and delay",
    "biquads": "biquads",
    "fir": "FIR",
}


def planned_subwoofers(job: Job, survey: ResponseSet, progress: Progress = silent) -> BassPlan:
    """Settings of every measured subwoofer by the job's method, and what is to be known of them.

    Raises
    ------
    InputError
        If the responses are not timed, or the method cannot be had with this array or processor.
    """
    case = low_case(job, survey)
    way, findings = _chosen(case, progress)
    text = f"the bass is fed as {way.name}: {_what(way)}"
    note = Finding(severity="note", where="subwoofers", text=text)
    said = tuple(dict.fromkeys((note, *findings, *way.findings)))
    return {one.drives: one for one in way.outputs}, said


def planned_from(job: Job) -> tuple[object, ...]:
    """Everything of a job that `planned_subwoofers` depends on beside the survey's responses."""
    if job.bass.method == "matched":
        return ()
    placed = {"count": 1, "places": SubwooferPlaces(), "keep_clear": ()}
    return (
        job.bass.model_copy(update=placed),
        job.room,
        job.seats,
        job.main_seat,
        job.stations,
        job.subwoofers,
        job.loudspeaker_models,
        job.processor,
        job.limits.crossover_hz,
        job.sampling_rate_hz,
    )


def even_way(case: LowCase) -> tuple[Way, Findings]:
    """The way of even seats that the job asks for.

    Raises
    ------
    InputError
        If the processor has no such means, or they cost more level than is allowed.
    """
    ways, findings = even_ways(case)
    wanted = _MEANS[case.job.bass.means]
    for way in ways:
        if way.name == wanted:
            return way, findings
    reasons = "; ".join(one.text for one in findings if one.text.startswith(wanted))
    raise InputError(
        f"even seats by {wanted} cannot be had: "
        + (reasons or f"{case.job.processor.name} has none of it")
        + "; choose other means"
    )


def _chosen(case: LowCase, progress: Progress) -> tuple[Way, Findings]:
    if case.job.bass.method == "array":
        ways = array_ways(case, progress)
        return ways.chosen, ways.findings
    even, findings = even_way(case)
    if case.job.bass.method == "mixture":
        return mixture_way(case, even, progress), findings
    return even, findings


def _what(way: Way) -> str:
    if any(one.fir is not None for one in way.outputs):
        taps = max(0 if one.fir is None else one.fir.taps for one in way.outputs)
        return f"an FIR of {taps} taps for each output"
    sections = max(len(one.biquads) for one in way.outputs)
    return "gain, delay and polarity" + (f", {sections} biquads at most" if sections else "")
