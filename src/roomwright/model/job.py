"""The job: everything about one cinema, in one document."""

from __future__ import annotations

import hashlib
from typing import Annotated

from pydantic import Field

from roomwright.model._base import Document, Identifier
from roomwright.model.bass import BassWishes
from roomwright.model.equipment import (
    CapabilitySheet,
    Channel,
    Loudspeaker,
    LoudspeakerModel,
    Microphone,
    Output,
    Subwoofer,
)
from roomwright.model.interface import Interface
from roomwright.model.levels import LevelPlan
from roomwright.model.room import Room, Seat
from roomwright.model.survey import RehearsalSetup, SampleRate, Station, Sweep, Take
from roomwright.model.tuning import (
    ByHand,
    Crossover,
    Handover,
    ListeningMode,
    OwnCrossover,
    OwnTarget,
    Proof,
    Target,
    Tuning,
    TuningLimits,
)

SCHEMA_VERSION = 1


class Job(Document):
    """Everything about one cinema.

    The order of fields is the order of the stages. References between parts are by `id` and are
    checked by `roomwright.model.problems`, which reports all of them at once.
    """

    schema_version: int = SCHEMA_VERSION
    name: Annotated[str, Field(min_length=1)]
    sampling_rate_hz: SampleRate = 48000

    room: Room
    seats: Annotated[tuple[Seat, ...], Field(min_length=1)]
    main_seat: Identifier

    layout: str
    loudspeaker_models: tuple[LoudspeakerModel, ...] = ()
    loudspeakers: tuple[Loudspeaker, ...] = ()
    subwoofers: tuple[Subwoofer, ...] = ()
    channels: tuple[Channel, ...] = ()

    processor: CapabilitySheet = CapabilitySheet()
    outputs: tuple[Output, ...] = ()

    interface: Interface = Interface()
    microphone: Microphone = Microphone()
    sweep: Sweep = Sweep()
    levels: LevelPlan = LevelPlan()
    stations: tuple[Station, ...] = ()
    rehearsal: RehearsalSetup = RehearsalSetup()
    takes: tuple[Take, ...] = ()

    bass: BassWishes = BassWishes()

    target: Target = Target()
    own_targets: tuple[OwnTarget, ...] = ()
    limits: TuningLimits = TuningLimits()
    own_crossovers: tuple[OwnCrossover, ...] = ()
    by_hand: tuple[ByHand, ...] = ()
    modes: tuple[ListeningMode, ...] = ()
    tuning: Tuning | None = None
    proof: Proof | None = None
    handover: Handover | None = None

    def seat(self, seat_id: str) -> Seat:
        """The seat called `seat_id`; KeyError if there is none."""
        return {seat.id: seat for seat in self.seats}[seat_id]

    def station(self, station_id: str) -> Station:
        """The station called `station_id`; KeyError if there is none."""
        return {station.id: station for station in self.stations}[station_id]

    @property
    def units(self) -> tuple[Loudspeaker | Subwoofer, ...]:
        """Everything that makes sound: the loudspeakers, then the subwoofers."""
        units: list[Loudspeaker | Subwoofer] = [*self.loudspeakers, *self.subwoofers]
        return tuple(units)

    def unit(self, unit_id: str) -> Loudspeaker | Subwoofer:
        """The loudspeaker or subwoofer called `unit_id`; KeyError if there is none."""
        return {unit.id: unit for unit in self.units}[unit_id]

    def model_of(self, unit: Loudspeaker | Subwoofer) -> LoudspeakerModel:
        """The data sheet of a loudspeaker or subwoofer; KeyError if there is none."""
        return {model.name: model for model in self.loudspeaker_models}[unit.model]

    def target_of(self, channel_id: str) -> Target:
        """The target of a channel: its own if it has one, else the job's."""
        own = (of.target for of in self.own_targets if channel_id in of.channels)
        return next(own, self.target)

    def crossover_of(self, channel_id: str) -> Crossover | None:
        """The high-pass asked for of a main channel: its own, else the job's; None: full range."""
        own = next((of for of in self.own_crossovers if channel_id in of.channels), None)
        if self.limits.full_range if own is None else own.full_range:
            return None
        return Crossover(
            side="high_pass",
            frequency_hz=self.limits.crossover_hz if own is None else own.frequency_hz,
            order=self.limits.crossover_order if own is None else own.order,
        )

    @property
    def bass_target(self) -> Target:
        """The target of the subwoofers: the LFE channel's."""
        return self.target_of(next((c.id for c in self.channels if c.role == "lfe"), ""))

    def hand(self, unit_id: str) -> ByHand:
        """What is set by hand of a unit's output; nothing, if there is nothing."""
        set_by_hand = (hand for hand in self.by_hand if hand.drives == unit_id)
        return next(set_by_hand, ByHand(drives=unit_id))


def digest(*documents: Document | tuple[Document, ...]) -> str:
    """SHA-256 of documents' contents, as 64 hex digits: equal contents, equal digest.

    What is at its default does not count: a field that a later version adds leaves the digests of
    older documents as they were, and nothing made of them is out of date.
    """
    sha = hashlib.sha256()
    for item in documents:
        for document in item if isinstance(item, tuple) else (item,):
            sha.update(document.model_dump_json(exclude_defaults=True).encode())
            sha.update(b"\n")
        sha.update(b"\f")
    return sha.hexdigest()
