"""What a take is worth follows from its noise, and every judgement says why."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from roomwright import commissioning
from roomwright.commissioning.survey.view import survey_view
from roomwright.model import Fault, Finding
from roomwright.store import create_job


@pytest.fixture(scope="module")
def surveyed(tmp_path_factory, quick_job):
    job = quick_job.model_copy(update={"stations": quick_job.stations[:2]})
    dead = job.rehearsal.model_copy(update={"faults": (Fault(kind="dead", output=2),)})
    with create_job(tmp_path_factory.mktemp("view") / "cinema", job) as folder:
        return commissioning.rehearse(folder, dead)


def test_every_unit_has_a_row_and_every_station_a_column(surveyed):
    view = survey_view(surveyed.job, surveyed.responses)
    assert view.stations == tuple(station.id for station in surveyed.job.stations)
    assert {row.source for row in view.rows} == {unit.id for unit in surveyed.job.units}
    assert (view.made, view.wanted) == (2 * len(view.rows), 2 * len(view.rows))
    assert not view.imported


def test_a_dead_output_is_doubtful_and_says_why(surveyed):
    view = survey_view(surveyed.job, surveyed.responses)
    dead = next(output.drives for output in surveyed.job.outputs if output.number == 2)
    rows = {row.source: row for row in view.rows}
    assert rows[dead].worst == "doubtful"
    assert any("clear of the noise" in sentence for sentence in rows[dead].takes[0].says)
    assert rows["M+000"].worst == "good"
    assert any("over the noise" in sentence for sentence in rows["M+000"].takes[0].says)


@pytest.mark.parametrize(
    ("level_db", "worth"), [(30.1, "good"), (29.9, "usable"), (20.1, "usable"), (19.9, "doubtful")]
)
def test_the_noisiest_octave_of_the_units_own_range_decides(surveyed, level_db, worth):
    noise = surveyed.responses.signal_to_noise_db.copy()
    octave = int(np.argmin(abs(surveyed.responses.octave_hz - 1000)))
    row, column = surveyed.responses.index("M+030", surveyed.job.stations[0].id)
    noise[row, column] = 60.0
    noise[row, column, octave] = level_db
    noise[row, column, 0] = -np.inf  # 16 Hz is below what the loudspeaker is made for
    view = survey_view(surveyed.job, replace(surveyed.responses, signal_to_noise_db=noise))
    take = view.take("M+030", surveyed.job.stations[0].id)
    assert take.worth == worth
    assert f"at least {level_db:.0f} dB over the noise (1k Hz)" in take.says


def test_a_doubt_about_a_take_makes_it_doubtful(surveyed):
    take = next(take for take in surveyed.job.takes if take.source == "M+030")
    doubt = Finding(severity="doubt", where=take.file, text="ends too early")
    responses = replace(surveyed.responses, findings=(doubt,))
    view = survey_view(surveyed.job, responses)
    assert view.take("M+030", take.station).worth == "doubtful"
    assert view.take("M+030", take.station).says[0] == "ends too early"


def test_what_is_missing_or_was_refused_is_said(quick_job):
    refusal = Finding(
        severity="refusal",
        where=f"takes/survey-M+030-{quick_job.stations[0].id}-2.wav",
        text="is clipped at sample 7",
    )
    view = survey_view(quick_job, None, (refusal,))
    assert view.made == 0
    take = view.take("M+030", quick_job.stations[0].id)
    assert take.worth == "missing"
    assert take.says == ("refused: is clipped at sample 7",)
    assert view.take("M-030", quick_job.stations[0].id).says == ("not measured yet",)
    assert "cannot be judged" in view.background
