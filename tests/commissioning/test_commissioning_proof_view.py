"""What is drawn for a criterion is what its verdict was read from."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright.commissioning.desk_view import Choice
from roomwright.commissioning.proof_view import (
    criterion_rows,
    graph_behind,
    scale_of_drawing,
    summary,
)
from roomwright.proof import Drawing
from roomwright.store import create_job


@pytest.fixture(scope="module")
def proved(tmp_path_factory, quick_job):
    with create_job(tmp_path_factory.mktemp("proof") / "cinema", quick_job) as folder:
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
