"""The response of the main channels against the target, and how it spreads over the seats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis import (
    level_spread,
    mean_spatial_variance_db2,
    noise_band_levels_db,
    smoothed_level_db,
)
from roomwright.model import Target
from roomwright.proof.band_names import band_name
from roomwright.proof.evidence import Evidence
from roomwright.proof.verdict import Requirement, Verdict
from roomwright.signals import from_power_db, log_frequencies, power_db, target_db
from roomwright.standards.bs1116 import MEAN_BAND_HZ, response_tolerance_db

#: Range of the operational room response, hertz (ITU-R BS.1116, from memory).
_RANGE_HZ = (50.0, 16000.0)

#: Seats are compared from the first of these on, at worst from the second, hertz ...
_BASS_FROM_HZ = (25.0, 60.0)
#: ... and up to the second of these, at worst to the first.
_UPPER_TO_HZ = (8000.0, 16000.0)

_BASS_VARIANCE_DB2 = 9.0
_SPREAD_DB = 3.0

_TOLERANCE = "within 3 dB of the target, to 7.5 dB below it at 16 kHz"
_TOLERANCE_SOURCE = (
    "tolerance of ITU-R BS.1116's operational room response, from memory, laid about the job's "
    "own target"
)
_PRACTICE = "common practice, no source"

_BELOW_MAIN = Requirement(
    "response_below_main_seat",
    "Response below the transition, main seat",
    "dB",
    _TOLERANCE,
    _TOLERANCE_SOURCE,
)
_ABOVE_MAIN = Requirement(
    "response_above_main_seat",
    "Response above the transition, main seat",
    "dB",
    _TOLERANCE,
    _TOLERANCE_SOURCE,
)
_BELOW_AVERAGE = Requirement(
    "response_below_average",
    "Response below the transition, average over seats",
    "dB",
    _TOLERANCE,
    _TOLERANCE_SOURCE,
)
_ABOVE_AVERAGE = Requirement(
    "response_above_average",
    "Response above the transition, average over seats",
    "dB",
    _TOLERANCE,
    _TOLERANCE_SOURCE,
)
_SPREAD_BELOW = Requirement(
    "spread_below",
    "Seat-to-seat variance of the bass",
    "dB2",
    f"mean spatial variance at most {_BASS_VARIANCE_DB2:g} dB2 (a standard deviation of 3 dB)",
    f"measure: Welti & Devantier 2006, from memory; limit: {_PRACTICE}",
)
_SPREAD_ABOVE = Requirement(
    "spread_above",
    "Seat-to-seat spread above the transition",
    "dB",
    f"standard deviation over seats at most {_SPREAD_DB:g} dB in each channel, mean of bands",
    _PRACTICE,
)


@dataclass(frozen=True, slots=True)
class Departures:
    """Departures from the target in third octaves (channels, bands), NaN where not trusted."""

    names: tuple[str, ...]
    mid_hz: NDArray[np.float64]
    departure_db: NDArray[np.float64]
    computed_from: str


def response_verdicts(evidence: Evidence) -> tuple[Verdict, ...]:
    """Third-octave response against the target: main seat and average, below and above."""
    verdicts = []
    column = evidence.main_seat
    if column is None:
        why = f"No station stands for the main seat {evidence.job.main_seat}."
        verdicts += [_BELOW_MAIN.not_judged(why), _ABOVE_MAIN.not_judged(why)]
    else:
        main = departures(evidence, (column,))
        verdicts += [
            _judge_response(_BELOW_MAIN, evidence, main, below=True),
            _judge_response(_ABOVE_MAIN, evidence, main, below=False),
        ]
    average = departures(evidence, evidence.seats)
    note = evidence.seats_note()
    verdicts += [
        _judge_response(_BELOW_AVERAGE, evidence, average, below=True, note=note),
        _judge_response(_ABOVE_AVERAGE, evidence, average, below=False, note=note),
    ]
    return tuple(verdicts)


def departures(evidence: Evidence, columns: tuple[int, ...]) -> Departures:
    """Power average over stations of each main channel re the target and its own mean level."""
    responses = evidence.responses
    rows = list(evidence.mains)
    block = responses.samples[np.ix_(rows, columns)]
    mid_hz, levels = noise_band_levels_db(block, responses.sampling_rate_hz, 3, *_RANGE_HZ)
    present = responses.present[np.ix_(rows, columns)][..., None]
    low, high = np.moveaxis(responses.trusted_hz[np.ix_(rows, columns)], -1, 0)[..., None]
    trusted = present & (low <= mid_hz) & (mid_hz <= high)
    count = trusted.sum(axis=1)
    power = np.where(trusted, from_power_db(levels), 0.0).sum(axis=1)
    mean = np.divide(power, count, out=np.full(power.shape, np.nan), where=count > 0)
    targets = [evidence.job.target_of(responses.sources[row]) for row in rows]
    departure = power_db(mean) - np.array([target_db(t, mid_hz) for t in targets]).reshape(
        mean.shape
    )
    in_mean = (mid_hz > 0.99 * MEAN_BAND_HZ[0]) & (mid_hz < 1.01 * MEAN_BAND_HZ[1])
    departure = departure - departure[:, in_mean].mean(axis=1, keepdims=True)
    followed = np.array([_followed(t, mid_hz) for t in targets], dtype=np.bool_)
    departure = np.where(followed.reshape(mean.shape), np.nan, departure)
    stations = (
        f"station {responses.stations[columns[0]]}"
        if len(columns) == 1
        else f"{len(columns)} stations"
    )
    return Departures(
        tuple(evidence.name(row) for row in rows),
        mid_hz,
        departure,
        f"{len(rows)} main channels at {stations}; third octaves, each re its mean from 250 Hz "
        f"to 2 kHz{_left_out(evidence, targets)}",
    )


def _left_out(evidence: Evidence, targets: list[Target]) -> str:
    """Which channels are not judged where they follow their loudspeaker, in words."""
    names = [
        evidence.name(row)
        for row, target in zip(evidence.mains, targets, strict=True)
        if target.follows
    ]
    if not names:
        return ""
    return f"; not judged where the loudspeaker's own response is followed: {', '.join(names)}"


def _followed(target: Target, frequency_hz: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where the loudspeaker's own response is followed, so that the target says nothing."""
    followed = np.zeros(frequency_hz.shape, dtype=np.bool_)
    for span in target.follows:
        followed |= (frequency_hz >= span.low_hz) & (frequency_hz <= span.high_hz)
    return followed


