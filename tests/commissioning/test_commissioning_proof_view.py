"""What is drawn for a criterion is what its verdict was read from."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning, proof
from roomwright.commissioning import kept_verdicts
from roomwright.commissioning.desk.view import Choice
from roomwright.commissioning.proof_view import (
    criterion_rows,
    drawings_behind,
    graph_behind,
    scale_of_drawing,
    summary,
)
from roomwright.proof import Drawing
from roomwright.store import create_job, open_job


@pytest.fixture(scope="module")
def cinema(tmp_path_factory):
    return tmp_path_factory.mktemp("proof") / "cinema"


@pytest.fixture(scope="module")
def proved(cinema, quick_job):
    with create_job(cinema, quick_job) as folder:
        commissioning.rehearse(folder)
        commissioning.tune(folder)
        return commissioning.prove(folder)


def beyond(drawing):
    """How far the curves are beyond what is allowed, at most; negative within."""
    curves = np.array([curve for _, curve in drawing.curves])
    margin = np.minimum(curves - drawing.low, drawing.high - curves)
    return -np.nanmin(margin)


def test_every_criterion_has_a_row_with_all_its_words(proved):
    rows = criterion_rows(proved)
    assert [row.criterion for row in rows] == [v.criterion for v in proved.verdicts_predicted]
    for row in rows:
        assert row.required
        assert row.reason
        assert row.source
        assert row.outcome in {"met", "not met", "not judged"}
    assert all(row.measured for row in rows)
    counts = [int(part.split()[0]) for part in summary(rows).split(", ")]
    assert sum(counts) == len(rows)


def test_the_drawing_of_a_response_is_beyond_its_limits_by_the_verdicts_value(proved):
    verdicts = {verdict.criterion: verdict for verdict in proved.verdicts_measured}
    for seats in ("main_seat", "average"):
        drawing = graph_behind(proved, f"response_below_{seats}")
        assert isinstance(drawing, Drawing)
        sides = [verdicts[f"response_{side}_{seats}"].value for side in ("below", "above")]
        assert max(beyond(drawing), 0.0) == pytest.approx(max(sides), abs=1e-9)


def test_the_drawing_of_the_reverberation_agrees_with_its_verdict(proved):
    verdict = next(v for v in proved.verdicts_measured if v.criterion == "reverberation_mask")
    drawing = graph_behind(proved, "reverberation_mask")
    assert isinstance(drawing, Drawing)
    assert (beyond(drawing) <= 0) == verdict.passed


def test_levels_and_arrivals_are_shown_by_the_responses_themselves(proved):
    choice = graph_behind(proved, "arrival_match")
    assert isinstance(choice, Choice)
    assert choice.kinds == ("re-measured",)
    assert "LFE1" not in choice.sources


def test_the_scale_holds_every_curve_and_finite_limit(proved):
    for criterion in ("response_below_average", "modal_decay", "background_noise_nr"):
        drawing = graph_behind(proved, criterion)
        assert isinstance(drawing, Drawing)
        scale = scale_of_drawing(drawing)
        shown = np.concatenate([curve for _, curve in drawing.curves])
        assert np.nanmin(shown) >= scale.low
        assert np.nanmax(shown) <= scale.high
        assert np.nanmin(scale.allowed_low) >= scale.low
        named = {name for name, curve in drawing.curves if beyond_any(curve, drawing)}
        assert scale.outside == named


def beyond_any(curve, drawing):
    return bool(np.nanmax(np.maximum(drawing.low - curve, curve - drawing.high)) > 0)


def test_verdicts_are_kept_until_what_they_rest_on_changes(cinema, proved, monkeypatch):
    asked = []

    def judge(job, *arguments):
        asked.append(job)
        return proof.judge(job, *arguments)

    monkeypatch.setattr(kept_verdicts, "judge", judge)
    # As text: what is not a number is not equal to itself.
    words = repr((proved.verdicts_predicted, proved.verdicts_measured))
    with open_job(cinema, write=True) as folder:
        again = commissioning.judged(folder)
        assert repr((again.verdicts_predicted, again.verdicts_measured)) == words
        assert asked == []
        drawn, before = drawings_behind(again), drawings_behind(proved)
        assert drawn.keys() == before.keys()
        for name, drawing in drawn.items():
            for curve, old in zip(drawing.curves, before[name].curves, strict=True):
                np.testing.assert_array_equal(curve[1], old[1])
        main_seat = next(seat.id for seat in folder.job.seats if seat.id != folder.job.main_seat)
        folder.save(folder.job.model_copy(update={"main_seat": main_seat}))
        elsewhere = kept_verdicts.verdicts_on(folder, folder.job, proved.predicted, proved.measured)
        assert len(asked) == 2
        assert repr((elsewhere.predicted, elsewhere.measured)) != words
        folder.undo()
        assert repr(commissioning.judged(folder).verdicts_measured) in words
        assert len(asked) == 2
