"""All that a single take tells of its own quality, in the order of what explains the rest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.measurement.alignment import AcousticReference
from roomwright.measurement.measured_response import MeasuredResponse
from roomwright.measurement.microphone import CalibrationCurve
from roomwright.measurement.quality import level, motion, stream
from roomwright.measurement.quality.around import free_cells
from roomwright.measurement.quality.cells import noise_cells
from roomwright.measurement.quality.events import event_around, unsteady
from roomwright.measurement.quality.orders import total_distortion_db
from roomwright.measurement.quality.rattles import rattles_above
from roomwright.measurement.takes import Divided, divided, noise_in, response_of
from roomwright.model import Diagnosis, Sweep
from roomwright.signals import timeline

_Samples = NDArray[np.floating]


@dataclass(frozen=True, slots=True, eq=False)
class JudgedTake:
    """A take's response, None if it cannot be used, and what is wrong with it, gravest first."""

    measured: MeasuredResponse | None
    diagnoses: tuple[Diagnosis, ...]


def judge_take(
    microphone: _Samples,
    reference: _Samples | None,
    sweep: Sweep,
    sampling_rate_hz: int,
    *,
    band_hz: tuple[float, float],
    background_rms: float | None = None,
    acoustic: AcousticReference | None = None,
    curve: CalibrationCurve | None = None,
    sensitivity_pa: float | None = None,
    length_s: float = 1.0,
    where: str = "the take",
) -> JudgedTake:
    """Measure a take and judge it at once.

    Parameters
    ----------
    microphone, reference, sweep, sampling_rate_hz, acoustic, curve, sensitivity_pa, length_s, where
        As for `response_from_take`.
    band_hz
        The range that what was played is made for.
    background_rms
        Of the microphone's samples while nothing was played, if that was recorded.

    Raises
    ------
    InputError
        If the take cannot be used for a reason that is none of the diagnoses.
    """
    refused = unusable(microphone, reference, sweep, sampling_rate_hz)
    refused = refused or level.under_the_room(microphone, background_rms)
    if refused is not None:
        return JudgedTake(None, (refused,))
    try:
        whole = divided(
            microphone,
            reference,
            sweep,
            sampling_rate_hz,
            acoustic=acoustic,
            curve=curve,
            sensitivity_pa=sensitivity_pa,
            where=where,
        )
        measured = response_of(whole, length_s=length_s, band_hz=band_hz)
    except InputError:
        wrong = stream.wrong_rate(_pilot_holder(microphone, reference), sweep, sampling_rate_hz)
        if wrong is None:
            raise
        return JudgedTake(None, (wrong,))
    found = _judged(whole, measured, microphone, reference, band_hz, background_rms)
    refuses = any(diagnosis.refuses for diagnosis in found)
    return JudgedTake(None if refuses else measured, found)


def _pilot_holder(microphone: _Samples, reference: _Samples | None) -> _Samples:
    return microphone if reference is None else reference


def unusable(
    microphone: _Samples, reference: _Samples | None, sweep: Sweep, rate: int
) -> Diagnosis | None:
    """What need not be deconvolved to be seen."""
    places = timeline(sweep, rate)
    found = level.clipped(microphone, min(places.sweep_stop, microphone.size))
    if found is not None:
        return found
    if microphone.size < places.sweep_stop:
        return stream.wrong_rate(_pilot_holder(microphone, reference), sweep, rate)
    return stream.frozen_samples(microphone, rate)


def _judged(
    take: Divided,
    measured: MeasuredResponse,
    microphone: _Samples,
    reference: _Samples | None,
    band_hz: tuple[float, float],
    background_rms: float | None,
) -> tuple[Diagnosis, ...]:
    sweep, rate = take.sweep, take.sampling_rate_hz
    samples = measured.response.samples
    if reference is not None:
        broken = stream.broken_stream(reference, take.alignment, sweep, rate)
        if broken is not None:
            wrong = stream.wrong_rate(reference, sweep, rate)
            return (wrong or broken,)
    apart = stream.pilots_apart(_pilot_holder(microphone, reference), take.alignment, sweep, rate)
    if apart is not None:
        return (apart,)
    own = level.own_octaves(band_hz, sweep)
    if not level.heard(take.circle, noise_in(take, samples.size), samples.size, rate, own):
        wrong = None if reference is not None else stream.wrong_rate(microphone, sweep, rate)
        return (wrong or level.nothing_heard(microphone, background_rms),)
    cable = stream.wrong_input(take.circle, sweep, rate)
    if cable is not None:
        return (cable,)
    unsound = unsteady(noise_cells(take.circle, sweep, rate), measured.distortion_db)
    if unsound is None and reference is not None:
        unsound = rattles_above(microphone, take.alignment, sweep, rate)
    if unsound is None:
        # With a loop-back nobody but the source may have played the pilots.
        alone = reference is not None
        free = free_cells(microphone, take.alignment, sweep, rate, alone=alone)
        distortion_db = measured.distortion_db
        unsound = event_around(
            free.cells, free.harmonics(distortion_db), total_distortion_db(distortion_db)
        )
    found = (
        # Another loudspeaker may have played the pilots.
        motion.moved(microphone, take.alignment, sweep, rate, sweep.pilot_band_hz or band_hz),
        unsound,
        level.over_noise(measured.signal_to_noise_db, own, microphone),
    )
    return tuple(diagnosis for diagnosis in found if diagnosis is not None)