def _judge_response(
    requirement: Requirement,
    evidence: Evidence,
    found: Departures,
    *,
    below: bool,
    note: str = "",
) -> Verdict:
    side = (found.mid_hz < evidence.transition_hz) == below
    lower, upper = response_tolerance_db(found.mid_hz)
    departure = np.where(side, found.departure_db, np.nan)
    judged = np.isfinite(departure)
    without = [name for name, row in zip(found.names, judged, strict=True) if not row.any()]
    if not judged.any():
        return requirement.not_judged(
            "No main channel has a trusted band there and from 250 Hz to 2 kHz."
        )
    margin = np.where(judged, np.minimum(departure - lower, upper - departure), np.inf)
    row, band = np.unravel_index(int(np.argmin(margin)), margin.shape)
    within = bool(margin[row, band] >= 0)
    left_out = f" Not judged, for lack of a trusted band: {', '.join(without)}." if without else ""
    outside = int((margin < 0).any(axis=1).sum())
    verdict = f"Outside in {outside} of {len(found.names) - len(without)} channels; worst is"
    if within:
        verdict = "Nearest to its limit is"
    return requirement.judged(
        value=max(0.0, -margin[row, band]),
        passed=None if within and without else within,
        reason=f"{verdict} {found.names[row]} at {band_name(found.mid_hz[band])}: "
        f"{departure[row, band]:+.1f} dB, allowed {lower[band]:+.1f} to {upper[band]:+.1f} dB; "
        f"the transition is at {evidence.transition_hz:.0f} Hz.{left_out}{note}",
        computed_from=found.computed_from,
        detail=[
            (name, departure[i, int(np.argmin(margin[i]))])
            for i, name in enumerate(found.names)
            if judged[i].any()
        ],
    )


