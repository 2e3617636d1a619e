"""How the room decays, read from the responses of its channels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis import DecayResult, decay_times
from roomwright.measurement import ResponseSet
from roomwright.model import Job
from roomwright.proof.band_names import band_name
from roomwright.proof.verdict import Requirement, Verdict
from roomwright.signals import midbands
from roomwright.standards.decay import TEST_LINE_HZ, decay_limit_s
from roomwright.standards.ebu3276 import MEAN_RANGE_HZ, mean_reverberation_s, tolerance_s
from roomwright.standards.iso3382 import CURVATURE_LIMIT_PERCENT

#: Third octaves read, hertz: the mask of EBU Tech 3276 and the line of modal decays together.
_LOWEST_HZ, _HIGHEST_HZ = 31.5, 8000.0

#: A band is judged only if more than this share of the responses can be read there.
_LEAST_SHARE = 0.1

#: The mean may depart this much from its nominal value, seconds: the mask's narrowest half-width.
_MEAN_TOLERANCE_S = 0.05

_MEAN = Requirement(
    "reverberation_mean",
    "Mean reverberation time",
    "s",
    "0.25 s (V / 100 m3)^(1/3), 0.05 s either way",
    "EBU Tech 3276, from memory; the tolerance is that of its mask",
)
_MASK = Requirement(
    "reverberation_mask",
    "Reverberation time over frequency",
    "s",
    "re the mean: 0.05 s either way from 200 Hz to 4 kHz, up to +0.3 s at 63 Hz, "
    "down to -0.1 s at 8 kHz",
    "EBU Tech 3276, from memory",
)
_MODES = Requirement(
    "modal_decay",
    "Decay of the bass",
    "s",
    "T20 at most 0.9 s (32 Hz / f) from 32 Hz to the transition, where modes stand alone",
    "line through published thresholds of audible modal decay, read in a secondary summary",
)


@dataclass(frozen=True, slots=True)
class RoomDecay:
    """Decay times of the room in third octaves, each of shape (bands,); NaN where unreadable.

    `late_s` is the median over all responses of T30 (T20 where the noise allows no T30), `early_s`
    that of T20, with what is too short to be read counted as `limit_s`. `readings` counts the
    responses. `mean_s` is the mean of `late_s` from 200 Hz to 4 kHz, NaN if a third or
    more of it is missing, and `curvature_percent` how much T30 exceeds T20 there.
    """

    mid_hz: NDArray[np.float64]
    late_s: NDArray[np.float64]
    early_s: NDArray[np.float64]
    limit_s: NDArray[np.float64]
    readings: int
    mean_s: float
    curvature_percent: float


def read_decay(responses: ResponseSet) -> RoomDecay:
    """Read the room's decay from every source at every station where it was measured."""
    mid_hz = midbands(3, _LOWEST_HZ, min(_HIGHEST_HZ, responses.sampling_rate_hz / 2.5))
    used = responses.present
    read = decay_times(responses.samples[used], responses.sampling_rate_hz, mid_hz, 3)
    low, high = responses.trusted_hz[used].reshape(-1, 2).T[..., None]
    trusted = (low <= mid_hz) & (mid_hz <= high)
    late_s = np.where(np.isnan(read.t30_s), read.t20_s, read.t30_s)
    early_s = np.where(read.too_short, read.analysis_limit_s, read.t20_s)
    late = _median(np.where(trusted, late_s, np.nan))
    in_mean = _in_mean(mid_hz)
    known = np.isfinite(late[in_mean])
    return RoomDecay(
        mid_hz=mid_hz,
        late_s=late,
        early_s=_median(np.where(trusted, early_s, np.nan)),
        limit_s=read.analysis_limit_s,
        readings=int(used.sum()),
        mean_s=float(late[in_mean][known].mean()) if known.mean() > 2 / 3 else float("nan"),
        curvature_percent=_curvature(read, trusted & in_mean),
    )


def _curvature(read: DecayResult, chosen: NDArray[np.bool_]) -> float:
    """100 (T30 / T20 - 1) of the sums over all readings that have both; NaN if none has.

    Single readings of narrow bands bend by chance; their sums do not.
    """
    both = chosen & np.isfinite(read.t20_s) & np.isfinite(read.t30_s)
    if not both.any():
        return float("nan")
    return 100.0 * float(read.t30_s[both].sum() / read.t20_s[both].sum() - 1.0)


