"""What the survey says of each loudspeaker and subwoofer, as the tuning reads it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.acoustics import room_reverberation_s, schroeder_frequency_hz
from roomwright.analysis import arrival_s, decay_times
from roomwright.measurement import ResponseSet
from roomwright.model import Finding, Job, Loudspeaker, Subwoofer
from roomwright.signals import midbands
from roomwright.tuning.stations import main_station, station_weights

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: The transition is looked for in this range only: outside it the room's data are doubtful.
_TRANSITION_RANGE_HZ = (80.0, 400.0)

_UNMEASURED = "was not measured; it is not tuned, and its trim is the lowest of its kind"

#: Where the arrival of a loudspeaker and of a subwoofer is read.
_LOUDSPEAKER_BAND_HZ = (500.0, 8000.0)
_SUBWOOFER_BAND_HZ = (30.0, 120.0)


@dataclass(frozen=True, slots=True)
class Source:
    """One measured loudspeaker or subwoofer.

    `row` is its row in the survey and `weights` (P,) what each station counts for it, 0 where it
    was not measured. `reference` (P,) are the shares of the stations at which its level and
    arrival are read: the main seat's alone where there is one. `driver_hz` lies between its -3 dB
    points by its data sheet, `trusted_hz` is the middle one of the trusted bands at its stations.
    """

    id: str
    row: int
    weights: F
    reference: F
    driver_hz: tuple[float, float]
    trusted_hz: tuple[float, float]


def transition_hz(job: Job, survey: ResponseSet, sources: Sequence[Source]) -> float:
    """Schroeder frequency of the room, within 80 to 400 Hz.

    From the mean T20 of the sources at their reference stations in the octaves of 500 Hz and
    1 kHz, as far as it is reliable; otherwise from the room's surfaces.
    """
    octaves_hz = midbands(1, 500.0, 1000.0)
    times = np.empty(0)
    if sources:
        samples = np.stack(
            [survey.samples[source.row, int(np.argmax(source.reference))] for source in sources]
        )
        read = decay_times(samples, survey.sampling_rate_hz, octaves_hz, 1)
        times = read.t20_s[read.reliable]
    if not times.size:
        times = room_reverberation_s(job.room, octaves_hz)
    frequency = schroeder_frequency_hz(float(times.mean()), job.room.volume_m3)
    return float(np.clip(frequency, *_TRANSITION_RANGE_HZ))


def measured_sources(
    job: Job, survey: ResponseSet
) -> tuple[dict[str, Source], tuple[Finding, ...]]:
    """Every loudspeaker and subwoofer the survey holds at one station or more, and what is missing.

    Returns
    -------
    dict, tuple of Finding
        Sources by id in the order of the job, loudspeakers first; findings for units and stations
        without measurements and for a main seat without a station.
    """
    findings = []
    weights = station_weights(job, survey.stations)
    main = main_station(job, survey.stations)
    if main is None:
        findings.append(
            Finding(
                severity="doubt",
                where=f"seat {job.main_seat}",
                text="no station stands for the main seat; levels and delays are those of all "
                "stations on average",
            )
        )
    sources = {}
    units: tuple[Loudspeaker | Subwoofer, ...] = (*job.loudspeakers, *job.subwoofers)
    for unit in units:
        row = survey.sources.index(unit.id) if unit.id in survey.sources else None
        present = np.zeros(len(weights), bool) if row is None else survey.present[row]
        missing = [s for s, here in zip(survey.stations, present, strict=True) if not here]
        if row is None or not present.any() or not survey.samples[row].any():
            findings.append(Finding(severity="doubt", where=unit.id, text=_UNMEASURED))
            continue
        if missing:
            findings.append(
                Finding(
                    severity="doubt",
                    where=unit.id,
                    text=f"was not measured at {', '.join(missing)}; the averages leave "
                    f"{'them' if len(missing) > 1 else 'it'} out",
                )
            )
        used = np.where(present, weights, 0.0)
        if not used.any():
            # It was measured where all is held back; better those than none.
            used = present.astype(np.float64)
        reference = used / used.sum()
        if main is not None and present[main]:
            reference = np.eye(len(weights))[main]
        sources[unit.id] = Source(
            unit.id,
            row,
            used,
            reference,
            _driver_hz(job, unit),
            _middle(survey.trusted_hz[row][present]),
        )
    return sources, tuple(findings)


def spectra(
    survey: ResponseSet, source: Source, band_hz: tuple[float, float] = (0.0, np.inf)
) -> tuple[F, C]:
    """Frequencies (bins,) of a band and a source's spectra there at every station, (P, bins).

    Zero where the source was not measured.
    """
    frequencies = survey.frequencies_hz()
    band = slice(
        int(np.searchsorted(frequencies, band_hz[0])),
        int(np.searchsorted(frequencies, band_hz[1], side="right")),
    )
    spectrum = fft.rfft(survey.samples[source.row])[:, band]
    return frequencies[band], np.asarray(spectrum, dtype=np.complex128)


def source_arrival_s(job: Job, survey: ResponseSet, source: Source) -> float:
    """When a source's sound arrives at its reference; NaN where that cannot be told."""
    is_subwoofer = source.id in {subwoofer.id for subwoofer in job.subwoofers}
    low, high = _SUBWOOFER_BAND_HZ if is_subwoofer else _LOUDSPEAKER_BAND_HZ
    used = source.reference > 0
    samples = survey.samples[source.row, used]
    return float(source.reference[used] @ arrival_s(samples, survey.sampling_rate_hz, (low, high)))


def _driver_hz(job: Job, unit: Loudspeaker | Subwoofer) -> tuple[float, float]:
    model = job.model_of(unit)
    return (model.low_hz, model.high_hz)


def _middle(trusted_hz: F) -> tuple[float, float]:
    known = trusted_hz[trusted_hz[:, 1] > trusted_hz[:, 0]]
    if not len(known):
        return (0.0, np.inf)
    low, high = np.median(known, axis=0)
    return (float(low), float(high))
