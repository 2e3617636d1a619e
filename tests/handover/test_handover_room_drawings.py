"""The plan is to scale and names everything once."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from roomwright.handover.room_drawings import plan, section
from roomwright.handover.wording import paired
from roomwright.model import Room

SVG = "{http://www.w3.org/2000/svg}"


def elements(drawing, kind):
    return list(ET.fromstring(drawing.svg).iter(SVG + kind))  # noqa: S314


def names(drawing):
    return [element.text for element in elements(drawing, "text")]


def corners(drawing):
    """Points of the outline, the first path drawn."""
    steps = elements(drawing, "path")[0].get("d").strip("MZ").split()
    return np.array([[float(c) for c in step.split(",")] for step in steps])


def test_the_plan_names_everything_once(job):
    shown = names(plan(job, 236, 330))
    for name in [u.id for u in job.units] + [s.id for s in job.seats]:
        assert shown.count(name) == 1


def test_plan_and_section_keep_proportions(job):
    width, length, height = job.room.box_size_m
    outline = np.ptp(corners(plan(job, 236, 330)), axis=0)
    assert outline[0] / outline[1] == pytest.approx(width / length, rel=1e-3)
    outline = np.ptp(corners(section(job, 236, 190)), axis=0)
    assert outline[0] / outline[1] == pytest.approx(length / height, rel=1e-3)


def test_subwoofers_stand_where_the_job_has_them(job):
    """Squares of the plan, back from points to metres by the outline."""
    drawing = plan(job, 236, 330)
    outline = corners(drawing)
    scale = np.ptp(outline[:, 0]) / job.room.box_size_m[0]
    squares = [e for e in elements(drawing, "rect") if e.get("fill") == "#E69F00"]
    middles = [
        (
            float(e.get("x")) + 4.5 - outline[:, 0].min(),
            float(e.get("y")) + 4.5 - outline[:, 1].min(),
        )
        for e in squares
    ]
    expected = [s.position_m[:2] for s in job.subwoofers]
    np.testing.assert_allclose(np.array(middles) / scale, expected, atol=0.002)


def test_names_do_not_cover_each_other_in_an_ordinary_room(job):
    placed = [
        (float(e.get("x")), float(e.get("y")), 0.5 * 7 * len(e.text))
        for e in elements(plan(job, 236, 330), "text")
        if e.text in {u.id for u in job.units}
    ]
    for i, (x, y, width) in enumerate(placed):
        for x2, y2, width2 in placed[i + 1 :]:
            assert abs(x - x2) > (width + width2) / 2 - 1 or abs(y - y2) > 6


def test_a_room_of_any_shape_is_drawn(job):
    wall = job.room.walls[0]
    shaped = Room(
        outline_m=((0, 0), (5.4, 0), (5.4, 7.2), (2, 7.2), (0, 5)),
        height_m=2.8,
        floor=wall,
        ceiling=wall,
        walls=(wall,) * 5,
    )
    drawing = plan(job.model_copy(update={"room": shaped}), 236, 330)
    assert len(corners(drawing)) == 5


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (["M+030", "M-030"], "M±030"),
        (["M+030", "M-030", "M+000"], "M±030, M+000"),
        (["SW1"], "SW1"),
        (["M-110", "M+110", "SW2"], "M±110, SW2"),
        (["M+000", "M-000"], "M±000"),
    ],
)
def test_mirror_pairs_share_a_label(given, expected):
    assert paired(given) == expected
