"""Everything computed to be loaded into the processor."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from roomwright.model._base import Document, Identifier, NonNegative, Positive
from roomwright.model.findings import Finding

BiquadKind = Literal["peaking", "low_shelf", "high_shelf", "low_pass", "high_pass", "all_pass"]


class Biquad(Document):
    """One second-order section; `gain_db` is unused by `low_pass`, `high_pass`, `all_pass`."""

    kind: BiquadKind
    frequency_hz: Positive
    gain_db: float = 0.0
    q: Positive = 0.7071


class Crossover(Document):
    """A Linkwitz-Riley or Butterworth high- or low-pass of the given order."""

    family: Literal["linkwitz_riley", "butterworth"] = "linkwitz_riley"
    side: Literal["high_pass", "low_pass"]
    order: Literal[2, 4, 8] = 4
    frequency_hz: Positive

    @property
    def other_side(self) -> Crossover:
        """The filter that completes it: the low-pass of a high-pass and the reverse."""
        side = "low_pass" if self.side == "high_pass" else "high_pass"
        return self.model_copy(update={"side": side})


class TargetPoint(Document):
    """One corner of a target curve, joined by straight lines over log frequency."""

    frequency_hz: Positive
    level_db: float


class FollowRange(Document):
    """A range of frequencies in which a loudspeaker's own response is followed, not the target."""

    low_hz: Positive
    high_hz: Positive

    @model_validator(mode="after")
    def _rising(self) -> FollowRange:
        if self.low_hz >= self.high_hz:
            raise ValueError("a range to follow must end above where it begins")
        return self


class RollOff(Document):
    """Where a target falls below (`low`) or above (`high`) a frequency, as Butterworth filters do.

    It is 3 dB down at `frequency_hz` and falls by 6 dB an octave for each order.
    """

    side: Literal["low", "high"]
    frequency_hz: Positive
    order: Annotated[int, Field(ge=1, le=8)] = 4


class Target(Document):
    """The response aimed for at the seats, relative to its level at 1 kHz.

    The default rises below 120 Hz and falls gently above 200 Hz: common practice, no source.
    """

    points: Annotated[tuple[TargetPoint, ...], Field(min_length=1)] = (
        TargetPoint(frequency_hz=20.0, level_db=5.0),
        TargetPoint(frequency_hz=60.0, level_db=5.0),
        TargetPoint(frequency_hz=150.0, level_db=1.5),
        TargetPoint(frequency_hz=400.0, level_db=1.0),
        TargetPoint(frequency_hz=1000.0, level_db=0.0),
        TargetPoint(frequency_hz=20000.0, level_db=-3.5),
    )
    roll_offs: tuple[RollOff, ...] = ()
    follows: tuple[FollowRange, ...] = ()

    @model_validator(mode="after")
    def _rising(self) -> Target:
        frequencies = [p.frequency_hz for p in self.points]
        if any(a >= b for a, b in pairwise(frequencies)):
            raise ValueError("the target's points must rise in frequency")
        return self

    @model_validator(mode="after")
    def _one_a_side(self) -> Target:
        if len({r.side for r in self.roll_offs}) < len(self.roll_offs):
            raise ValueError("a target has one roll-off on each side at most")
        return self

    @model_validator(mode="after")
    def _apart(self) -> Target:
        if any(a.high_hz > b.low_hz for a, b in pairwise(self.follows)):
            raise ValueError("the ranges to follow must rise in frequency and not overlap")
        return self


class OwnTarget(Document):
    """A target that some channels have in place of the job's; the LFE's is the subwoofers'."""

    channels: Annotated[tuple[Identifier, ...], Field(min_length=1)]
    target: Target


class OwnCrossover(Document):
    """A crossover to the subwoofers that some main channels have in place of the job's.

    With `full_range` they have no high-pass and give no bass to the subwoofers: they keep it.
    """

    channels: Annotated[tuple[Identifier, ...], Field(min_length=1)]
    frequency_hz: Positive = 80.0
    order: Literal[2, 4, 8] = 4
    full_range: bool = False


class ByHand(Document):
    """What the engineer has set of one output; the solver keeps it and computes the rest.

    `biquads` stand as they are and the solver adds its own, unless `no_more_biquads`.
    `trim_change_db` and `delay_change_s` come on top of what is computed, so they keep their
    meaning when that changes; `flipped` reverses the computed polarity.
    """

    drives: Identifier
    biquads: tuple[Biquad, ...] = ()
    no_more_biquads: bool = False
    trim_change_db: float = 0.0
    delay_change_s: float = 0.0
    flipped: bool = False


