"""The order of work of a survey: station by station, source by source."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from roomwright._progress import Progress, silent
from roomwright.measurement.device import Device, Recording
from roomwright.model import Station, Sweep
from roomwright.signals import excitation


def survey(
    device: Device,
    stations: Sequence[Station],
    outputs: Mapping[str, int | Mapping[int, NDArray[np.float32]]],
    sweep: Sweep,
    *,
    place: Callable[[Station], None],
    on_take: Callable[[str, str, Recording], None],
    progress: Progress = silent,
) -> None:
    """Play every source at every station and hand each recording on as soon as it is made.

    The microphone is moved once for each station. Nothing is kept here: whatever was handed to
    `on_take` before a cancellation stays with who took it.

    Parameters
    ----------
    device
        What plays and records.
    stations
        In the order in which they are visited.
    outputs
        Source to the number of the output that plays the sweep, or to ready signals by output
        number, played together.
    sweep
        What is played.
    place
        Called before the takes of a station: moves the microphone, or asks for it.
    on_take
        Called with source, station's name and recording.
    progress
        Told before each take; may raise `Cancelled`.
    """
    signal = excitation(sweep, device.sampling_rate_hz)
    count = len(stations) * len(outputs)
    done = 0
    for station in stations:
        place(station)
        for source, output in outputs.items():
            progress(done / count, f"{source} at {station.id}")
            signals = {output: signal} if isinstance(output, int) else output
            on_take(source, station.id, device.play_and_record(signals))
            done += 1
    progress(1.0, "survey done")
