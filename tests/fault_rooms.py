"""Cinemas drawn at random, faults to plant in them, and what a survey of each is found to have.

The distributions are those of private cinemas as they are built: 15 to 65 m2, furnished or bare,
quiet or with ventilation, two types of loudspeakers and two to four subwoofers. Every room is
drawn from its own seed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from roomwright.commissioning.survey.diagnose import diagnose
from roomwright.commissioning.survey.passes import PlannedTake, own_sweep
from roomwright.measurement import collect
from roomwright.measurement.quality import JudgedTake, judge_take
from roomwright.model import (
    Channel,
    Diagnosis,
    Fault,
    Job,
    Loudspeaker,
    LoudspeakerModel,
    Microphone,
    Output,
    RehearsalSetup,
    Room,
    Seat,
    Station,
    Subwoofer,
    Surface,
    Sweep,
)
from roomwright.rehearsal import RehearsalRoom
from roomwright.signals import excitation

SWEEP = Sweep(duration_s=2.0, tail_s=0.8, gap_s=0.3, level_dbfs=-12.0, stop_hz=21000.0)
RATE = 48000
LENGTH_S = 0.7
_SOFTER_DB = 6.0


@dataclass(frozen=True)
class Case:
    """A planted fault, what it should be called, the units and takes it is in.

    `touches` takes a source and a station; `station` is where a fault of one take happens.
    """

    name: str
    kind: str
    fault: Fault | None
    units: tuple[str, ...]
    touches: Callable[[str, str], bool]
    station: str | None = None
    softer_db: float = 0.0


def drawn_job(seed: int) -> Job:
    """A cinema drawn from `seed`."""
    rng = np.random.default_rng([2024, seed])
    width, length = rng.uniform(3.4, 6.8), rng.uniform(4.4, 9.5)
    height = rng.uniform(2.3, 3.4)
    room = Room(
        outline_m=((0, 0), (width, 0), (width, length), (0, length)),
        height_m=height,
        floor=_surface(rng, 0.1, 0.5),
        ceiling=_surface(rng, 0.1, 0.6),
        walls=tuple(_surface(rng, 0.08, 0.6) for _ in range(4)),
        temperature_c=rng.uniform(18.0, 26.0),
        noise_criterion=rng.uniform(10.0, 24.0),
    )
    ears = rng.uniform(1.0, 1.3)
    seat = (width / 2 + rng.uniform(-0.2, 0.2), length * rng.uniform(0.5, 0.68), ears)
    places = _places(rng, width, length, seat)
    front, surround = _models(rng)
    speakers = tuple(
        Loudspeaker(id=n, model=("front" if n in _FRONT else "surround"), position_m=p, aim_m=seat)
        for n, p in places.items()
    )
    subwoofers = tuple(
        Subwoofer(id=f"SW{k + 1}", model="subwoofer", position_m=place)
        for k, place in enumerate(_sub_places(rng, width, length))
    )
    units = (*speakers, *subwoofers)
    return Job(
        name="drawn",
        room=room,
        seats=(Seat(id="R1-1", position_m=seat),),
        main_seat="R1-1",
        layout="0+5+0",
        loudspeaker_models=(front, surround, _subwoofer_model(rng)),
        loudspeakers=speakers,
        subwoofers=subwoofers,
        channels=(
            *(Channel(id=n, role="front", loudspeakers=(n,)) for n in _FRONT),
            Channel(id="M+110", role="surround", loudspeakers=("LS1", "LS2")),
            Channel(id="M-110", role="surround", loudspeakers=("RS1", "RS2")),
            Channel(id="LFE1", role="lfe"),
        ),
        outputs=tuple(Output(number=k, drives=u.id) for k, u in enumerate(units, start=1)),
        microphone=Microphone(sensitivity_pa=20.0),
        sweep=SWEEP,
        stations=_stations(rng, seat, width, length),
        rehearsal=RehearsalSetup(
            seed=int(rng.integers(1, 1 << 30)),
            latency_s=rng.uniform(0.004, 0.05),
            clock_error_ppm=rng.uniform(-80.0, 80.0),
            unit_spread_db=rng.uniform(0.3, 1.0),
            distortion_percent=rng.uniform(0.3, 2.0),
            converter_noise_dbfs=rng.uniform(-115.0, -100.0),
        ),
    )


_FRONT = ("M+030", "M000", "M-030")


def _surface(rng: np.random.Generator, low: float, high: float) -> Surface:
    """Absorption that rises or falls over the octaves about a mean drawn from the range."""
    middle, tilt = rng.uniform(low, high), rng.uniform(-0.03, 0.06)
    octaves = np.clip(middle + tilt * np.arange(-3, 5) + rng.uniform(-0.04, 0.04, 8), 0.04, 0.95)
    return Surface(material="drawn", absorption=tuple(float(a) for a in octaves))


def _places(rng, width, length, seat):
    out = rng.uniform(0.12, 0.24) * width
    height = rng.uniform(1.0, 1.4)
    back = min(seat[1] + rng.uniform(0.3, 0.9), length - 0.3)
    ahead = seat[1] - rng.uniform(0.7, 1.2)
    side = rng.uniform(0.12, 0.25)
    up = height + rng.uniform(0.0, 0.5)
    return {
        "M+030": (out, rng.uniform(0.2, 0.5), height),
        "M000": (width / 2, rng.uniform(0.2, 0.5), height * rng.uniform(0.7, 1.0)),
        "M-030": (width - out, rng.uniform(0.2, 0.5), height),
        "LS1": (side, ahead, up),
        "LS2": (side, back, up),
        "RS1": (width - side, ahead, up),
        "RS2": (width - side, back, up),
    }


def _sub_places(rng, width, length):
    spots = [
        (rng.uniform(0.3, 0.7), rng.uniform(0.3, 0.5), 0.25),
        (width - rng.uniform(0.3, 0.7), rng.uniform(0.3, 0.5), 0.25),
        (rng.uniform(0.3, 0.7), length - rng.uniform(0.3, 0.5), 0.25),
        (width - rng.uniform(0.3, 0.7), length - rng.uniform(0.3, 0.5), 0.25),
    ]
    count = int(rng.integers(2, 5))
    return spots[:count] if count != 2 or rng.random() < 0.5 else [spots[0], spots[3]]


def _models(rng) -> tuple[LoudspeakerModel, LoudspeakerModel]:
    kinds = ("wide", "medium", "narrow")
    return tuple(
        LoudspeakerModel(
            name=name,
            sensitivity_db=float(rng.uniform(84.0, 91.0)),
            maximum_level_db=float(rng.uniform(106.0, 114.0)),
            low_hz=float(rng.uniform(*lows)),
            high_hz=float(rng.uniform(16000.0, 20000.0)),
            low_slope_db=int(rng.choice([12, 24])),
            directivity=str(rng.choice(kinds)),
        )
        for name, lows in (("front", (45.0, 80.0)), ("surround", (60.0, 100.0)))
    )


def _subwoofer_model(rng) -> LoudspeakerModel:
    return LoudspeakerModel(
        name="subwoofer",
        sensitivity_db=float(rng.uniform(88.0, 94.0)),
        maximum_level_db=float(rng.uniform(112.0, 118.0)),
        low_hz=float(rng.uniform(20.0, 30.0)),
        high_hz=float(rng.uniform(150.0, 250.0)),
        low_slope_db=24,
        directivity="omni",
    )


def _stations(rng, seat, width, length) -> tuple[Station, ...]:
    """The main seat and three places around it, 0.5 to 1.3 m away and off the middle."""
    places = [seat]
    for across, along in ((-1.0, 0.3), (1.0, -0.4), (0.4, 1.0)):
        x = seat[0] + across * rng.uniform(0.5, 0.9)
        y = seat[1] + along * rng.uniform(0.5, 0.9)
        z = seat[2] + rng.uniform(-0.1, 0.3)
        places.append((float(np.clip(x, 0.5, width - 0.5)), float(min(y, length - 0.5)), float(z)))
    return tuple(Station(id=f"S{k}", position_m=p) for k, p in enumerate(places, start=1))


def cases(job: Job, seed: int) -> tuple[Case, ...]:
    """One case for each fault, where and how much drawn from `seed`, and the healthy one."""
    rng = np.random.default_rng([77, seed])
    mains = [unit.id for unit in job.loudspeakers]
    subs = [unit.id for unit in job.subwoofers]
    stations = [station.id for station in job.stations]
    numbers = {output.drives: output.number for output in job.outputs}

    def wired(name, kind, planted, unit, amount=0.0, other=None):
        number = None if other is None else numbers[other]
        fault = Fault(kind=planted, output=numbers[unit], other=number, amount=amount)
        units = (unit,) if other is None else (unit, other)
        return Case(name, kind, fault, units, lambda source, _s: source in units)

    def fan():
        unit = one((*mains, *subs))
        # Under a subwoofer of 20 dB more in its few octaves a room's fan spoils nothing.
        louder = 10.0 if unit in subs else 0.0
        return recorded(
            "noise in some octaves",
            "noisy",
            "fan",
            float(rng.uniform(66, 74)) + louder,
            (unit,),
            18.0,
        )

    def recorded(name, kind, planted, amount=0.0, units=(*mains, *subs), softer_db=0.0):
        unit, station = str(rng.choice(units)), str(rng.choice(stations))
        fault = Fault(kind=planted, output=numbers[unit], amount=amount, station=station)
        here = (unit, station)
        return Case(name, kind, fault, (unit,), lambda a, b: (a, b) == here, station, softer_db)

    def one(units):
        return str(rng.choice(units))

    def two(units):
        return [str(unit) for unit in rng.choice(units, 2, replace=False)]

    lowered_db = SWEEP.level_dbfs - job.sweep.level_dbfs
    at = str(rng.choice(stations[1:]))
    first, second = two(mains)
    sub_one, sub_two = two(subs)
    return (
        Case("healthy", "none", None, (), lambda _a, _b: False),
        recorded("clipping", "clipped", "hot_input", float(rng.uniform(30, 50)) + lowered_db),
        wired("level too low", "low_level", "quiet", one(mains + subs), float(rng.uniform(18, 45))),
        fan(),
        recorded("door", "noise_event", "door", float(rng.uniform(64, 80))),
        recorded("voice", "noise_event", "voice", float(rng.uniform(52, 66))),
        recorded("aircraft", "noise_event", "aircraft", float(rng.uniform(56, 70))),
        recorded("dropout", "dropout", "dropout", float(rng.uniform(0.0013, 0.03))),
        recorded("wrong rate", "wrong_rate", "wrong_rate", float(rng.choice([44100, 96000]))),
        recorded("silent channel", "silent_input", "silent_input"),
        recorded("wrong channel", "wrong_input", "wrong_input"),
        wired("dead output", "dead_output", "dead", one(mains + subs)),
        wired("swapped loudspeakers", "swapped", "swapped", first, other=second),
        wired("swapped subwoofers", "swapped", "swapped", sub_one, other=sub_two),
        wired("swapped with a subwoofer", "swapped", "swapped", one(mains), other=one(subs)),
        wired("polarity", "reversed", "reversed", one(_FRONT)),
        wired("array polarity", "array_member_reversed", "reversed", one(mains[3:])),
        wired("subwoofer polarity", "subwoofer_reversed", "reversed", one(subs)),
        wired("ways swapped", "ways_swapped", "ways_swapped", one(mains), rng.uniform(1200, 2500)),
        wired("no tweeter", "tweeter_missing", "no_tweeter", one(mains), rng.uniform(1200, 2500)),
        wired("no woofer", "woofer_missing", "no_woofer", one(mains), rng.uniform(1200, 2500)),
        wired("rattle", "rattle", "buzz", one(mains + subs)),
        wired("distortion", "distortion", "distorting", one(mains + subs), rng.uniform(20, 50)),
        wired("far from plan", "far_from_plan", "displaced", one(mains), rng.uniform(0.8, 2.0)),
        Case(
            "microphone not moved",
            "not_moved",
            Fault(kind="unmoved", output=0, station=at),
            (),
            lambda _a, b: b == at,
            at,
        ),
        recorded("microphone moved", "moved", "moved", float(rng.uniform(0.1, 0.5)), mains),
    )


def measure(
    job: Job,
    touches: Callable[[str, str], bool] = lambda _a, _b: True,
    *,
    own_bands: bool = False,
) -> dict[tuple[str, str], JudgedTake]:
    """Survey the rehearsal room of a job where `touches` says, each take judged at once.

    With `own_bands` every unit is played its declared band alone, as surveys do.
    """
    room = RehearsalRoom(job)
    whole = PlannedTake((), (job.sweep,), ready={0: excitation(job.sweep, RATE)})
    judged = {}
    for station in job.stations:
        room.place_microphone(station.position_m)
        background = float(np.std(room.record(0.5).microphone))
        for output in job.outputs:
            if not touches(output.drives, station.id):
                continue
            model = job.model_of(job.unit(output.drives))
            take, signals = whole, {output.number: whole.ready[0]}
            if own_bands:
                level_dbfs = job.sweep.level_dbfs
                sweep = own_sweep(job, output.drives, level_dbfs, "loop-back")
                take = PlannedTake((output.drives,), (sweep,))
                signals = dict(take.signals(job))
            recording = room.play_and_record(signals)
            judged[output.drives, station.id] = judge_take(
                recording.microphone,
                recording.reference,
                take.sweep,
                RATE,
                band_hz=(model.low_hz, model.high_hz),
                background_rms=background,
                sensitivity_pa=20.0,
                length_s=LENGTH_S,
            )
    return judged


def surveyed(
    seed: int, *, own_bands: bool = False
) -> tuple[Job, dict[tuple[str, str], JudgedTake]]:
    """A cinema drawn from `seed` and its survey with nothing wrong.

    Whoever sees a take clip plays softer: so does this, until none does.
    """
    job = drawn_job(seed)
    while True:
        takes = measure(job, own_bands=own_bands)
        if not any(d.kind == "clipped" for take in takes.values() for d in take.diagnoses):
            return job, takes
        softer = job.sweep.model_copy(update={"level_dbfs": job.sweep.level_dbfs - _SOFTER_DB})
        job = job.model_copy(update={"sweep": softer})


def survey_of(job: Job, takes: Mapping[tuple[str, str], JudgedTake]) -> tuple[Diagnosis, ...]:
    """What is found of judged takes together."""
    measured = {pair: take.measured for pair, take in takes.items() if take.measured is not None}
    sources = [output.drives for output in job.outputs]
    stations = [station.id for station in job.stations]
    together = collect(measured, sources=sources, stations=stations) if measured else None
    return diagnose(job, together, {pair: take.diagnoses for pair, take in takes.items()})


def judged_case(
    job: Job, healthy: Mapping, case: Case, *, own_bands: bool = False
) -> tuple[Diagnosis, ...]:
    """What is found with a fault planted; takes that it does not touch are the healthy ones."""
    if case.fault is None:
        return survey_of(job, healthy)
    setup = job.rehearsal.model_copy(update={"faults": (case.fault,)})
    level_dbfs = job.sweep.level_dbfs - case.softer_db
    sweep = job.sweep.model_copy(update={"level_dbfs": level_dbfs})
    planted = job.model_copy(update={"rehearsal": setup, "sweep": sweep})
    again = measure(planted, case.touches, own_bands=own_bands)
    return survey_of(planted, dict(healthy) | again)


def named_rightly(case: Case, found: tuple[Diagnosis, ...]) -> bool:
    """Whether the first diagnosis names the fault, the units it is in, and no others."""
    if case.fault is None:
        return not found
    return (
        bool(found)
        and found[0].kind == case.kind
        and set(found[0].sources) == set(case.units)
        and (case.station is None or found[0].stations == (case.station,))
    )