class ListeningMode(Document):
    """A named variant of the tuning: tone controls on top of the target, the same for all channels.

    `bass_db` is a shelf below `bass_hz`, `treble_db` one above `treble_hz`, `tilt_db` the change
    an octave around 1 kHz.
    """

    name: Annotated[str, Field(min_length=1, max_length=40)]
    bass_db: Annotated[float, Field(ge=-12, le=12)] = 0.0
    bass_hz: Annotated[float, Field(ge=40, le=400)] = 120.0
    treble_db: Annotated[float, Field(ge=-12, le=12)] = 0.0
    treble_hz: Annotated[float, Field(ge=1000, le=10000)] = 4000.0
    tilt_db: Annotated[float, Field(ge=-2, le=2)] = 0.0


class TuningLimits(Document):
    """What the solver may do; the defaults are common practice, no source.

    The crossover is that of every main channel without one of its own; with `full_range` those
    keep their bass.
    """

    crossover_hz: Positive = 80.0
    crossover_order: Literal[2, 4, 8] = 4
    full_range: bool = False
    biquads_per_output: Annotated[int, Field(ge=0, le=40)] = 8
    maximum_boost_db: NonNegative = 4.0
    maximum_cut_db: NonNegative = 12.0
    maximum_q: Positive = 8.0
    maximum_q_above_transition: Positive = 1.5
    highest_hz: Positive = 12000.0
    method: Literal["biquads", "fir"] = "biquads"
    fir_taps: Annotated[int, Field(ge=256, le=65536)] = 8192


class FirCurve(Document):
    """A correction realised as a minimum-phase FIR: level over frequency, and its length.

    The taps are computed from this; they are never stored in the document.
    """

    taps: Annotated[int, Field(ge=256, le=65536)]
    frequencies_hz: tuple[Positive, ...]
    level_db: tuple[float, ...]

    @model_validator(mode="after")
    def _same_length(self) -> FirCurve:
        if len(self.frequencies_hz) != len(self.level_db):
            raise ValueError("a FIR curve needs one level for each frequency")
        return self


class FirCoefficients(Document):
    """A free FIR of the bass, as few coefficients at a low sampling rate.

    The processor runs them interpolated to `interpolation` times that rate, as `taps` taps; a
    filter that ends at a few hundred hertz says no more. So a document holds a few hundred numbers
    an output and no file of samples, and stays whole when it is copied; the taps are written out
    with the handover.
    """

    coefficients: Annotated[tuple[float, ...], Field(min_length=1, max_length=4096)]
    sampling_rate_hz: Positive
    interpolation: Annotated[int, Field(ge=1)]

    @property
    def taps(self) -> int:
        """Taps at the processor's rate."""
        return len(self.coefficients) * self.interpolation


class OutputTuning(Document):
    """What one output's signal passes: filters, trim, delay, polarity."""

    drives: Identifier
    trim_db: float = 0.0
    delay_s: NonNegative = 0.0
    inverted: bool = False
    crossovers: tuple[Crossover, ...] = ()
    biquads: tuple[Biquad, ...] = ()
    fir: FirCurve | FirCoefficients | None = None


class OwnLowPass(Document):
    """The low-pass of the bass that some channels give to the subwoofers; None: they give none."""

    channels: Annotated[tuple[Identifier, ...], Field(min_length=1)]
    low_pass: Crossover | None = None


class Tuning(Document):
    """The settings of every output, and what they were computed from.

    `bass_low_pass` filters the bass that is redirected from the main channels to the subwoofers;
    None where they keep their bass. `own_low_passes` stand in its place for the channels they
    name. `lfe_gain_db` is the in-band gain of the LFE
    channel against a main channel. `based_on` is the digest of the measurements, channels, target
    and limits: when those change, the tuning is out of date. `findings` are the doubts that came
    up in computing it.
    """

    outputs: tuple[OutputTuning, ...]
    bass_low_pass: Crossover | None = None
    own_low_passes: tuple[OwnLowPass, ...] = ()
    lfe_gain_db: float = 10.0
    based_on: str
    findings: tuple[Finding, ...] = ()

    def low_pass_of(self, channel_id: str) -> Crossover | None:
        """The low-pass of a main channel's bass on its way to the subwoofers; None: it keeps it."""
        own = (of.low_pass for of in self.own_low_passes if channel_id in of.channels)
        return next(own, self.bass_low_pass)


class Proof(Document):
    """Which tuning, by its digest, the takes of the proof stage were made with.

    The verdicts are recomputed from those takes.
    """

    tuning: str


class Handover(Document):
    """What was handed over last: the digest of the job, without this record, it was made of."""

    made_of: str
