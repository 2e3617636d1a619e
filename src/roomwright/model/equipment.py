"""What makes and catches the sound: loudspeakers, subwoofers, channels, outputs, microphone."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from roomwright.model._base import Document, Identifier, Point, Positive

#: How strongly a loudspeaker beams: `omni` radiates evenly; `wide`, `medium` and `narrow`
#: are pistons of growing size on a box of growing size.
DirectivityClass = Literal["omni", "wide", "medium", "narrow"]

ChannelRole = Literal["front", "surround", "height", "lfe"]


class LoudspeakerModel(Document):
    """What a data sheet says of one loudspeaker or subwoofer type.

    `sensitivity_db` is the level at 1 m on axis for full scale minus 20 dB at the output, in dB
    re 20 uPa: amplifier and loudspeaker taken together. `maximum_level_db` is the highest
    continuous sine level at 1 m. `low_hz` and `high_hz` are the -3 dB limits, with roll-offs of
    `low_slope_db` and `high_slope_db` an octave.
    """

    name: Annotated[str, Field(min_length=1)]
    sensitivity_db: float
    maximum_level_db: float
    low_hz: Positive
    high_hz: Positive
    low_slope_db: Literal[12, 24] = 12
    high_slope_db: Literal[12, 24] = 12
    directivity: DirectivityClass = "medium"


class Loudspeaker(Document):
    """One loudspeaker: where it stands and the point it is aimed at."""

    id: Identifier
    model: str
    position_m: Point
    aim_m: Point


class Subwoofer(Document):
    """One subwoofer. Below its upper limit it radiates evenly, so it has no aim."""

    id: Identifier
    model: str
    position_m: Point


class Channel(Document):
    """One signal of the programme and the loudspeakers that reproduce it.

    `id` is the ITU-R BS.2051 label. The LFE channel is reproduced by the subwoofers and names
    no loudspeaker of its own.
    """

    id: Identifier
    role: ChannelRole
    loudspeakers: tuple[Identifier, ...] = ()


class Output(Document):
    """One physical output of the processor and the loudspeaker or subwoofer it drives.

    `connection` is how the signal leaves: as an analogue line or as a channel of network audio.
    `name` is what its connector or network channel is called, empty if nobody named it.
    """

    number: Annotated[int, Field(ge=1)]
    drives: Identifier
    connection: Literal["analogue", "network"] = "analogue"
    name: Annotated[str, Field(max_length=40)] = ""


class CapabilitySheet(Document):
    """What the client's processor can do.

    With `one_bass_low_pass` it filters the bass of all channels together on its way to the
    subwoofers, else that of each channel by itself.
    """

    name: str = "generic processor"
    outputs: Annotated[int, Field(ge=1)] = 16
    biquads_per_output: Annotated[int, Field(ge=0)] = 10
    fir_taps_per_output: Annotated[int, Field(ge=0)] = 4096
    maximum_delay_s: Positive = 0.1
    delay_step_s: Positive = 1.0 / 48000.0
    gain_step_db: Positive = 0.1
    one_bass_low_pass: bool = False


class Microphone(Document):
    """The measuring microphone and its input.

    `sensitivity_pa` is the sound pressure in pascal (peak) that reaches digital full scale, or
    None while it is unknown: levels are then relative. The calibration files lie in the job's
    `microphones/` folder: `calibration_file` is for sound along the microphone's axis (0
    degrees), or for all where there is no other; `side_calibration_file` for sound from the side
    (90 degrees). `faces` is where the axis points. `capsule_radius_m` is the distance of each
    capsule from the centre of a microphone of four, None for one of a single capsule.
    """

    name: str = "microphone"
    serial: Annotated[str, Field(max_length=40)] = ""
    sensitivity_pa: Positive | None = None
    calibration_file: str | None = None
    side_calibration_file: str | None = None
    faces: Literal["ceiling", "front"] = "ceiling"
    capsule_radius_m: Annotated[float, Field(gt=0, le=0.5)] | None = None
