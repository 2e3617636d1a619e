import pytest

from roomwright._errors import InputError
from roomwright.layout import read_layout
from roomwright.standards import bs2051


@pytest.mark.parametrize("name", [*bs2051.LETTERS, *bs2051.SYSTEMS])
def test_every_system(name):
    layout = read_layout(name)
    positions = bs2051.system(name)
    assert set(layout.loudspeakers) | set(layout.lfe) == set(positions)
    assert layout.subwoofers == sum(p.is_lfe for p in positions)


def test_count_states_its_subwoofers():
    layout = read_layout("9.3.6")
    assert len(layout.loudspeakers) == 15
    assert layout.subwoofers == 3
    assert [p.label for p in layout.lfe] == ["LFE1"]


def test_list_of_labels_in_any_order():
    layout = read_layout("LFE1, M-030,M+000 ,M+030")
    assert [p.label for p in layout.loudspeakers] == ["M+030", "M-030", "M+000"]
    assert layout.subwoofers == 1


def test_list_without_lfe_has_no_subwoofer():
    assert read_layout("M+000").subwoofers == 0


@pytest.mark.parametrize(
    ("layout", "said"),
    [
        ("stereo", "the layout 'stereo' is not known"),
        ("", "the layout '' is not known"),
        ("7.1.5", "allowed is 0, 2, 4, 6"),
        ("M+030,M+030", "names M.030 2 times"),
        ("M+030,left", "'left' is no loudspeaker label"),
    ],
)
def test_unknown_layouts(layout, said):
    with pytest.raises(InputError, match=said):
        read_layout(layout)
