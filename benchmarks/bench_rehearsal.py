"""Processor time of the rehearsal room: a 7.4.4 cinema surveyed and proved at 12 places."""

from __future__ import annotations

import time

import numpy as np

from roomwright.model import (
    Channel,
    Crossover,
    Job,
    Loudspeaker,
    LoudspeakerModel,
    Output,
    OutputTuning,
    Room,
    Seat,
    Subwoofer,
    Surface,
    Sweep,
    Tuning,
)
from roomwright.rehearsal import RehearsalRoom, box_of, render, room_responses
from roomwright.rehearsal.chain import emitter_of
from roomwright.signals import excitation

PLACES = [(1.6 + 1.0 * column, 4.4 + 1.4 * row, 1.2) for row in range(2) for column in range(4)]
PLACES += [(3.1 + dx, 5.8 + dy, 1.2) for dx in (-0.2, 0.2) for dy in (-0.2, 0.2)]


def surface(*absorption: float) -> Surface:
    return Surface(material="of the benchmark", absorption=absorption)


def cinema() -> Job:
    """Eleven loudspeakers and four subwoofers in 6.2 x 7.6 x 2.9 m, with bass management."""
    wall = surface(0.20, 0.20, 0.15, 0.15, 0.20, 0.25, 0.30, 0.30)
    room = Room(
        outline_m=((0, 0), (6.2, 0), (6.2, 7.6), (0, 7.6)),
        height_m=2.9,
        floor=surface(0.10, 0.12, 0.20, 0.40, 0.50, 0.60, 0.60, 0.60),
        ceiling=surface(0.30, 0.40, 0.50, 0.60, 0.70, 0.70, 0.70, 0.70),
        walls=(wall,) * 4,
    )
    main = LoudspeakerModel(
        name="main", sensitivity_db=87, maximum_level_db=108, low_hz=55, high_hz=21000
    )
    subwoofer = LoudspeakerModel(
        name="subwoofer",
        sensitivity_db=90,
        maximum_level_db=115,
        low_hz=22,
        high_hz=250,
        low_slope_db=24,
        directivity="omni",
    )
    spots = [
        *((1.4, 0.15, 1.3), (3.1, 0.15, 1.3), (4.8, 0.15, 1.3), (0.15, 5.8, 1.3), (6.05, 5.8, 1.3)),
        *((1.0, 7.45, 1.3), (5.2, 7.45, 1.3)),
        *((1.6, 3.4, 2.8), (4.6, 3.4, 2.8), (1.6, 7.0, 2.8), (4.6, 7.0, 2.8)),
    ]
    loudspeakers = tuple(
        Loudspeaker(id=f"L{number}", model="main", position_m=spot, aim_m=(3.1, 5.8, 1.2))
        for number, spot in enumerate(spots, start=1)
    )
    subwoofers = tuple(
        Subwoofer(id=f"SW{number}", model="subwoofer", position_m=spot)
        for number, spot in enumerate(
            [(3.1, 0.4, 0.25), (3.1, 7.2, 0.25), (0.4, 3.8, 0.25), (5.8, 3.8, 0.25)], start=1
        )
    )
    units = (*loudspeakers, *subwoofers)
    channels = tuple(
        Channel(id=unit.id, role="front", loudspeakers=(unit.id,)) for unit in loudspeakers
    )
    low_pass = Crossover(side="low_pass", frequency_hz=80)
    high_pass = Crossover(side="high_pass", frequency_hz=80)
    tuning = Tuning(
        outputs=tuple(
            OutputTuning(
                drives=unit.id,
                trim_db=-3.0,
                delay_s=0.001 * number,
                crossovers=(high_pass,) if number < len(loudspeakers) else (),
            )
            for number, unit in enumerate(units)
        ),
        bass_low_pass=low_pass,
        based_on="0" * 64,
    )
    return Job(
        name="benchmark",
        room=room,
        seats=(Seat(id="R2-2", position_m=(3.1, 5.8, 1.2)),),
        main_seat="R2-2",
        layout="7.4.4",
        loudspeaker_models=(main, subwoofer),
        loudspeakers=loudspeakers,
        subwoofers=subwoofers,
        channels=(*channels, Channel(id="LFE1", role="lfe")),
        outputs=tuple(
            Output(number=number, drives=unit.id) for number, unit in enumerate(units, start=1)
        ),
        sweep=Sweep(duration_s=2.9),
        tuning=tuning,
    )


def main() -> None:
    job = cinema()
    signal = excitation(job.sweep, job.sampling_rate_hz)

    box = box_of(job.room, job.sampling_rate_hz)
    emitters = [emitter_of(job, unit) for unit in (*job.loudspeakers, *job.subwoofers)]
    start = time.process_time()
    for place in PLACES:
        room_responses(box, emitters, place, 1)
    responses_s = time.process_time() - start
    pairs = len(PLACES) * len(emitters)
    print(f"{pairs} room responses of {box.length} samples: {responses_s:.2f} s,")
    print(f"  {responses_s / pairs * 1e3:.1f} ms each, crossover {box.crossover_hz:.0f} Hz")

    start = time.process_time()
    room = RehearsalRoom(job)
    takes = 0
    for place in PLACES:
        room.place_microphone(place)
        for output in job.outputs:
            room.play_and_record({output.number: signal})
            takes += 1
    survey_s = time.process_time() - start
    print(f"survey: {takes} takes of {signal.size / job.sampling_rate_hz:.1f} s: {survey_s:.2f} s,")
    print(f"  {survey_s / takes * 1e3:.1f} ms a take, room responses included")

    start = time.process_time()
    rendered = {channel.id: render(job, channel.id, signal) for channel in job.channels}
    render_s = time.process_time() - start
    print(f"processor: {len(rendered)} channels rendered: {render_s:.2f} s")

    start = time.process_time()
    takes = 0
    for place in PLACES:
        room.place_microphone(place)
        for signals in rendered.values():
            recording = room.play_and_record(signals)
            assert np.isfinite(recording.samples).all()
            takes += 1
    proof_s = time.process_time() - start
    print(f"proof: {takes} takes: {proof_s:.2f} s, {proof_s / takes * 1e3:.1f} ms a take")
    print(f"survey and proof together: {survey_s + render_s + proof_s:.2f} s")


if __name__ == "__main__":
    main()
