"""A small sample of the fault table: planted faults are named, healthy rooms are not accused.

The whole table is `benchmarks/bench_faults.py`; these rooms are two of its development rooms.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from fault_rooms import Case, cases, drawn_job, judged_case, measure, named_rightly, surveyed

from roomwright.commissioning.survey.diagnose import diagnose, diagnosed, survey_findings
from roomwright.measurement import collect
from roomwright.model import Diagnosis, Fault

SEEDS = (1, 6)
NAMES = [case.name for case in cases(drawn_job(SEEDS[0]), SEEDS[0])]


@cache
def room(seed):
    """A room and its takes with nothing wrong."""
    return surveyed(seed)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_planted_is_named_and_nothing_else_accused(seed, name):
    job, healthy = room(seed)
    case = next(case for case in cases(job, seed) if case.name == name)
    found = judged_case(job, healthy, case)
    assert named_rightly(case, found), [diagnosis.sentence for diagnosis in found]


def test_every_diagnosis_has_its_evidence_and_a_remedy():
    job, healthy = room(SEEDS[0])
    case = next(case for case in cases(job, SEEDS[0]) if case.name == "polarity")
    (found,) = judged_case(job, healthy, case)
    assert found.sources == case.units
    assert found.evidence < 0
    assert "out of polarity" in found.sentence
    assert "conductors" in found.remedy
    assert found.finding("M000").severity == "doubt"


def test_a_rattle_at_one_station_alone_is_a_noise_in_the_room():
    job, healthy = room(SEEDS[0])
    pair = ("M000", "S2")
    rattle = Diagnosis(
        kind="rattle", sources=pair[:1], stations=pair[1:], evidence=20, sentence="r", remedy="m"
    )
    measured = {pair: take.measured for pair, take in healthy.items()}
    sources = [output.drives for output in job.outputs]
    together = collect(measured, sources=sources, stations=[s.id for s in job.stations])
    alone = diagnosed(job, together, [rattle])
    assert [found.kind for found in alone.diagnoses] == ["noise_event"]
    assert survey_findings(alone)[0].where == "M000 at S2"
    everywhere = [rattle.model_copy(update={"stations": (s.id,)}) for s in job.stations]
    of_unit = diagnosed(job, together, everywhere)
    assert [found.kind for found in of_unit.diagnoses] == ["rattle"]
    assert diagnosed(job, replace(together), ()).diagnoses == ()


def test_high_harmonics_at_one_station_are_distortion_where_the_low_ones_show_at_others():
    """They drown in noise first; orders 2 to 5 fall by 6 dB each at all stations, or at none."""
    job, healthy = room(SEEDS[0])
    falling = np.array([-35.0, -41.0, -47.0, -53.0])

    def found_with(orders_db):
        measured = {
            pair: replace(take.measured, distortion_db=orders_db)
            if pair[0] == "SW1"
            else take.measured
            for pair, take in healthy.items()
        }
        sources = [output.drives for output in job.outputs]
        together = collect(measured, sources=sources, stations=[s.id for s in job.stations])
        heard = [
            Diagnosis(
                kind="distortion",
                sources=("SW1",),
                stations=(station,),
                evidence=evidence,
                sentence="d",
                remedy="m",
            )
            for station, evidence in (("S2", -34.0), ("S3", -31.0))
        ]
        return diagnosed(job, together, heard[:1]), diagnosed(job, together, heard)

    alone, both = found_with(falling)
    (of_unit,) = alone.diagnoses
    assert (of_unit.kind, of_unit.sources, len(of_unit.stations)) == ("distortion", ("SW1",), 4)
    (worst,) = both.diagnoses
    assert worst.evidence == -31.0
    for clean in (falling - 30.0, np.full(4, -38.0)):
        assert [found.kind for found in found_with(clean)[0].diagnoses] == ["noise_event"]


def _noise(station, at_hz, kind="noise_event"):
    return Diagnosis(
        kind=kind,
        sources=("M000",),
        stations=(station,),
        evidence=12,
        sentence="s",
        remedy="m",
        at_hz=at_hz,
    )


def _alone(found):
    job = drawn_job(SEEDS[0])
    takes = {("M000", station.id): () for station in job.stations}
    takes |= {("M000", one.stations[0]): (one,) for one in found}
    return [one.kind for one in diagnose(job, None, takes)]


def test_a_noise_at_the_same_place_of_the_sweep_is_the_units():
    same = [_noise("S1", 50.0), _noise("S2", 55.0), _noise("S4", 45.0)]
    assert _alone(same) == ["rattle"]
    elsewhere = [_noise("S1", 50.0), _noise("S2", 900.0), _noise("S4", 9000.0)]
    assert _alone(elsewhere) == ["noise_event"] * 3
    afterwards = [_noise(station, None) for station in ("S1", "S2", "S4")]
    assert _alone(afterwards) == ["noise_event"] * 3


def test_what_is_heard_somewhere_is_not_dead():
    def dead(*stations):
        return [_noise(station, None, "dead_output") for station in stations]

    assert _alone(dead("S1", "S2", "S3", "S4")) == ["dead_output"]
    assert _alone(dead("S1", "S2", "S3")) == ["low_level"]
    assert _alone(dead("S3")) == ["noisy"]


@cache
def own_bands_room(seed):
    """A room and its takes with nothing wrong, each unit swept within its declared band."""
    return surveyed(seed, own_bands=True)


@pytest.mark.parametrize(
    "name",
    [
        "healthy",
        "door",
        "voice",
        "aircraft",
        "rattle",
        "swapped subwoofers",
        "swapped with a subwoofer",
        "subwoofer polarity",
        "microphone moved",
    ],
)
def test_sweeps_within_the_declared_band_tell_what_is_planted_too(name):
    job, healthy = own_bands_room(9005)
    case = next(case for case in cases(job, 9005) if case.name == name)
    found = judged_case(job, healthy, case, own_bands=True)
    assert named_rightly(case, found), [diagnosis.sentence for diagnosis in found]


@pytest.mark.parametrize(("noise", "level_db"), [("door", 72), ("voice", 59), ("aircraft", 63)])
def test_noises_are_named_in_a_subwoofers_take_of_its_own_band(noise, level_db):
    job, healthy = own_bands_room(9005)
    number = next(output.number for output in job.outputs if output.drives == "SW1")
    fault = Fault(kind=noise, output=number, station="S2", amount=level_db)
    here = ("SW1", "S2")
    case = Case(noise, "noise_event", fault, here[:1], lambda a, b: (a, b) == here, "S2")
    found = judged_case(job, healthy, case, own_bands=True)
    assert named_rightly(case, found), [diagnosis.sentence for diagnosis in found]
    assert len(found) == 1


def test_the_last_of_a_decay_in_the_highest_octaves_is_no_noise():
    """In these takes a decay was called over while two octaves stood 6 dB over the noise."""
    pairs = {("M000", "S4"), ("M-030", "S4")}
    takes = measure(drawn_job(9494), lambda a, b: (a, b) in pairs, own_bands=True)
    assert takes.keys() == pairs
    assert all(take.diagnoses == () for take in takes.values())


@pytest.mark.parametrize(
    ("planted", "amount", "kind"), [("quiet", 42.7, "noisy"), ("wrong_input", 0.0, "wrong_input")]
)
def test_a_soft_subwoofer_is_not_taken_for_a_cable(planted, amount, kind):
    """Cut off, its response steps by more here than it has at all at high frequencies."""
    job = drawn_job(8339)
    number = next(output.number for output in job.outputs if output.drives == "SW1")
    fault = Fault(kind=planted, output=number, amount=amount)
    setup = job.rehearsal.model_copy(update={"faults": (fault,)})
    job = job.model_copy(update={"rehearsal": setup})
    takes = measure(job, lambda source, _s: source == "SW1", own_bands=True)
    assert {found.kind for take in takes.values() for found in take.diagnoses} == {kind}
