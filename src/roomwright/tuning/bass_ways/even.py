"""Even seats: the ways a processor has to make the seats differ little, as outputs' settings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Finding, OutputTuning
from roomwright.tuning.bass_design import (
    EvenSeats,
    FilterLimits,
    Weights,
    even_seats,
    magnitude_gains,
)
from roomwright.tuning.bass_ways.case import LowCase, filter_length_s
from roomwright.tuning.bass_ways.way import Way, WayName, coefficients_of, ends, way_of

C = NDArray[np.complex128]

_NAMES: dict[str, WayName] = {
    "alike": "alike",
    "gain and delay": "gain and delay",
    "biquads": "biquads",
    "FIR": "FIR",
    "free": "free",
}


def even_ways(case: LowCase) -> tuple[tuple[Way, ...], tuple[Finding, ...]]:
    """Every way of even seats that the job's processor has, the simplest first, and the bound.

    `alike` is all subwoofers with the same signal, as they stand.
    """
    job, rate = case.job, case.job.sampling_rate_hz
    taps = int(filter_length_s(job) * rate)
    sheet = job.processor.model_copy(update={"fir_taps_per_output": taps})
    found, findings = even_seats(
        case.bass_field(),
        sheet,
        rate,
        weights=Weights(job.bass.level_weight),
        filter_limits=FilterLimits(highest_hz=1.3 * case.band_hz[1]),
    )
    return tuple(_way(case, one) for one in found), findings


def _way(case: LowCase, found: EvenSeats) -> Way:
    name = _NAMES[found.way]
    if name == "free":
        return Way(name, _bound(case), ())
    if found.fir is not None:
        return _with_filters(case, found)
    settings = found.settings
    filters = found.biquads or ((),) * len(case.names)
    outputs = tuple(
        OutputTuning(
            drives=unit,
            trim_db=round(float(gain), 6) + 0.0,
            delay_s=round(float(delay), 12) + 0.0,
            inverted=bool(inverted),
            biquads=own,
        )
        for unit, gain, delay, inverted, own in zip(
            case.names,
            settings.gain_db,
            settings.delay_s,
            settings.inverted,
            filters,
            strict=True,
        )
    )
    return way_of(name, outputs, case.grid, case.job.sampling_rate_hz)


def _with_filters(case: LowCase, found: EvenSeats) -> Way:
    """FIR in the band, all alike with the same delay above it."""
    assert found.fir is not None  # noqa: S101  # the caller looked
    frequency = case.grid.frequencies_hz
    alike = np.exp(-2j * np.pi * frequency * found.fir.delay_s)
    share = above_band_share(case)
    own = found.fir.gains(np.minimum(frequency, 0.5 * found.fir.sampling_rate_hz))
    drive = share * own + (1.0 - share) * alike * np.abs(own[:, share > 0]).mean()
    outputs = tuple(
        OutputTuning(drives=unit, fir=fir)
        for unit, fir in zip(
            case.names, coefficients_of(drive * ends(case.grid), case.grid), strict=True
        )
    )
    return way_of("FIR", outputs, case.grid, case.job.sampling_rate_hz, latency_s=found.fir.delay_s)


def above_band_share(case: LowCase) -> NDArray[np.float64]:
    """How much a design of the band is in control (bins,): 1 up to its top, then fading out.

    Over a third of an octave, since nothing was designed beyond the band.
    """
    octaves = np.log2(case.grid.frequencies_hz / case.band_hz[1])
    return np.asarray(np.cos(0.5 * np.pi * np.clip(3.0 * octaves, 0.0, 1.0)) ** 2)


def _bound(case: LowCase) -> C:
    """Gains free at every bin of the band, the same level everywhere (S, bins); 0 outside."""
    frequency = case.grid.frequencies_hz
    inside = (frequency >= 0.9 * case.band_hz[0]) & (frequency <= 1.1 * case.band_hz[1])
    gains = magnitude_gains(case.field[None][:, :, ~case.held][..., inside])[0]
    drive = np.zeros((len(case.names), frequency.size), dtype=np.complex128)
    drive[:, inside] = gains
    return np.asarray(drive / np.abs(drive).max())
