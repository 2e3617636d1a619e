"""Listening modes added, changed, compared and handed over."""

from __future__ import annotations

import csv
import io
import json

import pytest

from roomwright import handover
from roomwright._errors import InputError
from roomwright.commissioning.tuning import modes
from roomwright.model import OutputTuning, Tuning, problems


@pytest.fixture
def tuned(small_job):
    outputs = tuple(OutputTuning(drives=unit.id, trim_db=-1.0) for unit in small_job.units)
    tuning = Tuning(outputs=outputs, based_on="test")
    return small_job.model_copy(update={"tuning": tuning})


def test_modes_come_change_and_go(tuned):
    job = modes.add_mode(tuned, " late evening ", bass_db=-4.0)
    assert modes.mode_called(job, "late evening").bass_db == -4.0
    job = modes.change_mode(job, "late evening", treble_db=1.5)
    assert modes.mode_called(job, "late evening").bass_db == -4.0
    assert not problems(job)
    assert modes.remove_mode(job, "late evening") == tuned


def test_modes_refuse_what_cannot_be(tuned):
    job = modes.add_mode(tuned, "late")
    for name in ("late", "reference"):
        with pytest.raises(InputError, match="already"):
            modes.add_mode(job, name)
    with pytest.raises(InputError, match="name"):
        modes.add_mode(job, "  ")
    with pytest.raises(InputError, match="bass db: must be less than or equal to 12"):
        modes.change_mode(job, "late", bass_db=30.0)
    with pytest.raises(InputError, match="there is no listening mode 'loud'; there are: late"):
        modes.change_mode(job, "loud", bass_db=3.0)


def test_a_mode_is_realised_on_top_of_the_reference(tuned):
    job = modes.add_mode(tuned, "late", bass_db=3.0)
    found = modes.realised(job, job.tuning, job.modes[0])
    assert len(found.shelves) == 1
    # A shelf of 3 dB in outputs at -1 dB: all are lowered by 2 dB, in steps of 0.1 dB.
    assert found.trim_change_db == pytest.approx(-2.0, abs=0.11)
    assert modes.tuning_in(job, job.tuning, "late") == found.tuning
    assert modes.tuning_in(job, job.tuning, modes.REFERENCE) is job.tuning


def test_modes_and_what_is_by_hand_are_handed_over(tuned):
    job = modes.add_mode(tuned, "Late evening!", bass_db=3.0)
    settings = json.loads(handover.settings_json(job))
    mode = settings["listening_modes"][0]
    assert mode["folder"] == "modes/1-late-evening"
    assert mode["biquads_added"][0]["kind"] == "low_shelf"
    assert mode["trim_change_db"] == pytest.approx(-2.0, abs=0.11)
    in_mode = handover.job_in_mode(job, job.modes[0])
    rows = list(csv.DictReader(io.StringIO(handover.settings_csv(in_mode))))
    assert {row["biquads"] for row in rows} == {"1"}
