"""Plots: where lines and labels go."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright.handover.plots import Area, Curve, Plot, draw, steps
from roomwright.handover.plots import spread as spread_labels
from roomwright.handover.svg import Stroke, text

SVG = "{http://www.w3.org/2000/svg}"


def plot_of(*curves, **changes):
    settings = {
        "title": "Levels",
        "y_label": "level, dB",
        "curves": curves,
        "range_hz": (20.0, 20000.0),
        "range_y": (-20.0, 10.0),
        "width_pt": 400.0,
        "height_pt": 150.0,
    }
    return draw(Plot(**(settings | changes)), "A plot.")


def texts(drawing):
    return [element.text for element in ET.fromstring(drawing.svg).iter(f"{SVG}text")]  # noqa: S314


def lines(drawing):
    """Points of every path within the clipped group named lines."""
    root = ET.fromstring(drawing.svg)  # noqa: S314
    group = next(g for g in root.iter(f"{SVG}g") if g.get("clip-path") == "url(#lines)")
    return [
        [tuple(map(float, pair.split(","))) for pair in path.get("d")[1:].split()]
        for path in group.iter(f"{SVG}path")
    ]


@given(
    st.lists(st.floats(-50, 150), min_size=1, max_size=12),
    st.floats(1, 12),
)
def test_labels_keep_their_order_and_distance_within_the_frame(wanted, gap):
    placed = spread_labels(wanted, gap, 0.0, 100.0)
    room = 100.0 / max(len(wanted) - 1, 1)
    by_wish = [placed[i] for i in sorted(range(len(wanted)), key=lambda i: wanted[i])]
    assert all(b - a >= min(gap, room) - 1e-9 for a, b in pairwise(by_wish))
    assert min(placed) >= -1e-9
    assert max(placed) <= 100 + 1e-9


def test_labels_with_room_stay_where_they_are():
    assert spread_labels([80.0, 10.0, 40.0], 8.0, 0.0, 100.0) == [80.0, 10.0, 40.0]


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [(-20, 15, (-20, -10, 0, 10)), (0, 1, (0, 0.2, 0.4, 0.6, 0.8, 1.0)), (0, 12, (0, 5, 10))],
)
def test_steps_are_round(low, high, expected):
    assert steps(low, high, most=6) == pytest.approx(expected)


def test_the_axis_is_logarithmic():
    frequency = np.array([20.0, np.sqrt(20.0 * 20000.0), 20000.0])
    (line,) = lines(plot_of(Curve(frequency, np.array([-20.0, -5.0, 10.0]), Stroke())))
    x, y = zip(*line, strict=True)
    # Coordinates are written to 0.01 point.
    assert x[1] == pytest.approx((x[0] + x[2]) / 2, abs=0.02)
    assert y[1] == pytest.approx((y[0] + y[2]) / 2, abs=0.02)
    assert y[0] > y[2]


def test_what_is_not_known_interrupts_a_line():
    frequency = np.geomspace(20, 20000, 10)
    value = np.zeros(10)
    value[[4, 5]] = np.nan
    first, second = lines(plot_of(Curve(frequency, value, Stroke())))
    assert (len(first), len(second)) == (4, 4)


def test_a_plot_says_its_frequencies_units_and_labels():
    curve = Curve(np.array([20.0, 20000.0]), np.zeros(2), Stroke(), "target")
    shown = texts(plot_of(curve))
    for wanted in ("20", "50", "100", "200", "500", "1k", "2k", "5k", "10k", "20k"):
        assert wanted in shown
    assert {"frequency, Hz", "level, dB", "target", "Levels", "−20"} <= set(shown)


def test_labels_of_lines_that_end_together_do_not_overlap():
    frequency = np.array([20.0, 20000.0])
    names = ["before", "predicted", "re-measured", "target"]
    drawing = plot_of(*(Curve(frequency, np.zeros(2), Stroke(), name) for name in names))
    root = ET.fromstring(drawing.svg)  # noqa: S314
    heights = sorted(float(e.get("y")) for e in root.iter(f"{SVG}text") if e.text in names)
    assert np.diff(heights).min() > 7.5


def test_areas_and_untrusted_bands_are_shaded():
    frequency = np.array([100.0, 1000.0])
    area = Area(frequency, np.full(2, -3.0), np.full(2, 3.0))
    plain, shaded = plot_of(), plot_of(areas=(area,), trusted_hz=(40.0, 10000.0))
    assert shaded.svg.count("<rect") == plain.svg.count("<rect") + 3  # two bands, one clip
    assert "area0" in shaded.svg


def test_a_plot_without_a_known_value_still_draws():
    curve = Curve(np.array([20.0, 20000.0]), np.full(2, np.nan), Stroke(), "nothing")
    drawing = plot_of(curve)
    assert lines(drawing) == []
    assert "nothing" not in texts(drawing)


def test_every_line_style_survives_without_colour():
    """Two styles used in one figure differ in their dashes."""
    from roomwright.handover import bass, channels

    used = [bass.TARGET, channels._BEFORE, channels._PREDICTED, channels._MEASURED]
    assert len({stroke.dash for stroke in used}) == len(used)
    assert len({stroke.colour for stroke in used}) == len(used)


def test_markup_in_names_is_only_text():
    written = text(0, 0, '<b> & "c"', 7)
    assert ET.fromstring(written).text == '<b> & "c"'  # noqa: S314
    assert re.search(r"<b>", written) is None
