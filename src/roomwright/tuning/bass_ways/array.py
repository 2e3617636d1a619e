"""A plane-wave array as outputs' settings: gains and delays, and filters where they do better."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.model import Finding, OutputTuning
from roomwright.tuning.arrays import (
    ArrayDesign,
    ArrayOptions,
    Emitters,
    designed_array,
    station_grid,
)
from roomwright.tuning.bass_ways.case import LowCase, filter_length_s
from roomwright.tuning.bass_ways.joined import joined
from roomwright.tuning.bass_ways.marked import drivers_of, marked_emitters, marked_simple
from roomwright.tuning.bass_ways.way import Way, coefficients_of, way_of

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Delay that filters may bring: what must sound ahead of the wave has room in it.
_DELAY_S = 0.02

#: Filters shorter than this cannot make a wave of the deep bass.
_SHORTEST_S = 0.06


@dataclass(frozen=True, slots=True, eq=False)
class ArrayWays:
    """The simple array, the one with filters where the processor has taps, and the design."""

    emitters: Emitters
    simple: Way
    filters: Way | None
    design: ArrayDesign | None
    findings: tuple[Finding, ...]

    @property
    def chosen(self) -> Way:
        """The filters where they beat gains and delays at held-back stations, else these."""
        if self.filters is not None and self.design is not None and self.design.chosen == "filters":
            return self.filters
        return self.simple


def array_ways(
    case: LowCase, progress: Progress = silent, up_to_hz: float | None = None
) -> ArrayWays:
    """The array that the job marks, with gains and delays and with filters.

    Parameters
    ----------
    case
        The subwoofers at the stations.
    progress
        Told how far the work is; may raise to stop it.
    up_to_hz
        Where its control ends at most; by default the job's band.

    Raises
    ------
    InputError
        If the marks make no array, or it cannot be in control of any useful band.
    """
    array = marked_emitters(case.job, case.names)
    order = [case.names.index(name) for name in array.names]
    simple = marked_simple(case, array)
    outputs = {one.drives: _rounded(case, one) for one in simple.outputs()}
    ordered = tuple(outputs[name] for name in case.names)
    plain = way_of("simple array", ordered, case.grid, case.job.sampling_rate_hz)
    why = _why_no_filters(case)
    if why:
        note = Finding(severity="note", where="array", text=why)
        return ArrayWays(array, plain, None, None, (note,))
    design = designed_array(
        array,
        simple,
        station_grid(
            case.samples[order],
            case.job.sampling_rate_hz,
            case.points_m,
            timed=True,
            weights=case.weights,
        ),
        drivers_of(case.job, array.names),
        ArrayOptions(
            wanted_hz=_wanted(case, up_to_hz),
            filter_s=filter_length_s(case.job),
            delay_s=min(_DELAY_S, 0.3 * filter_length_s(case.job)),
            speed_m_s=case.speed_m_s,
        ),
        progress,
        case.held if case.held.any() else None,
    )
    back = np.argsort(order)
    launches = array.launches[back]
    drive = joined(
        case,
        wave_drive(case, design)[back],
        design.band,
        np.repeat(launches[:, None].astype(np.complex128), case.grid.bins, axis=1),
        design.latency_s,
    )
    filtered = tuple(
        OutputTuning(drives=name, fir=fir)
        for name, fir in zip(case.names, coefficients_of(drive, case.grid), strict=True)
    )
    way = way_of(
        "array filters",
        filtered,
        case.grid,
        case.job.sampling_rate_hz,
        design.latency_s,
        design.findings,
    )
    return ArrayWays(array, plain, way, design, design.findings)


def wave_drive(case: LowCase, design: ArrayDesign) -> C:
    """The design's filters on the case's grid (S, bins), in the order of the emitters."""
    turn = np.outer(np.arange(design.coefficients.shape[1]), case.grid.frequencies_hz)
    drive = design.coefficients @ np.exp(-2j * np.pi * turn / design.grid.rate_hz)
    return np.asarray(drive * (case.grid.frequencies_hz <= design.band.fades_out_hz))


def _why_no_filters(case: LowCase) -> str:
    """Why an array has gains and delays only; empty where filters can be designed."""
    taps = case.job.processor.fir_taps_per_output
    if filter_length_s(case.job) < _SHORTEST_S:
        needed = int(np.ceil(_SHORTEST_S * case.job.sampling_rate_hz))
        return (
            f"the array has gains and delays only: the processor has {taps} FIR taps an output, "
            f"and filters need {needed}"
        )
    if not np.isfinite(case.points_m).all():
        return "the array has gains and delays only: the place of a station is not known"
    return ""


def _wanted(case: LowCase, up_to_hz: float | None) -> tuple[float, float]:
    low, high = case.band_hz
    if up_to_hz is None:
        return low, high
    if up_to_hz <= low:
        raise InputError(
            f"the array is to be used up to {up_to_hz:g} Hz, below the band of the bass, "
            f"{low:g} to {high:g} Hz; raise it, or choose even seats"
        )
    return low, min(high, up_to_hz)


def _rounded(case: LowCase, output: OutputTuning) -> OutputTuning:
    sheet = case.job.processor
    gain = round(output.trim_db / sheet.gain_step_db) * sheet.gain_step_db
    delay = round(output.delay_s / sheet.delay_step_s) * sheet.delay_step_s
    return output.model_copy(
        update={"trim_db": round(gain, 6) + 0.0, "delay_s": round(delay, 12) + 0.0}
    )
