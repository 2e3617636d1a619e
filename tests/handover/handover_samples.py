"""Jobs and responses made by hand for the handover: decaying noise, levels known."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np

from roomwright.handover import Content
from roomwright.layout import main_seat_of, place, rows_of_seats, seat_stations
from roomwright.measurement import OCTAVES_HZ, ResponseSet
from roomwright.model import (
    Biquad,
    CapabilitySheet,
    Crossover,
    Finding,
    FirCurve,
    Job,
    LoudspeakerModel,
    Output,
    OutputTuning,
    Room,
    Surface,
    Take,
    Tuning,
)
from roomwright.proof import Verdict
from roomwright.signals import midbands, nominal_label

RATE = 48000
MODELS = MappingProxyType({name: name for name in ("front", "surround", "height", "subwoofer")})


def loudspeaker_models():
    return tuple(
        LoudspeakerModel(
            name=name, sensitivity_db=92, maximum_level_db=112, low_hz=low, high_hz=high
        )
        for name, low, high in (
            ("front", 55, 20000),
            ("surround", 65, 20000),
            ("height", 70, 20000),
            ("subwoofer", 20, 250),
        )
    )


def tuned_job(layout="7.4.4", rows=2, seats_per_row=4, name="Lanternhouse", fir=False):
    """A box room with a layout placed in it and a tuning of plausible numbers."""
    soft = Surface(material="absorber", absorption=(0.1, 0.3, 0.5, 0.6, 0.6, 0.6, 0.6, 0.6))
    hard = Surface(
        material="plasterboard", absorption=(0.2, 0.15, 0.1, 0.08, 0.06, 0.05, 0.05, 0.05)
    )
    room = Room(
        outline_m=((0, 0), (5.4, 0), (5.4, 7.2), (0, 7.2)),
        height_m=2.8,
        floor=soft,
        ceiling=hard,
        walls=(soft, hard, soft, hard),
    )
    seats = rows_of_seats(room, rows, seats_per_row)
    main = main_seat_of(seats)
    placed = place(room, seats, main, layout, models=MODELS)
    units = (*placed.loudspeakers, *placed.subwoofers)
    high = Crossover(side="high_pass", frequency_hz=80)
    low = Crossover(side="low_pass", frequency_hz=80)
    subs = {subwoofer.id for subwoofer in placed.subwoofers}
    outputs = tuple(
        OutputTuning(
            drives=unit.id,
            trim_db=-1.3 - 0.1 * place_,
            delay_s=0.001 * place_,
            inverted=place_ % 5 == 1,
            crossovers=() if unit.id in subs or not subs else (high,),
            biquads=(
                Biquad(kind="peaking", frequency_hz=143.0 + place_, gain_db=-4.2, q=3.1),
                Biquad(kind="peaking", frequency_hz=1430.0, gain_db=2.2, q=1.1),
                Biquad(kind="high_shelf", frequency_hz=6430.0, gain_db=-1.5, q=0.7),
            ),
            fir=FirCurve(taps=512, frequencies_hz=(100, 1000), level_db=(-3, 0)) if fir else None,
        )
        for place_, unit in enumerate(units)
    )
    return Job(
        name=name,
        room=room,
        seats=seats,
        main_seat=main,
        layout=layout,
        loudspeaker_models=loudspeaker_models(),
        loudspeakers=placed.loudspeakers,
        subwoofers=placed.subwoofers,
        channels=placed.channels,
        processor=CapabilitySheet(outputs=64),
        outputs=tuple(Output(number=n, drives=u.id) for n, u in enumerate(units, start=1)),
        stations=seat_stations(seats, main, 4),
        tuning=Tuning(outputs=outputs, bass_low_pass=low if subs else None, based_on="none"),
    )


def response_set(sources, stations, *, seed=1, absolute=True, timed=True, length=9600):
    """Decaying noise after a direct sound, another for each pair, 35 dB of it above the noise."""
    rng = np.random.default_rng(seed)
    pairs = (len(sources), len(stations))
    time = np.arange(length) / RATE
    samples = 0.02 * rng.standard_normal((*pairs, length)) * np.exp(-6.9 * time / 0.25)
    arrival = 400 + 20 * np.arange(pairs[0])[:, None] + 5 * np.arange(pairs[1])
    samples[np.arange(length) < arrival[..., None]] = 0
    np.put_along_axis(samples, arrival[..., None], 0.5, axis=-1)
    background = np.full((pairs[1], OCTAVES_HZ.size), np.nan)
    if absolute:
        background[0] = 45 - 3.5 * np.arange(OCTAVES_HZ.size)
    return ResponseSet(
        sources=tuple(sources),
        stations=tuple(stations),
        samples=samples.astype(np.float32),
        present=np.ones(pairs, dtype=bool),
        sampling_rate_hz=RATE,
        absolute=absolute,
        timed=timed,
        trusted_hz=np.broadcast_to((25.0, 19000.0), (*pairs, 2)).copy(),
        noise_rms=np.full(pairs, 1e-5),
        signal_to_noise_db=np.full((*pairs, OCTAVES_HZ.size), 52.0),
        distortion_db=np.broadcast_to((-48.0, -55.0, -70.0, np.nan), (*pairs, 4)).copy(),
        background_db=background,
        clock_error_ppm=np.full(pairs, 18.0),
    )


def verdicts(value=0.4):
    """One verdict of each kind, and those whose details are drawn."""
    times = tuple((f"{nominal_label(float(f), 3)} Hz", 0.3) for f in midbands(3, 63.0, 8000.0))
    practice = ("common practice, no source", "11 channels at S-R1-2")
    ebu = ("EBU Tech 3276, from memory", "mean T30 of 144 responses")
    return (
        Verdict("level_match", "Level match", value, "dB", "0.5 dB", True, "-0.4 dB.", *practice),
        Verdict("spread_below", "Bass", 12.1, "dB2", "at most 9 dB2", False, "Much.", *practice),
        Verdict("arrival_match", "Arrival", None, "ms", "1.0 ms", None, "Untimed.", *practice),
        Verdict("reverberation_mean", "Decay", 0.3, "s", "0.25 s", True, "Good.", *ebu),
        Verdict("reverberation_mask", "Mask", 0.0, "s", "0.05 s", True, "Good.", *ebu, times),
    )


def content_of(job, *, proved=True, surveyed=True, absolute=True, timed=True, stations=None):
    """The content of a handover of `job`, every response made by hand."""
    names = tuple(s.id for s in job.stations)[:stations]
    kind = {"absolute": absolute, "timed": timed}
    units = [unit.id for unit in job.units]
    channels = [c.id for c in job.channels if c.loudspeakers or job.subwoofers]
    survey = response_set(units, names, **kind) if surveyed else None
    predicted = response_set(channels, names, seed=2, **kind)
    measured = response_set(channels, names, seed=3, **kind) if proved else None
    return Content(
        job=job,
        survey=survey,
        predicted=predicted,
        measured=measured,
        verdicts_predicted=verdicts(),
        verdicts_measured=() if measured is None else verdicts(0.3),
        findings=(
            Finding(severity="note", where="M+000", text="a null at 92 Hz was left alone"),
            Finding(severity="doubt", where="S-R1-1", text="the clock error was not steady"),
        ),
        made_on="2026-11-25",
    )


def takes_of(job, origin="rehearsal"):
    """One survey take and one proof take of an origin."""
    return tuple(
        Take(
            stage=stage,
            source=source,
            station=job.stations[0].id,
            kind="response",
            file=f"takes/{stage}.wav",
            sha256="0" * 64,
            origin=origin,
        )
        for stage, source in (("survey", job.units[0].id), ("proof", job.channels[0].id))
    )
