import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright._errors import InputError
from roomwright.commissioning.lengths import format_length, parse_length


@pytest.mark.parametrize(
    ("text", "units", "metres"),
    [
        ("5.2", "m", 5.2),
        ("5,2 m", "ft", 5.2),
        (".5", "m", 0.5),
        ("520 cm", "m", 5.2),
        ("5200mm", "ft", 5.2),
        ("10", "ft", 3.048),
        ("17'", "m", 17 * 0.3048),
        ("17' 3\"", "m", 17 * 0.3048 + 3 * 0.0254),
        ("17′ 3 1/2″", "m", 17 * 0.3048 + 3.5 * 0.0254),
        ("17 ft 3.5 in", "m", 17 * 0.3048 + 3.5 * 0.0254),
        ("1/2 in", "ft", 0.0127),
        ("206 inches", "m", 206 * 0.0254),
        ("-0.3", "m", -0.3),
        ("-1' 6\"", "m", -1.5 * 0.3048),
    ],
)
def test_lengths_are_read(text, units, metres):
    assert parse_length(text, units) == pytest.approx(metres, abs=1e-12)


@pytest.mark.parametrize("text", ["", "m", "five", "5.2.1", "1 2", "3' 4'", "nan", "1/0 in", "1e3"])
def test_what_is_no_length_is_refused_with_what_is_allowed(text):
    with pytest.raises(InputError, match=r"write"):
        parse_length(text)


@pytest.mark.parametrize(
    ("metres", "units", "text"),
    [
        (5.2, "m", "5.20 m"),
        (3.048, "ft", "10′ 0″"),
        (3.5 * 0.0254, "ft", "0′ 3 1/2″"),
        (0.3048 - 0.0001, "ft", "1′ 0″"),
        (-0.4572, "ft", "-1′ 6″"),
    ],
)
def test_lengths_are_written(metres, units, text):
    assert format_length(metres, units) == text


@given(st.floats(-60, 60), st.sampled_from(["m", "ft"]))
def test_what_is_written_is_read_back(metres, units):
    # Half a centimetre, or half of an eighth of an inch, is lost by rounding.
    step = 0.01 if units == "m" else 0.0254 / 8
    read = parse_length(format_length(metres, units), units)
    assert read == pytest.approx(metres, abs=step / 2 + 1e-9)
