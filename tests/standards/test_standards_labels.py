"""Against the numbers of IEC 62574 as a public audio-file library transcribes them."""

import pytest

from roomwright.standards import bs2051, labels


@pytest.mark.parametrize(
    ("label", "iec", "number"),
    [
        ("M+030", "FL", 1),
        ("M-030", "FR", 2),
        ("M+000", "FC", 3),
        ("LFE1", "LFE1", 4),
        ("M+135", "BL", 5),
        ("M-135", "BR", 6),
        ("M+SC", "FLc", 7),
        ("M-SC", "FRc", 8),
        ("M+180", "BC", 9),
        ("LFE2", "LFE2", 10),
        ("M+090", "SiL", 11),
        ("M-090", "SiR", 12),
        ("U+045", "TpFL", 13),
        ("U-030", "TpFR", 14),
        ("U+000", "TpFC", 15),
        ("T+000", "TpC", 16),
        ("U+110", "TpBL", 17),
        ("U-135", "TpBR", 18),
        ("U+090", "TpSiL", 19),
        ("U-090", "TpSiR", 20),
        ("UH+180", "TpBC", 21),
        ("B+000", "BtFC", 22),
        ("B+045", "BtFL", 23),
        ("B-045", "BtFR", 24),
        ("M+060", "FLw", 25),
        ("M-060", "FRw", 26),
        ("M+110", "LS", 27),
        ("M-110", "RS", 28),
    ],
)
def test_iec_label_and_number(label, iec, number):
    assert labels.iec_label(label) == iec
    assert labels.iec_number(label) == number


@pytest.mark.parametrize("layout", ["H", "9+10+3"])
def test_front_left_is_another_pair_in_22_2(layout):
    assert labels.iec_label("M+060", layout) == "FL"
    assert labels.iec_number("M-060", layout) == 2
    assert labels.iec_label("M-030", layout) == "FRc"
    assert labels.iec_number("M+030", layout) == 7
    assert labels.iec_label("M+030", "J") == "FL"


@pytest.mark.parametrize("name", bs2051.SYSTEMS)
def test_no_iec_label_or_english_name_occurs_twice_in_a_system(name):
    own = [p.label for p in bs2051.system(name)]
    assert len({labels.iec_label(label, name) for label in own}) == len(own)
    assert len({labels.iec_number(label, name) for label in own}) == len(own)
    assert len({labels.english(label) for label in own}) == len(own)


@pytest.mark.parametrize(
    ("label", "english"),
    [
        ("M+030", "left"),
        ("M+000", "centre"),
        ("M-110", "right surround"),
        ("U+045", "top front left"),
        ("U+030", "top front left 30°"),
        ("B-045", "bottom front right"),
    ],
)
def test_plain_english(label, english):
    assert labels.english(label) == english


def test_every_label_has_an_english_name_of_its_own():
    every = {position.label for name in bs2051.SYSTEMS for position in bs2051.system(name)}
    assert len({labels.english(label) for label in every}) == len(every)


def test_label_without_a_name():
    assert labels.english("M+045") == "M+045"
    assert labels.iec_label("M+045") is None
    assert labels.iec_number("M+045") is None


def test_customary_order_does_not_depend_on_the_order_given():
    wanted = ("M+030", "M-030", "M+000", "LFE1", "M+090", "M-090", "U+045", "B+135", "M+045")
    assert labels.label_order(reversed(wanted)) == (*wanted[:-2], "B+135", "M+045")
