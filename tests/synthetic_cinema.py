"""A small synthetic cinema: loudspeakers with known responses in a room of known reflections."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy import fft

from roomwright.measurement import OCTAVES_HZ, ResponseSet
from roomwright.model import (
    CapabilitySheet,
    Channel,
    Job,
    Loudspeaker,
    LoudspeakerModel,
    Output,
    Room,
    Seat,
    Station,
    Subwoofer,
    Surface,
)

RATE = 48000
LENGTH = 24000


def make_job(**changes) -> Job:
    surface = Surface(material="mixed", absorption=(0.2,) * 8)
    places = {
        "M+030": (1.2, 0.2, 1.3),
        "M-030": (3.4, 0.2, 1.3),
        "M000": (2.3, 0.2, 1.3),
        "M+110": (0.2, 4.0, 1.3),
        "M-110": (4.3, 4.0, 1.3),
    }
    subwoofers = {"SW1": (2.25, 0.3, 0.25), "SW2": (2.25, 5.8, 0.25)}
    seat = (2.25, 3.6, 1.2)
    seats = {"R1-1": (1.5, 3.6, 1.2), "R1-2": seat, "R1-3": (3.0, 3.6, 1.2)}
    values = {
        "name": "synthetic",
        "room": Room(
            outline_m=((0, 0), (4.5, 0), (4.5, 6), (0, 6)),
            height_m=2.7,
            floor=surface,
            ceiling=surface,
            walls=(surface,) * 4,
        ),
        "seats": tuple(Seat(id=s, position_m=p) for s, p in seats.items()),
        "main_seat": "R1-2",
        "layout": "0+5+0",
        "loudspeaker_models": (
            LoudspeakerModel(
                name="main", sensitivity_db=87, maximum_level_db=110, low_hz=55, high_hz=20000
            ),
            LoudspeakerModel(
                name="sub", sensitivity_db=90, maximum_level_db=115, low_hz=20, high_hz=200
            ),
        ),
        "loudspeakers": tuple(
            Loudspeaker(id=n, model="main", position_m=p, aim_m=seat) for n, p in places.items()
        ),
        "subwoofers": tuple(
            Subwoofer(id=n, model="sub", position_m=p) for n, p in subwoofers.items()
        ),
        "channels": (
            *(Channel(id=n, role="front", loudspeakers=(n,)) for n in places),
            Channel(id="LFE1", role="lfe"),
        ),
        "processor": CapabilitySheet(),
        "outputs": tuple(
            Output(number=k, drives=n) for k, n in enumerate((*places, *subwoofers), start=1)
        ),
        "stations": tuple(Station(id=f"S-{s}", position_m=p, seat=s) for s, p in seats.items()),
    }
    return Job(**(values | changes))


def response_set(
    samples: Mapping[tuple[str, str], np.ndarray],
    *,
    timed: bool = True,
    rate: int = RATE,
    length: int = LENGTH,
) -> ResponseSet:
    """A set of noiseless responses; pairs not given are absent."""
    sources = tuple(dict.fromkeys(source for source, _ in samples))
    stations = tuple(dict.fromkeys(station for _, station in samples))
    pairs = (len(sources), len(stations))
    data, present = np.zeros((*pairs, length), np.float32), np.zeros(pairs, bool)
    for (source, station), own in samples.items():
        at = sources.index(source), stations.index(station)
        data[at][: own.size] = own
        present[at] = True
    return ResponseSet(
        sources=sources,
        stations=stations,
        samples=data,
        present=present,
        sampling_rate_hz=rate,
        absolute=True,
        timed=timed,
        trusted_hz=np.where(present[..., None], (10.0, 22000.0), 0.0),
        noise_rms=np.full(pairs, 1e-6),
        signal_to_noise_db=np.full((*pairs, OCTAVES_HZ.size), 60.0),
        distortion_db=np.full((*pairs, 4), np.nan),
        background_db=np.full((pairs[1], OCTAVES_HZ.size), 20.0),
        clock_error_ppm=np.zeros(pairs),
    )


def band_passed(delay_s: float, low_hz: float, high_hz: float, gain: float = 1.0) -> np.ndarray:
    """A minimum-phase second-order band (Butterworth at both ends), delayed by any time."""
    f = fft.rfftfreq(LENGTH, 1 / RATE)
    s = 1j * f
    high_pass = s**2 / (s**2 + np.sqrt(2) * low_hz * s + low_hz**2)
    low_pass = high_hz**2 / (s**2 + np.sqrt(2) * high_hz * s + high_hz**2)
    spectrum = gain * high_pass * low_pass * np.exp(-2j * np.pi * f * delay_s)
    spectrum[-1] = spectrum[-1].real
    return fft.irfft(spectrum, LENGTH)


def synthetic_survey(job: Job, seed: int = 1, **options) -> ResponseSet:
    """Direct sound and 40 reflections of every unit at every station, all by geometry and seed."""
    rng = np.random.default_rng(seed)
    models = {model.name: model for model in job.loudspeaker_models}
    samples = {}
    for unit in (*job.loudspeakers, *job.subwoofers):
        model = models[unit.model]
        gain = 10 ** (model.sensitivity_db / 20) * 2e-5 * np.sqrt(2) / 0.1
        for station in job.stations:
            distance = float(np.linalg.norm(np.subtract(unit.position_m, station.position_m)))
            own = band_passed(distance / 343, model.low_hz, model.high_hz, gain / distance)
            echoes = np.zeros(LENGTH)
            echoes[0] = 1.0
            at = rng.integers(60, 6000, 40)
            echoes[at] += rng.normal(0, 0.25, 40) * np.exp(-at / 1500)
            spectrum = fft.rfft(own, 2 * LENGTH) * fft.rfft(echoes, 2 * LENGTH)
            samples[unit.id, station.id] = fft.irfft(spectrum, 2 * LENGTH)[:LENGTH]
    return response_set(samples, **options)
