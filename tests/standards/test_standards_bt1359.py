"""Timing of sound and picture."""

from __future__ import annotations

import pytest

from roomwright.standards import bt1359


@pytest.mark.parametrize(
    ("sound_after_picture_s", "heard"),
    [
        (0.0, "undetectable"),
        (0.125, "undetectable"),
        (-0.045, "undetectable"),
        (0.126, "detectable"),
        (-0.046, "detectable"),
        (0.185, "detectable"),
        (-0.091, "unacceptable"),
        (0.186, "unacceptable"),
    ],
)
def test_limits_of_the_recommendation(sound_after_picture_s, heard):
    """45 ms early to 125 ms late are not detected, 90 to 185 ms accepted (from memory)."""
    assert bt1359.timing(sound_after_picture_s) == heard
