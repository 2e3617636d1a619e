"""Relative timing of sound and picture, ITU-R BT.1359-1 (1998).

Both pairs of limits are from memory: the recommendation was not opened. They are for the whole
way from the programme's maker to the viewer; a cinema at its end should use up as little of them
as it can. Sound after the picture counts as positive here.
"""

from __future__ import annotations

from typing import Literal

#: Sound may be as much before (negative) or after the picture and half the viewers notice nothing.
DETECTABLE_S = (-0.045, 0.125)

#: Beyond these limits the timing is found unacceptable.
ACCEPTABLE_S = (-0.090, 0.185)

Timing = Literal["undetectable", "detectable", "unacceptable"]


def timing(sound_after_picture_s: float) -> Timing:
    """How sound that comes after the picture (negative: before it) is perceived."""
    if DETECTABLE_S[0] <= sound_after_picture_s <= DETECTABLE_S[1]:
        return "undetectable"
    if ACCEPTABLE_S[0] <= sound_after_picture_s <= ACCEPTABLE_S[1]:
        return "detectable"
    return "unacceptable"
