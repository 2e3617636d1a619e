"""All impulse responses of a survey or a proof: every source at every station."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.measurement.measured_response import MeasuredResponse
from roomwright.measurement.octaves import OCTAVES_HZ
from roomwright.model import Diagnosis, Finding
from roomwright.signals import frequencies_hz

F = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class ResponseSet:
    """Impulse responses of S sources at P stations, n samples each.

    Attributes
    ----------
    sources, stations
        Names, in the order of the first two axes.
    samples
        Float32, shape (S, P, n); zero where nothing is `present`. Pascal per digital full scale
        if `absolute`. Sample 0 is the moment the signal left the output if `timed`.
    present
        Shape (S, P): which pairs were measured.
    sampling_rate_hz, absolute, timed
        As in `ImpulseResponse`; the last two hold only if they hold for every response.
    trusted_hz
        Shape (S, P, 2): band in which each stands clear of its noise; (0, 0) where in none.
    noise_rms
        Shape (S, P), unit of `samples`.
    signal_to_noise_db
        Shape (S, P, B), per octave of `octave_hz`; NaN where unknown.
    distortion_db
        Shape (S, P, 4): orders 2 to 5 re the fundamental; NaN where unknown.
    background_db
        Shape (P, B): sound pressure level of the background noise per octave; NaN where unknown.
    clock_error_ppm
        Shape (S, P); NaN where unknown.
    findings
        Doubts.
    octave_hz
        Shape (B,), exact midbands.
    take_diagnoses
        What is wrong with single takes, each with its source and station.
    diagnoses
        What is wrong with the whole: takes, wiring, places; the gravest first.
    """

    sources: tuple[str, ...]
    stations: tuple[str, ...]
    samples: NDArray[np.float32]
    present: NDArray[np.bool_]
    sampling_rate_hz: int
    absolute: bool
    timed: bool
    trusted_hz: F
    noise_rms: F
    signal_to_noise_db: F
    distortion_db: F
    background_db: F
    clock_error_ppm: F
    findings: tuple[Finding, ...] = ()
    octave_hz: F = field(default_factory=OCTAVES_HZ.copy)
    take_diagnoses: tuple[Diagnosis, ...] = ()
    diagnoses: tuple[Diagnosis, ...] = ()

    def __post_init__(self) -> None:
        """Check the shapes and make the arrays read-only."""
        pairs = (len(self.sources), len(self.stations))
        bands = (self.octave_hz.size,)
        shapes = {
            "samples": (*pairs, self.samples.shape[-1]),
            "present": pairs,
            "trusted_hz": (*pairs, 2),
            "noise_rms": pairs,
            "signal_to_noise_db": pairs + bands,
            "distortion_db": (*pairs, 4),
            "background_db": pairs[1:] + bands,
            "clock_error_ppm": pairs,
        }
        for name, shape in shapes.items():
            array: NDArray[np.generic] = getattr(self, name)
            if array.shape != shape:
                raise InputError(
                    f"{name} of a response set must have the shape {shape}; got {array.shape}"
                )
            view = array.view()
            view.flags.writeable = False
            object.__setattr__(self, name, view)

    def index(self, source: str, station: str) -> tuple[int, int]:
        """Row and column of `source` at `station`.

        Raises
        ------
        InputError
            If the set has no such source or station, or the pair was not measured.
        """
        for name, names, kind in (
            (source, self.sources, "source"),
            (station, self.stations, "station"),
        ):
            if name not in names:
                raise InputError(f"there is no {kind} {name}; there are {', '.join(names)}")
        row, column = self.sources.index(source), self.stations.index(station)
        if not self.present[row, column]:
            raise InputError(f"{source} was not measured at {station}")
        return row, column

    def spectra(self) -> NDArray[np.complex64]:
        """Complex one-sided spectra, shape (S, P, n // 2 + 1), on `frequencies_hz`."""
        spectra: NDArray[np.complex64] = scipy.fft.rfft(self.samples, axis=-1, workers=-1)
        return spectra

    def frequencies_hz(self) -> F:
        """Frequencies of `spectra`, hertz, shape (n // 2 + 1,)."""
        return frequencies_hz(self.samples.shape[-1], self.sampling_rate_hz)


def collect(
    responses: Mapping[tuple[str, str], MeasuredResponse],
    *,
    sources: Sequence[str],
    stations: Sequence[str],
    background: Mapping[str, F] | None = None,
    findings: Sequence[Finding] = (),
) -> ResponseSet:
    """Responses of single takes as one set.

    Parameters
    ----------
    responses
        (source, station) to what was measured. Shorter responses are padded with zeros.
    sources, stations
        Names and order of the axes; pairs without a response are marked as not present.
    background
        Station to octave levels of the background noise, shape (B,); other stations are left out.
    findings
        Doubts of the whole set, put before those of the single takes.

    Raises
    ------
    InputError
        If there is no response, one is of a source or station not listed, or sampling rates
        differ.
    """
    if not responses:
        raise InputError("there is no response to collect; at least one is needed")
    for source, station in responses:
        if source not in sources or station not in stations:
            raise InputError(f"the response of {source} at {station} is not of a listed pair")
    rates = {measured.response.sampling_rate_hz for measured in responses.values()}
    if len(rates) > 1:
        listing = ", ".join(f"{rate} Hz" for rate in sorted(rates))
        raise InputError(f"the responses have different sampling rates ({listing}); one is allowed")
    pairs = (len(sources), len(stations))
    bands = OCTAVES_HZ.size
    length = max(measured.response.samples.size for measured in responses.values())
    samples = np.zeros((*pairs, length), dtype=np.float32)
    present = np.zeros(pairs, dtype=bool)
    trusted_hz, noise_rms = np.zeros((*pairs, 2)), np.full(pairs, np.nan)
    signal_to_noise_db = np.full((*pairs, bands), np.nan)
    distortion_db, clock_error_ppm = np.full((*pairs, 4), np.nan), np.full(pairs, np.nan)
    found = list(findings)
    for (source, station), measured in responses.items():
        at = sources.index(source), stations.index(station)
        response = measured.response
        samples[at][: response.samples.size] = response.samples
        present[at] = True
        trusted_hz[at], noise_rms[at] = response.trusted_hz, response.noise_rms
        signal_to_noise_db[at] = measured.signal_to_noise_db
        distortion_db[at] = measured.distortion_db
        clock_error_ppm[at] = measured.clock_error_ppm
        found.extend(measured.findings)
    background_db = np.full((len(stations), bands), np.nan)
    for name, levels_db in (background or {}).items():
        if name in stations:
            background_db[stations.index(name)] = levels_db
    return ResponseSet(
        sources=tuple(sources),
        stations=tuple(stations),
        samples=samples,
        present=present,
        sampling_rate_hz=rates.pop(),
        absolute=all(measured.response.absolute for measured in responses.values()),
        timed=all(measured.response.timed for measured in responses.values()),
        trusted_hz=trusted_hz,
        noise_rms=noise_rms,
        signal_to_noise_db=signal_to_noise_db,
        distortion_db=distortion_db,
        background_db=background_db,
        clock_error_ppm=clock_error_ppm,
        findings=tuple(dict.fromkeys(found)),  # one recording may hold several responses
    )
