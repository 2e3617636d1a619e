import pytest
from pydantic import ValidationError

from roomwright.model import Room, Surface

NAMED = {
    name: Surface(material=name, absorption=(0.1,) * 8)
    for name in ("left", "right", "front", "back", "floor", "ceiling", "other")
}


def room(outline, walls, height=3.0):
    return Room(
        outline_m=outline,
        height_m=height,
        floor=NAMED["floor"],
        ceiling=NAMED["ceiling"],
        walls=tuple(NAMED[name] for name in walls),
    )


@pytest.mark.parametrize(
    ("outline", "walls"),
    [
        (((0, 0), (4, 0), (4, 5), (0, 5)), ("front", "right", "back", "left")),
        (((0, 0), (0, 5), (4, 5), (4, 0)), ("left", "back", "right", "front")),
        (((4, 5), (0, 5), (0, 0), (4, 0)), ("back", "left", "front", "right")),
    ],
)
def test_box_surfaces_do_not_depend_on_how_the_outline_is_drawn(outline, walls):
    box = room(outline, walls)
    assert box.box_size_m == (4, 5, 3)
    assert [surface.material for surface in box.box_surfaces] == [
        "left",
        "right",
        "front",
        "back",
        "floor",
        "ceiling",
    ]


@pytest.mark.parametrize(
    "outline",
    [
        ((0, 0), (4, 0), (4, 5)),
        ((0, 0), (4, 0), (5, 5), (0, 5)),
        ((1, 0), (5, 0), (5, 5), (1, 5)),
        ((0, 0), (2, 0), (4, 0), (4, 5), (0, 5)),
    ],
)
def test_other_prisms_are_no_box(outline):
    prism = room(outline, ("other",) * len(outline))
    assert prism.box_size_m is None
    assert prism.box_surfaces is None


def test_areas_and_volume_of_an_l():
    outline = ((0, 0), (6, 0), (6, 4), (3, 4), (3, 8), (0, 8))
    prism = room(outline, ("other",) * 6)
    assert prism.floor_area_m2 == pytest.approx(24 + 12)
    assert prism.volume_m3 == pytest.approx(36 * 3)
    areas = [area for _, _, area in prism.surfaces_with_areas()]
    assert areas == pytest.approx([36, 36, 18, 12, 9, 12, 9, 24])


@pytest.mark.parametrize(
    "outline",
    [
        ((0, 0), (4, 5), (4, 0), (0, 5)),
        ((0, 0), (4, 0), (2, 0)),
        ((0, 0), (4, 0)),
    ],
)
def test_outline_without_an_area_is_refused(outline):
    with pytest.raises(ValidationError):
        room(outline, ("other",) * len(outline))
