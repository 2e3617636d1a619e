"""A measuring campaign: the signal played, the places, the recordings made."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Field, model_validator

from roomwright.model._base import Document, Identifier, NonNegative, Point, Positive

SampleRate = Literal[44100, 48000, 88200, 96000, 192000]


class Sweep(Document):
    """An exponential sine sweep between two pilots.

    The signal played is: `lead_s` of silence, a short pilot chirp, `gap_s` of silence, the
    sweep, `tail_s` of silence, the same pilot again, and `gap_s` of silence. The two pilots
    tell how fast the recorder's clock runs against the player's. They cover the band of the
    sweep, or that of `pilot_band_hz` where another loudspeaker plays them.
    """

    start_hz: Positive = 10.0
    stop_hz: Positive = 22000.0
    duration_s: Positive = 5.0
    fade_in_s: NonNegative = 0.05
    fade_out_s: NonNegative = 0.01
    level_dbfs: Annotated[float, Field(le=0)] = -20.0
    lead_s: NonNegative = 0.1
    pilot_s: Positive = 0.1
    pilot_band_hz: tuple[Positive, Positive] | None = None
    gap_s: NonNegative = 0.3
    tail_s: Positive = 1.0

    @model_validator(mode="after")
    def _ordered(self) -> Sweep:
        if self.start_hz >= self.stop_hz:
            raise ValueError(
                f"the sweep starts at {self.start_hz:g} Hz and stops at {self.stop_hz:g} Hz; "
                "it must start below where it stops"
            )
        if self.pilot_band_hz is not None and self.pilot_band_hz[0] >= self.pilot_band_hz[1]:
            raise ValueError("the pilot's band must start below where it stops")
        if self.fade_in_s + self.fade_out_s >= self.duration_s:
            raise ValueError("the sweep's fades are longer than the sweep")
        return self


class Station(Document):
    """One microphone position; `seat` names the seat it stands for, if any.

    `position_m` is None for recordings whose place was not written down.
    """

    id: Identifier
    position_m: Point | None = None
    seat: Identifier | None = None


class Circumstances(Document):
    """What a recording was made of, by digests: the room, what played, where the microphone stood.

    When one of them changes, the recording is of something that is not there any more.
    """

    room: str
    source: str
    station: str


class Overlap(Document):
    """The place of one source's sweep in a recording that holds those of several.

    It began `offset_s` after the first of them; `window_s` of the response stand clear of all
    others, and its harmonics too if `harmonics_apart`. `pass_hz` is the band of all that sweep in
    the recording, each its part of one sweep; None if that is this one's own.
    """

    offset_s: NonNegative
    window_s: Positive
    harmonics_apart: bool
    pass_hz: tuple[Positive, Positive] | None = None


class Take(Document):
    """One recording, or one impulse response, made at one station.

    `source` is what was driven: a loudspeaker or subwoofer in the `survey` stage, a channel in
    the `proof` stage, `background` where nothing was. `file` is relative to the job folder and
    never rewritten. `kind` is `take` for a recorded sweep, `response` for an impulse response,
    `noise` for the room's background noise. `reference_channel` is the WAV channel (from 1) that
    recorded the electrical signal as the common time reference, if any. `common_start` says of a
    response that its first sample is the moment its signal left the output, as for all others.
    `overlap` says where in a recording of several sources this one's sweep is; the tail of
    `sweep` then lasts until the last has died away.
    `made_with` is what the recording was made of, None if that was not written down.
    `chirps_from` is the loudspeaker that played the pilots around the sweep as the acoustic
    reference, None if the source itself did.
    """

    stage: Literal["survey", "proof"]
    source: Identifier
    station: Identifier
    kind: Literal["take", "response", "noise"]
    file: str
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    wav_channel: Annotated[int, Field(ge=1)] = 1
    reference_channel: Annotated[int, Field(ge=1)] | None = None
    common_start: bool = False
    sweep: Sweep | None = None
    overlap: Overlap | None = None
    origin: Literal["rehearsal", "import", "device"] = "import"
    made_with: Circumstances | None = None
    chirps_from: Identifier | None = None

    @model_validator(mode="after")
    def _take_has_a_sweep(self) -> Take:
        if (self.kind == "take") != (self.sweep is not None):
            raise ValueError("a take states the sweep that was played; other recordings have none")
        if self.overlap is not None and self.sweep is None:
            raise ValueError("only a take can overlap with others")
        return self


#: Faults of what an output drives, and of how it is driven.
WiringFault = Literal[
    "reversed",
    "dead",
    "quiet",
    "late",
    "swapped",
    "buzz",
    "distorting",
    "ways_swapped",
    "no_tweeter",
    "no_woofer",
    "displaced",
]

#: Faults of a recording: noise, the recorder, the microphone.
RecordingFault = Literal[
    "door",
    "voice",
    "aircraft",
    "fan",
    "dropout",
    "wrong_rate",
    "silent_input",
    "wrong_input",
    "hot_input",
    "unmoved",
    "moved",
]

FaultKind = Literal[WiringFault, RecordingFault]

_OF_RECORDINGS = get_args(RecordingFault)


class Fault(Document):
    """One fault planted in the rehearsal room.

    `amount` is in dB for `quiet` and `hot_input`, in dB SPL for noises (`door`, `voice`,
    `aircraft`, `fan`), in seconds for `late` and `dropout`, in percent for `distorting`, in metres
    for `displaced` and `moved`, in hertz for `wrong_rate` and for the crossover of the ways, and
    unused otherwise; `swapped` exchanges `output` with output `other`. Faults of a recording
    happen when `output` plays, or whatever plays if that is 0, at `station`, or everywhere if that
    is None.
    """

    kind: FaultKind
    output: Annotated[int, Field(ge=0)]
    other: Annotated[int, Field(ge=1)] | None = None
    amount: float = 0.0
    station: Identifier | None = None

    @model_validator(mode="after")
    def _swapped_with_another(self) -> Fault:
        if (self.kind == "swapped") != (self.other is not None):
            raise ValueError("a swapped fault names the other output; other faults name one only")
        if self.output == 0 and not self.of_recording:
            raise ValueError(f"a fault '{self.kind}' names the output it is in, from 1")
        return self

    @property
    def of_recording(self) -> bool:
        """Whether it spoils recordings rather than what an output drives."""
        return self.kind in _OF_RECORDINGS


class RehearsalSetup(Document):
    """How the simulated cinema departs from an ideal one; the seed fixes every sample."""

    seed: int = 1
    latency_s: NonNegative = 0.0237
    clock_error_ppm: Annotated[float, Field(ge=-500, le=500)] = 18.0
    unit_spread_db: NonNegative = 0.5
    distortion_percent: NonNegative = 1.0
    converter_noise_dbfs: Annotated[float, Field(le=0)] = -110.0
    faults: tuple[Fault, ...] = ()
