"""The ways to feed a job's subwoofers, compared side by side as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.commissioning.bass.wishes import with_bass
from roomwright.commissioning.survey.responses import responses, takes_of
from roomwright.measurement import ResponseSet
from roomwright.model import Finding, Job, SubwooferPlaces
from roomwright.store import JobFolder
from roomwright.tuning.bass_ways import (
    AHEAD_LIMIT_DB,
    LowCase,
    Way,
    WayFigures,
    array_ways,
    drawn_survey,
    even_ways,
    figures_of,
    low_case,
    mixture_way,
)

Origin = Literal["drawing", "survey"]

#: Under these names the ways are chosen in `BassWishes`: method and means.
_CHOSEN_BY = {
    "alike": ("matched", None),
    "gain and delay": ("even_seats", "gain_and_delay"),
    "biquads": ("even_seats", "biquads"),
    "FIR": ("even_seats", "fir"),
    "simple array": ("array", None),
    "array filters": ("array", None),
    "mixture": ("mixture", None),
    "free": (None, None),
}


@dataclass(frozen=True, slots=True)
class BandDecayRow:
    """Decay times for 60 dB of a third octave over the stations, against the published line.

    `readable_s` is the shortest that can be read there; `limit_s` None outside the line's range.
    """

    frequency_hz: float
    median_s: float
    worst_s: float
    readable_s: float
    limit_s: float | None


@dataclass(frozen=True, slots=True)
class WayCompared:
    """One way to feed the subwoofers, see `tuning.bass_ways.WayFigures` for what the figures are.

    `method` and `means` are what `BassWishes` calls it, None where it cannot be chosen: `free` is
    a bound, and of an array the better of the two is used. `used` marks the one that the job's
    wishes lead to. `score` is the spread less the weighted level: the least is the best.
    `drive_db` is by subwoofer, `ahead_db` by 5, 10 and 20 ms, of which `quiet_ahead` says whether
    it is tolerable. `level_over_frequency_db` is by station and frequency, `gains` by subwoofer
    and frequency, real and imaginary part, with the common correction.
    """

    name: str
    method: str | None
    means: str | None
    used: bool
    score: float
    spread_db2: float
    designed_spread_db2: float
    range_db: float
    level_db: float
    drive_db: tuple[float, ...]
    reach_db: float | None
    decay: tuple[BandDecayRow, ...]
    ahead_db: tuple[float, ...]
    quiet_ahead: bool
    late_db: float | None
    gain_off_db2: float
    air_off_db2: float
    latency_s: float
    fir_taps: int
    biquads: int
    level_over_frequency_db: tuple[tuple[float, ...], ...]
    gains: tuple[tuple[tuple[float, float], ...], ...]
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BassComparison:
    """All ways that job and processor have, and why others cannot be had.

    Figures are for the stations `judged_at`, which no design saw; where none could be held back
    these are those `designed_at`.
    """

    origin: Origin
    subwoofers: tuple[str, ...]
    designed_at: tuple[str, ...]
    judged_at: tuple[str, ...]
    band_hz: tuple[float, float]
    frequency_hz: tuple[float, ...]
    ways: tuple[WayCompared, ...]
    findings: tuple[Finding, ...]
    filters_win: bool = False

    def way(self, name: str) -> WayCompared | None:
        """The way of that name; None if it could not be had."""
        return next((one for one in self.ways if one.name == name), None)


def bass_responses(
    folder: JobFolder, origin: Origin | None = None, progress: Progress = silent
) -> tuple[ResponseSet, Origin]:
    """What the bass is designed from: the survey if it has all subwoofers, or the drawing.

    Parameters
    ----------
    folder
        The job folder.
    origin
        Which of the two; by default the survey where there is one.
    progress
        Told how far it is; may raise `Cancelled`.

    Raises
    ------
    InputError
        If neither can be had.
    """
    job = folder.job
    measured = {take.source for take in takes_of(job, "survey") if take.kind != "noise"}
    surveyed = bool(job.subwoofers) and measured.issuperset(s.id for s in job.subwoofers)
    if origin == "survey" or (origin is None and surveyed):
        return responses(folder, "survey", progress), "survey"
    return drawn_survey(job), "drawing"


def compare_bass(
    job: Job,
    survey: ResponseSet | None = None,
    progress: Progress = silent,
    *,
    origin: Origin = "survey",
) -> BassComparison:
    """Even seats by all means the processor has, arrays, the mixture and the bound, side by side.

    Parameters
    ----------
    job
        Its subwoofers, wishes and processor.
    survey
        Responses of the subwoofers, measured or drawn; by default drawn.
    progress
        Told how far it is; may raise `Cancelled`.
    origin
        Where a given survey is from.

    Raises
    ------
    InputError
        If there is nothing to design from: no subwoofer, no station, no common time reference.
    """
    if survey is None:
        survey, origin = drawn_survey(job), "drawing"
    # A quarter of the stations judges even while the subwoofers are still to play alike.
    asked = job if job.bass.method != "matched" else _as_method(job, "even_seats")
    case = low_case(asked, survey)
    progress(0.1, "making the seats even")
    ways, findings = even_ways(case)
    arrays, used, found = _arrays(case, ways, part(progress, 0.3, 0.9))
    bound = tuple(way for way in ways if way.name == "free")
    ways = (*(way for way in ways if way.name != "free"), *arrays, *bound)
    progress(0.9, "judging at held-back stations")
    figures = figures_of(case, ways, absolute=survey.absolute)
    held = case.held if case.held.any() else ~case.held
    name = _used_name(job, used)
    return BassComparison(
        origin=origin,
        subwoofers=case.names,
        designed_at=_names(case, ~case.held),
        judged_at=_names(case, held),
        band_hz=case.band_hz,
        frequency_hz=tuple(figures[0].frequency_hz.tolist()),
        ways=tuple(
            _compared(job, way, one, used=way.name == name)
            for way, one in zip(ways, figures, strict=True)
        ),
        findings=(*findings, *found),
        filters_win=used == "array filters",
    )


def compared_from(job: Job) -> tuple[object, ...]:
    """Everything of a job that `compare_bass` depends on, but for the way it asks for."""
    unasked = {"method": "matched", "means": "gain_and_delay"}
    placed = {"count": 1, "places": SubwooferPlaces(), "keep_clear": ()}
    return (
        takes_of(job, "survey"),
        job.microphone,
        job.subwoofers,
        job.loudspeaker_models,
        job.processor,
        job.limits.crossover_hz,
        job.room,
        job.seats,
        job.stations,
        job.main_seat,
        job.sampling_rate_hz,
        job.bass.model_copy(update=unasked | placed),
    )


def use_way(job: Job, way: WayCompared) -> Job:
    """The job with its subwoofers to be fed a compared way.

    Raises
    ------
    InputError
        If the way is the bound, which no processor reaches.
    """
    if way.method is None:
        raise InputError(f"{way.name} is a bound that no processor reaches; choose another way")
    return with_bass(job, method=way.method, means=way.means or job.bass.means)


def is_asked_for(job: Job, compared: BassComparison, way: WayCompared) -> bool:
    """Whether a compared way is the one that a job asks for now; of arrays the better one."""
    if way.method != job.bass.method:
        return False
    if way.method == "array":
        filters = [one.name for one in compared.ways if one.method == "array"]
        return way.name == filters[-1] if compared.filters_win else way.name == filters[0]
    return way.means in (None, job.bass.means)


def _arrays(
    case: LowCase, even: tuple[Way, ...], progress: Progress
) -> tuple[tuple[Way, ...], str, tuple[Finding, ...]]:
    """Arrays and the mixture, which of the arrays is used, and why any could not be had."""
    wishes = case.job.bass
    if not wishes.launching and not wishes.absorbing:
        text = "no subwoofer is marked as launching or absorbing, so no array is compared"
        return (), "", (Finding(severity="note", where="array", text=text),)
    ways: list[Way] = []
    used, findings = "", []
    try:
        found = array_ways(case, part(progress, 0.0, 0.5))
        ways += [found.simple, *([found.filters] if found.filters is not None else [])]
        used = found.chosen.name
        findings += list(found.findings)
        ways.append(mixture_way(case, _to_mix(case, even), part(progress, 0.5, 1.0)))
    except InputError as error:
        findings.append(Finding(severity="doubt", where="array", text=str(error)))
    return tuple(ways), used, tuple(findings)


def _to_mix(case: LowCase, even: tuple[Way, ...]) -> Way:
    """The way of even seats that the job mixes with; gain and delay where it has not its means."""
    wanted = next(
        name
        for name, (_, means) in _CHOSEN_BY.items()
        if means is not None and means == case.job.bass.means
    )
    return next((way for way in even if way.name == wanted), even[0])


def _used_name(job: Job, array: str) -> str:
    if job.bass.method == "array":
        return array
    for name, (method, means) in _CHOSEN_BY.items():
        if method == job.bass.method and means in (None, job.bass.means):
            return name
    return ""


def _as_method(job: Job, method: str) -> Job:
    return job.model_copy(update={"bass": job.bass.model_copy(update={"method": method})})


def _names(case: LowCase, at: np.ndarray) -> tuple[str, ...]:
    return tuple(name for name, here in zip(case.stations, at, strict=True) if here)


def _compared(job: Job, way: Way, figures: WayFigures, *, used: bool) -> WayCompared:
    method, means = _CHOSEN_BY[way.name]
    if method == "mixture":
        means = job.bass.means
    ahead = () if figures.ahead_db is None else tuple(figures.ahead_db.tolist())
    return WayCompared(
        name=way.name,
        method=method,
        means=means,
        used=used,
        score=figures.spread_db2 - job.bass.level_weight * figures.level_db,
        spread_db2=figures.spread_db2,
        designed_spread_db2=figures.designed_spread_db2,
        range_db=figures.range_db,
        level_db=figures.level_db,
        drive_db=tuple(figures.drive_db.tolist()),
        reach_db=figures.reach_db,
        decay=_decay(figures),
        ahead_db=ahead,
        quiet_ahead=all(a <= b for a, b in zip(ahead, AHEAD_LIMIT_DB, strict=False)),
        late_db=figures.late_db,
        gain_off_db2=figures.gain_off_db2,
        air_off_db2=figures.air_off_db2,
        latency_s=way.latency_s,
        fir_taps=max((0 if one.fir is None else one.fir.taps for one in way.outputs), default=0),
        biquads=max((len(one.biquads) for one in way.outputs), default=0),
        level_over_frequency_db=tuple(
            tuple(row) for row in np.round(figures.level_over_frequency_db, 3).tolist()
        ),
        gains=tuple(
            tuple((float(f"{g.real:.6g}"), float(f"{g.imag:.6g}")) for g in row)
            for row in figures.drive
        ),
        says=tuple(finding.text for finding in way.findings),
    )


def _decay(figures: WayFigures) -> tuple[BandDecayRow, ...]:
    if figures.decay is None:
        return ()
    times = figures.decay.time_s
    return tuple(
        BandDecayRow(
            frequency_hz=float(mid),
            median_s=float(np.median(times[:, n])),
            worst_s=float(times[:, n].max()),
            readable_s=float(figures.decay.limit_s[n]),
            limit_s=None if np.isnan(limit) else float(limit),
        )
        for n, (mid, limit) in enumerate(
            zip(figures.decay.mid_hz, figures.decay_limit_s, strict=True)
        )
    )
