"""The job's documents: pure data, validated, no arrays of samples."""

from roomwright.model._base import (
    OCTAVE_BANDS_HZ,
    Document,
    Identifier,
    Point,
)
from roomwright.model._problems import problems
from roomwright.model.equipment import (
    CapabilitySheet,
    Channel,
    ChannelRole,
    DirectivityClass,
    Loudspeaker,
    LoudspeakerModel,
    Microphone,
    Output,
    Subwoofer,
)
from roomwright.model.findings import Finding, gathered
from roomwright.model.job import SCHEMA_VERSION, Job, digest
from roomwright.model.room import Room, Seat, Surface
from roomwright.model.survey import (
    Fault,
    RehearsalSetup,
    SampleRate,
    Station,
    Sweep,
    Take,
)
from roomwright.model.tuning import (
    Biquad,
    BiquadKind,
    Crossover,
    FirCurve,
    OutputTuning,
    Proof,
    Target,
    TargetPoint,
    Tuning,
    TuningLimits,
)

__all__ = [
    "OCTAVE_BANDS_HZ",
    "SCHEMA_VERSION",
    "Biquad",
    "BiquadKind",
    "CapabilitySheet",
    "Channel",
    "ChannelRole",
    "Crossover",
    "DirectivityClass",
    "Document",
    "Fault",
    "Finding",
    "FirCurve",
    "Identifier",
    "Job",
    "Loudspeaker",
    "LoudspeakerModel",
    "Microphone",
    "Output",
    "OutputTuning",
    "Point",
    "Proof",
    "RehearsalSetup",
    "Room",
    "SampleRate",
    "Seat",
    "Station",
    "Subwoofer",
    "Surface",
    "Sweep",
    "Take",
    "Target",
    "TargetPoint",
    "Tuning",
    "TuningLimits",
    "digest",
    "gathered",
    "problems",
]