def spread_verdicts(evidence: Evidence) -> tuple[Verdict, Verdict]:
    """How much the levels differ from seat to seat, below and above the transition."""
    if len(evidence.seats) < 2:
        why = "Fewer than two seats were measured."
        return _SPREAD_BELOW.not_judged(why), _SPREAD_ABOVE.not_judged(why)
    return _bass_spread(evidence), _upper_spread(evidence)


def _bass_spread(evidence: Evidence) -> Verdict:
    needed_hz = (_BASS_FROM_HZ[1], evidence.transition_hz)
    names, levels = _levels_at_seats(
        evidence, (_BASS_FROM_HZ[0], evidence.transition_hz), needed_hz, fraction=12
    )
    if not names:
        return _SPREAD_BELOW.not_judged(_no_band(needed_hz))
    variance = np.array([float(mean_spatial_variance_db2(level)) for level in levels])
    mean = float(variance.mean())
    worst = int(np.argmax(variance))
    return _SPREAD_BELOW.judged(
        value=mean,
        passed=mean <= _BASS_VARIANCE_DB2,
        reason=f"The mean of {len(names)} channels is {mean:.1f} dB2; {names[worst]} varies most, "
        f"by {variance[worst]:.1f} dB2.{evidence.seats_note()}",
        computed_from=f"levels over 1/12 octave at {len(evidence.seats)} seats, from "
        f"{_BASS_FROM_HZ[0]:.0f} Hz, or where all are trusted, to {evidence.transition_hz:.0f} Hz",
        detail=zip(names, variance, strict=True),
    )


def _upper_spread(evidence: Evidence) -> Verdict:
    needed_hz = (evidence.transition_hz, _UPPER_TO_HZ[0])
    names, levels = _levels_at_seats(
        evidence, (evidence.transition_hz, _UPPER_TO_HZ[1]), needed_hz, fraction=3
    )
    if not names:
        return _SPREAD_ABOVE.not_judged(_no_band(needed_hz))
    deviation = np.array([float(level_spread(level).deviation_db.mean()) for level in levels])
    worst = int(np.argmax(deviation))
    return _SPREAD_ABOVE.judged(
        value=deviation[worst],
        passed=deviation[worst] <= _SPREAD_DB,
        reason=f"{names[worst]} varies most: a standard deviation of {deviation[worst]:.1f} dB."
        f"{evidence.seats_note()}",
        computed_from=f"levels over 1/3 octave at {len(evidence.seats)} seats, "
        f"{evidence.transition_hz:.0f} Hz to {_UPPER_TO_HZ[1]:.0f} Hz, or where all are trusted",
        detail=zip(names, deviation, strict=True),
    )


def _no_band(needed_hz: tuple[float, float]) -> str:
    return (
        f"No main channel can be trusted from {needed_hz[0]:.0f} to {needed_hz[1]:.0f} Hz at two "
        "seats or more."
    )


def _levels_at_seats(
    evidence: Evidence,
    wanted_hz: tuple[float, float],
    needed_hz: tuple[float, float],
    fraction: int,
) -> tuple[list[str], list[NDArray[np.float64]]]:
    """Names and levels (seats, f) of the main channels trusted over `needed_hz` at two seats."""
    responses = evidence.responses
    names, levels = [], []
    for row in evidence.mains:
        columns = [c for c in evidence.seats if evidence.trusts(row, c, *needed_hz)]
        if len(columns) < 2:
            continue
        low, high = responses.trusted_hz[row, columns].T
        grid = log_frequencies(
            max(wanted_hz[0], float(low.max())), min(wanted_hz[1], float(high.min())), 2 * fraction
        )
        names.append(evidence.name(row))
        levels.append(
            smoothed_level_db(
                responses.samples[row, columns], responses.sampling_rate_hz, grid, fraction
            )
        )
    return names, levels
