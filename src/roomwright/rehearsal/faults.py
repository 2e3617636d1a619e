"""Faults planted in the rehearsal room: what each output really drives, and how."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.model import Fault, Job

#: The rattle: how often a burst comes, how long it lasts, its band, its level over the drive.
_BURSTS_PER_S = 60.0
_BURST_S = 0.004
_RATTLE_HZ = (800.0, 6000.0)
_RATTLE_GAIN = 0.3
#: The rattle follows the drive's peaks over this time.
_FOLLOW_S = 0.02


WaysFault = Literal["ways_swapped", "no_tweeter", "no_woofer"]

#: Where a faulty two-way loudspeaker is crossed over if the fault does not say.
_CROSSOVER_HZ = 2000.0


@dataclass(frozen=True, slots=True)
class Wire:
    """What lies behind one output: the unit it drives, and what is wrong on the way."""

    unit_id: str
    gain: float = 1.0
    delay_s: float = 0.0
    buzzes: bool = False
    distortion_percent: float = 0.0
    ways: WaysFault | None = None
    crossover_hz: float = 0.0
    displaced_m: float = 0.0


def wiring(job: Job) -> Mapping[int, Wire]:
    """Every output's wire, the job's planted faults in place.

    Raises
    ------
    InputError
        If a fault is on an output that drives nothing, or a late one comes early.
    """
    wires = {output.number: Wire(output.drives) for output in job.outputs}
    for fault in job.rehearsal.faults:
        if fault.of_recording:
            continue
        wire = _at(wires, fault, fault.output)
        if fault.other is None:
            wires[fault.output] = _changed(wire, fault)
        else:
            other = _at(wires, fault, fault.other)
            wires[fault.output] = replace(wire, unit_id=other.unit_id)
            wires[fault.other] = replace(other, unit_id=wire.unit_id)
    return wires


def rattle(
    excursion: NDArray[np.float32], sampling_rate_hz: float, rng: np.random.Generator
) -> NDArray[np.float32]:
    """Bursts of noise that follow the peaks of a drive, as of a loose part.

    Parameters
    ----------
    excursion
        (n,) low-passed drive of the unit.
    sampling_rate_hz
        Its sampling rate.
    rng
        Source of the bursts.

    Returns
    -------
    ndarray
        (n,) to be added to the drive. A model chosen here, no source.
    """
    follow = max(1, round(_FOLLOW_S * sampling_rate_hz))
    peaks = scipy.signal.lfilter([1.0 / follow], [1.0, 1.0 / follow - 1.0], np.abs(excursion))
    burst = max(1, round(_BURST_S * sampling_rate_hz))
    starts = rng.random(excursion.size) < _BURSTS_PER_S / sampling_rate_hz
    bursts = scipy.signal.fftconvolve(starts, np.hanning(burst + 2)[1:-1])[: excursion.size]
    band = scipy.signal.butter(2, _RATTLE_HZ, "bandpass", fs=sampling_rate_hz, output="sos")
    noise = scipy.signal.sosfilt(band, rng.standard_normal(excursion.size))
    noise *= _RATTLE_GAIN / np.sqrt(np.mean(noise**2))
    return np.asarray(noise * bursts * peaks, dtype=np.float32)


def _at(wires: Mapping[int, Wire], fault: Fault, output: int) -> Wire:
    if output not in wires:
        driving = ", ".join(str(number) for number in sorted(wires)) or "none"
        raise InputError(
            f"a fault '{fault.kind}' is planted in output {output}, which drives nothing; "
            f"outputs that do: {driving}"
        )
    return wires[output]


def _changed(wire: Wire, fault: Fault) -> Wire:
    if fault.kind == "late" and fault.amount < 0:
        raise InputError(
            f"the planted fault 'late' on output {fault.output} has the amount "
            f"{fault.amount:g} s; it must be 0 or more"
        )
    changes: dict[str, dict[str, Any]] = {
        "reversed": {"gain": -wire.gain},
        "dead": {"gain": 0.0},
        "quiet": {"gain": wire.gain * 10.0 ** (-abs(fault.amount) / 20.0)},
        "late": {"delay_s": wire.delay_s + fault.amount},
        "buzz": {"buzzes": True},
        "distorting": {"distortion_percent": fault.amount},
        "displaced": {"displaced_m": fault.amount},
    }
    crossed = {"ways": fault.kind, "crossover_hz": fault.amount or _CROSSOVER_HZ}
    return replace(wire, **changes.get(fault.kind, crossed))
