"""Loudspeakers found by ear in the rehearsal room: where they are, and that they were moved."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.commissioning.survey.whereabouts import take_over, whereabouts
from roomwright.model import Fault, RehearsalSetup, Station, Sweep
from roomwright.rehearsal import wiring
from roomwright.store import create_job


@pytest.fixture(scope="module")
def surveyed(tmp_path_factory):
    """A 5.0.2 at nine places of two heights; the third output's loudspeaker stands elsewhere."""
    job = commissioning.new_job(
        "Found room",
        layout="5.1.2",
        room=commissioning.box_room((4.4, 5.6, 2.6)),
        rows=1,
        seats_per_row=1,
        sweep=Sweep(duration_s=1.0),
    )
    stations = tuple(
        Station(id=f"G{number}", position_m=place)
        for number, place in enumerate(
            [(x, y, z) for x in (1.4, 2.9) for y in (2.6, 3.9) for z in (1.1, 1.6)]
            + [(2.2, 3.2, 1.3)]
        )
    )
    fault = Fault(kind="displaced", output=3, amount=0.5)
    job = job.model_copy(
        update={"stations": stations, "rehearsal": RehearsalSetup(faults=(fault,))}
    )
    with create_job(tmp_path_factory.mktemp("where") / "job", job) as folder:
        commissioning.rehearse(folder)
        yield folder.job, commissioning.responses(folder, "survey")


def test_loudspeakers_are_found_where_they_are(surveyed):
    job, survey = surveyed
    displaced = next(o.drives for o in job.outputs if o.number == 3)
    assert wiring(job)[3].displaced_m == 0.5
    found = {one.unit: one for one in whereabouts(job, survey)}
    assert set(found) == {unit.id for unit in job.loudspeakers}
    for one in found.values():
        assert one.moved == (one.unit == displaced)
        # Crests at 48 kHz, room reflections and two heights half a metre apart: 5 cm.
        expected = 0.5 if one.unit == displaced else 0.0
        assert one.off_m == pytest.approx(expected, abs=0.06)
    assert "look for it" in found[displaced].says
    assert "as planned" in found["M+030"].says


def test_the_plan_is_corrected_on_demand(surveyed):
    job, survey = surveyed
    moved = [one for one in whereabouts(job, survey) if one.moved]
    corrected = take_over(job, moved)
    again = {one.unit: one for one in whereabouts(corrected, survey)}
    assert not any(one.moved for one in again.values())
    assert again[moved[0].unit].off_m < 0.02
    others = {unit.id: unit.position_m for unit in job.loudspeakers}
    for unit in corrected.loudspeakers:
        if unit.id != moved[0].unit:
            assert unit.position_m == others[unit.id]


def test_an_own_delay_is_told_from_distance(surveyed):
    """A loudspeaker that speaks 5 ms late stands where it stood; all its responses shift."""
    from dataclasses import replace

    job, survey = surveyed
    row = survey.sources.index("M+030")
    samples = survey.samples.copy()
    samples[row] = np.roll(samples[row], round(0.005 * survey.sampling_rate_hz), axis=-1)
    one = next(o for o in whereabouts(job, replace(survey, samples=samples)) if o.unit == "M+030")
    assert one.own_delay_s == pytest.approx(0.005, abs=3e-4)
    assert one.off_m < 0.15
    assert "late by itself" in one.says


def test_too_few_stations_say_so(surveyed):
    from dataclasses import replace

    job, survey = surveyed
    present = survey.present.copy()
    present[:, 2:] = False
    found = whereabouts(job, replace(survey, present=present))
    assert all(one.found_m is None for one in found)
    assert all("3 stations or more" in one.says for one in found)
    with pytest.raises(InputError, match="was not found"):
        take_over(job, found)
