import itertools

import pytest

from roomwright._errors import InputError
from roomwright.standards import bs2051, domestic


@pytest.mark.parametrize(
    ("bed", "subwoofers", "heights"), list(itertools.product((5, 7, 9), (1, 2, 3, 4), (2, 4, 6)))
)
def test_every_count_has_its_loudspeakers(bed, subwoofers, heights):
    assert domestic.counts(f"{bed}.{subwoofers}.{heights}") == (bed, subwoofers, heights)
    layers = [bs2051.layer(p.label) for p in domestic.positions(bed, heights)]
    assert layers.count("middle") == bed
    assert layers.count("upper") == heights
    assert layers.count("lfe") == 1


def test_heights_may_be_left_out():
    assert domestic.counts("5.1") == (5, 1, 0)


def test_7_4_4_has_the_loudspeakers_of_system_j():
    assert set(domestic.positions(7, 4)) == set(bs2051.system("J"))


def test_wide_pair_keeps_the_range_of_22_2():
    wide = next(p for p in domestic.positions(9, 6) if p.label == "M+060")
    assert wide.azimuth_range_deg == (45, 60)


@pytest.mark.parametrize("name", ["6.1.4", "7.0.4", "7.1.5", "7.25.4", "7", "7.1.4.2", "seven", ""])
def test_impossible_counts_are_refused(name):
    with pytest.raises(InputError):
        domestic.counts(name)


def test_positions_refuse_what_counts_refuse():
    with pytest.raises(InputError, match="allowed is a bed of 5, 7 or 9"):
        domestic.positions(6, 4)