def _median(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Median over the first axis of what is not NaN; NaN where that is less than a tenth."""
    enough = np.isfinite(values).sum(axis=0) > _LEAST_SHARE * len(values)
    columns = [column[np.isfinite(column)] for column in values.T]
    return np.array(
        [np.median(c) if use else np.nan for c, use in zip(columns, enough, strict=True)]
    )


def _in_mean(mid_hz: NDArray[np.float64]) -> NDArray[np.bool_]:
    # Exact midbands lie up to 0.5 % off their nominal frequencies.
    return np.asarray((mid_hz > MEAN_RANGE_HZ[0] * 0.99) & (mid_hz < MEAN_RANGE_HZ[1] * 1.01))


def mean_verdict(job: Job, decay: RoomDecay) -> Verdict:
    """Mean reverberation time against the nominal one for the room's volume."""
    if not np.isfinite(decay.mean_s):
        return _MEAN.not_judged(_unreadable(decay))
    nominal = mean_reverberation_s(job.room.volume_m3)
    return _MEAN.judged(
        value=decay.mean_s,
        passed=abs(decay.mean_s - nominal) <= _MEAN_TOLERANCE_S,
        reason=f"The mean from 200 Hz to 4 kHz is {decay.mean_s:.2f} s; "
        f"{nominal:.2f} s is nominal for {job.room.volume_m3:.0f} m3.{_bend(decay)}",
        computed_from=_origin(decay),
        detail=_by_band(decay, decay.late_s),
    )


def mask_verdict(decay: RoomDecay) -> Verdict:
    """Reverberation time over frequency against the mask about its own mean."""
    lower, upper = tolerance_s(decay.mid_hz)
    offset = decay.late_s - decay.mean_s
    judged = np.isfinite(offset) & np.isfinite(lower)
    if not judged.any():
        return _MASK.not_judged(_unreadable(decay))
    margin = np.where(judged, np.minimum(offset - lower, upper - offset), np.inf)
    worst = int(np.argmin(margin))
    within = bool(margin[worst] >= 0)
    allowed = f"{lower[worst]:+.2f} to {upper[worst]:+.2f} s"
    missing = [band_name(mid) for mid in decay.mid_hz[np.isfinite(lower) & ~judged]]
    return _MASK.judged(
        value=offset[worst],
        passed=None if within and missing else within,
        reason=f"{_place(within=within)} is {band_name(decay.mid_hz[worst])}: "
        f"{offset[worst]:+.2f} s re the mean of {decay.mean_s:.2f} s, allowed {allowed}."
        f"{_not_readable(missing)}{_bend(decay)}",
        computed_from=_origin(decay),
        detail=_by_band(decay, decay.late_s),
    )


def modes_verdict(decay: RoomDecay, transition_hz: float) -> Verdict:
    """T20 of the bands below the transition against the line of audible modal decay."""
    line = decay_limit_s(decay.mid_hz)
    asked = np.isfinite(line) & (decay.mid_hz <= transition_hz)
    ratio = np.where(asked, decay.early_s / line, np.nan)
    judged = np.isfinite(ratio)
    if not judged.any():
        return _MODES.not_judged(
            f"No band from {TEST_LINE_HZ[0]:.0f} to {transition_hz:.0f} Hz stands far enough above "
            "its noise."
        )
    worst = int(np.argmax(np.where(judged, ratio, -np.inf)))
    within = bool(ratio[worst] <= 1)
    missing = [band_name(mid) for mid in decay.mid_hz[asked & ~judged]]
    return _MODES.judged(
        value=decay.early_s[worst],
        passed=None if within and missing else within,
        reason=f"{_place(within=within)} is {band_name(decay.mid_hz[worst])}: "
        f"{decay.early_s[worst]:.2f} s, allowed {line[worst]:.2f} s; the band can show "
        f"{decay.limit_s[worst]:.2f} s and more.{_not_readable(missing)}",
        computed_from=f"median T20 of {decay.readings} responses, third octaves up to the "
        f"transition at {transition_hz:.0f} Hz",
        detail=[
            entry
            for band in np.flatnonzero(np.isfinite(line) & np.isfinite(decay.early_s))
            for entry in (
                (band_name(decay.mid_hz[band]), decay.early_s[band]),
                (f"{band_name(decay.mid_hz[band])}, shortest readable", decay.limit_s[band]),
            )
        ],
    )


def _place(*, within: bool) -> str:
    return "Nearest to its limit" if within else "Farthest beyond its limit"


def _not_readable(bands: list[str]) -> str:
    return f" Noise hides the decay at {', '.join(bands)}." if bands else ""


def _by_band(decay: RoomDecay, times_s: NDArray[np.float64]) -> tuple[tuple[str, float], ...]:
    return tuple(
        (band_name(mid), time)
        for mid, time in zip(decay.mid_hz, times_s, strict=True)
        if np.isfinite(time)
    )


def _origin(decay: RoomDecay) -> str:
    return f"median T30 (T20 where noise allows no T30) of {decay.readings} responses"


def _bend(decay: RoomDecay) -> str:
    if not abs(decay.curvature_percent) > CURVATURE_LIMIT_PERCENT:
        return ""
    return (
        f" The decay is bent: T30 differs from T20 by {decay.curvature_percent:+.0f} % on average, "
        "so one number does not describe it."
    )


def _unreadable(decay: RoomDecay) -> str:
    return (
        f"Too few of the {decay.readings} responses stand far enough above their noise from "
        "200 Hz to 4 kHz for a reverberation time to be read."
    )
