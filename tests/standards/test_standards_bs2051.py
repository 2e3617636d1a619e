"""Against the transcription of ITU-R BS.2051 that goes with its public reference renderer."""

import pytest

from roomwright._errors import InputError
from roomwright.standards import bs2051


@pytest.mark.parametrize("name", bs2051.SYSTEMS)
def test_name_counts_upper_middle_and_lower(name):
    layers = [bs2051.layer(p.label) for p in bs2051.system(name) if not p.is_lfe]
    assert [layers.count(layer) for layer in ("upper", "middle", "lower")] == [
        int(count) for count in name.split("+")
    ]


@pytest.mark.parametrize(
    ("letter", "name", "channels", "lfe"),
    [
        ("A", "0+2+0", 2, 0),
        ("B", "0+5+0", 5, 1),
        ("C", "2+5+0", 7, 1),
        ("D", "4+5+0", 9, 1),
        ("E", "4+5+1", 10, 1),
        ("F", "3+7+0", 10, 2),
        ("G", "4+9+0", 13, 1),
        ("H", "9+10+3", 22, 2),
        ("I", "0+7+0", 7, 1),
        ("J", "4+7+0", 11, 1),
    ],
)
def test_letters_stand_for_systems(letter, name, channels, lfe):
    assert bs2051.system(letter) == bs2051.system(letter.lower()) == bs2051.SYSTEMS[name]
    assert sum(not p.is_lfe for p in bs2051.system(letter)) == channels
    assert sum(p.is_lfe for p in bs2051.system(letter)) == lfe


@pytest.mark.parametrize(
    ("letter", "label", "nominal", "azimuths", "elevations"),
    [
        ("D", "M+030", (30, 0), (30, 30), (0, 0)),
        ("J", "M-030", (-30, 0), (-45, -30), (0, 0)),
        ("H", "M+030", (30, 0), (22.5, 30), (0, 5)),
        ("B", "M+110", (110, 0), (100, 120), (0, 15)),
        ("E", "M-110", (-110, 0), (-120, -100), (0, 0)),
        ("F", "M+090", (90, 0), (60, 150), (0, 0)),
        ("I", "M+090", (90, 0), (85, 110), (0, 0)),
        ("I", "M-135", (-135, 0), (-150, -120), (0, 0)),
        ("G", "M+SC", (15, 0), (5, 25), (0, 0)),
        ("H", "M-060", (-60, 0), (-60, -45), (0, 5)),
        ("C", "U+030", (30, 30), (30, 45), (30, 55)),
        ("F", "U-045", (-45, 30), (-45, -30), (30, 45)),
        ("J", "U+045", (45, 30), (30, 45), (30, 55)),
        ("H", "U+045", (45, 30), (45, 60), (30, 45)),
        ("D", "U+110", (110, 30), (100, 135), (30, 55)),
        ("G", "U+135", (135, 30), (100, 150), (30, 55)),
        ("H", "U-135", (-135, 30), (-135, -110), (30, 45)),
        ("F", "UH+180", (180, 45), (180, 180), (45, 90)),
        ("H", "B-045", (-45, -30), (-60, -45), (-30, -15)),
        ("F", "LFE2", (-45, -30), (-90, -30), (-30, -15)),
    ],
)
def test_published_ranges(letter, label, nominal, azimuths, elevations):
    found = next(p for p in bs2051.system(letter) if p.label == label)
    assert (found.azimuth_deg, found.elevation_deg) == nominal
    assert found.azimuth_range_deg == azimuths
    assert found.elevation_range_deg == elevations


def test_every_nominal_direction_is_allowed_and_every_label_is_unique():
    for positions in bs2051.SYSTEMS.values():
        assert len({p.label for p in positions}) == len(positions)
        for p in positions:
            assert p.azimuth_range_deg[0] <= p.azimuth_deg <= p.azimuth_range_deg[1]
            assert p.elevation_range_deg[0] <= p.elevation_deg <= p.elevation_range_deg[1]


def test_left_and_right_mirror_each_other():
    for positions in bs2051.SYSTEMS.values():
        by_label = {p.label: p for p in positions}
        for p in positions:
            other = by_label.get(p.label.replace("+", "-"))
            if other is None or other is p or p.is_lfe:
                continue
            low, high = p.azimuth_range_deg
            assert other.azimuth_deg == -p.azimuth_deg
            assert other.azimuth_range_deg == (-high, -low)
            assert other.elevation_range_deg == p.elevation_range_deg


def test_position_alone_has_the_widest_meaning():
    left = bs2051.position("M+030")
    assert left.azimuth_range_deg == (22.5, 45)
    assert left.elevation_range_deg == (0, 5)
    assert bs2051.position("M+090").azimuth_range_deg == (60, 150)


def test_label_by_pattern_only():
    position = bs2051.position("B-135")
    assert (position.azimuth_deg, position.elevation_deg) == (-135, -30)
    assert position.azimuth_range_deg == (-135, -135)
    assert bs2051.layer("U+160") == "upper"


@pytest.mark.parametrize("name", ["left", "M030", "M+190", "X+030", "M+30", ""])
def test_unknown_label_is_refused(name):
    assert not bs2051.is_label(name)
    with pytest.raises(InputError, match="no loudspeaker label"):
        bs2051.position(name)


def test_unknown_system_lists_those_that_exist():
    with pytest.raises(InputError, match=r"J \(4\+7\+0\)"):
        bs2051.system("K")
