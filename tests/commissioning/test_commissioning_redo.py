"""Redoing single takes gives the survey that measuring everything would have given."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import Cancelled, InputError
from roomwright.model import Fault
from roomwright.store import create_job


@pytest.fixture
def small(quick_job):
    """Three outputs at two stations."""
    outputs = quick_job.outputs[:2] + quick_job.outputs[-1:]
    return quick_job.model_copy(update={"outputs": outputs, "stations": quick_job.stations[:2]})


@pytest.fixture
def folder(tmp_path, small):
    with create_job(tmp_path / "cinema", small) as opened:
        yield opened


def same(one, other):
    assert one.sources == other.sources
    assert one.stations == other.stations
    assert one.findings == other.findings
    assert (one.absolute, one.timed) == (other.absolute, other.timed)
    for name in ("samples", "present", "trusted_hz", "signal_to_noise_db", "background_db"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name), err_msg=name)


def forget_cache(folder):
    for kept in (folder.path / ".cache").glob("*"):
        kept.unlink()


def test_a_redo_plays_one_pair_and_leaves_the_others(folder):
    first = commissioning.rehearse(folder)
    station = folder.job.stations[1].id
    done = commissioning.redo(folder, [("M-030", station)])
    changed = [
        (old, new) for old, new in zip(first.job.takes, done.job.takes, strict=True) if old != new
    ]
    assert len(changed) == 1
    old, new = changed[0]
    assert (new.source, new.station) == (old.source, old.station) == ("M-030", station)
    assert (folder.path / old.file).exists()
    assert folder.undo() == first.job


def test_what_is_kept_after_a_redo_is_what_measuring_all_takes_gives(folder):
    setup = folder.job.rehearsal.model_copy(
        update={"faults": (Fault(kind="quiet", output=2, amount=-20.0),)}
    )
    commissioning.rehearse(folder, setup)
    mended = folder.job.model_copy(update={"rehearsal": setup.model_copy(update={"faults": ()})})
    folder.save(mended)
    quiet = commissioning.responses(folder, "survey")
    done = commissioning.redo(folder, [("M-030", folder.job.stations[0].id)])
    # Half a decibel for the noise, which stays as loud when the loudspeaker is quiet.
    row, column = quiet.index("M-030", folder.job.stations[0].id)
    energy = [np.sum(s.samples[row, column].astype(float) ** 2) for s in (quiet, done.responses)]
    assert 10 * np.log10(energy[1] / energy[0]) == pytest.approx(20.0, abs=0.5)
    kept = commissioning.responses(folder, "survey")
    same(kept, done.responses)
    forget_cache(folder)
    same(commissioning.responses(folder, "survey"), kept)


def test_a_cancelled_survey_is_made_up_for(folder):
    def stop(fraction, _doing):
        if fraction > 0.4:
            raise Cancelled

    with pytest.raises(Cancelled):
        commissioning.rehearse(folder, progress=stop)
    missing = commissioning.missing_pairs(folder.job)
    assert 0 < len(missing) < 6
    done = commissioning.redo(folder, missing)
    assert commissioning.missing_pairs(folder.job) == ()
    assert done.responses.present.all()
    forget_cache(folder)
    same(commissioning.responses(folder, "survey"), done.responses)


def test_everything_is_missing_of_a_new_job_background_included(folder):
    missing = commissioning.missing_pairs(folder.job)
    assert len(missing) == 3 * 2 + 1
    assert missing[0][0] == "background"


def test_the_background_alone_can_be_redone(folder):
    commissioning.rehearse(folder)
    before = commissioning.responses(folder, "survey")
    done = commissioning.redo(folder, [("background", folder.job.stations[0].id)])
    assert done.responses.present.all()
    np.testing.assert_array_equal(done.responses.samples, before.samples)


@pytest.mark.parametrize(
    ("pairs", "says"),
    [
        ([], "nothing is chosen"),
        ([("M+000", "S-R1-1")], "no output drives M"),
        ([("M+030", "nowhere")], "nowhere is not a station"),
    ],
)
def test_pairs_that_cannot_be_recorded_are_one_sentence(folder, pairs, says):
    with pytest.raises(InputError, match=says):
        commissioning.redo(folder, pairs)


def test_imported_surveys_are_not_mixed_with_rehearsed_takes(folder):
    commissioning.rehearse(folder)
    takes = tuple(take.model_copy(update={"origin": "import"}) for take in folder.job.takes)
    folder.save(folder.job.model_copy(update={"takes": takes}))
    with pytest.raises(InputError, match="was imported"):
        commissioning.redo(folder, [("M+030", folder.job.stations[0].id)])
