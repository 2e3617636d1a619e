"""Settings and filters as files that a processor's owner can read or load."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from roomwright.handover.bass_management import low_passes, redirected_objects
from roomwright.handover.listening_modes import mode_object, tuning_of
from roomwright.handover.wording import channels_of, crossover, english_of
from roomwright.model import Biquad, ByHand, FirCurve, Job, Output, OutputTuning
from roomwright.signals import coefficients, crossover_biquads
from roomwright.signals.fir import fir_taps
from roomwright.standards import labels
from roomwright.tuning import latency, sections_of

#: What names the row of the filter that stands before the subwoofer outputs.
BASS = "bass management"

_SETTINGS_COLUMNS = (
    "output",
    "drives",
    "label_bs2051",
    "label_iec62574",
    "english",
    "connection",
    "output_name",
    "tuned",
    "trim_db",
    "delay_ms",
    "polarity",
    "crossover",
    "redirected_bass",
    "biquads",
    "fir_taps",
)
_BIQUAD_COLUMNS = (
    "output",
    "drives",
    "section",
    "part",
    "kind",
    "frequency_hz",
    "gain_db",
    "q",
    "b0",
    "b1",
    "b2",
    "a1",
    "a2",
)


class TunedOutput(NamedTuple):
    """An output's number and settings; where it was not tuned the settings change nothing."""

    number: int
    settings: OutputTuning
    is_tuned: bool


def tuned_outputs(job: Job) -> tuple[TunedOutput, ...]:
    """Every output of a job, by number.

    Raises
    ------
    InputError
        If the job has no tuning.
    """
    tuned = {settings.drives: settings for settings in tuning_of(job).outputs}
    return tuple(
        TunedOutput(
            output.number,
            tuned.get(output.drives, OutputTuning(drives=output.drives)),
            output.drives in tuned,
        )
        for output in sorted(job.outputs, key=lambda output: output.number)
    )


def settings_csv(job: Job) -> str:
    """One row for each output: what it drives and its trim, delay, polarity and filters.

    Raises
    ------
    InputError
        If the job has no tuning.
    """
    rows = [_settings_row(job, output) for output in tuned_outputs(job)]
    return _csv(_SETTINGS_COLUMNS, rows)


def biquads_csv(job: Job) -> str:
    """One row for each second-order section, crossovers included, with its coefficients.

    The first lines, marked `#`, state the convention. The filters of the redirected bass stand
    last, without an output number; where there are several, each names its channels.

    Raises
    ------
    InputError
        If the job has no tuning, or a filter does not fit the sampling rate.
    """
    rate = job.sampling_rate_hz
    rows: list[tuple[object, ...]] = []
    for number, tuned, _ in tuned_outputs(job):
        sections = [("crossover", s) for c in tuned.crossovers for s in crossover_biquads(c)]
        kept = job.hand(tuned.drives).biquads
        with_bass = len(tuned.biquads) - len(sections_of(job, tuned))
        parts = ("equaliser, by hand", "equaliser", "alignment with the bass")
        sections += [
            (parts[(place >= len(kept)) + (place >= with_bass)], section)
            for place, section in enumerate(tuned.biquads)
        ]
        rows += _section_rows(number, tuned.drives, sections, rate)
    filters = low_passes(job)
    for low_pass, channels in filters.items():
        sections = [("redirected bass", section) for section in crossover_biquads(low_pass)]
        whose = BASS if len(filters) == 1 else f"{BASS} of {' '.join(channels)}"
        rows += _section_rows("", whose, sections, rate)
    heading = (
        f"# sampling rate {rate} Hz; H(z) = (b0 + b1/z + b2/z^2) / (1 + a1/z + a2/z^2)\n"
        "# where a processor adds its feedback terms, enter a1 and a2 with their signs changed\n"
    )
    return heading + _csv(_BIQUAD_COLUMNS, rows)


def settings_json(job: Job) -> str:
    """The whole tuning as one JSON object, with the conventions it follows.

    Raises
    ------
    InputError
        If the job has no tuning.
    """
    tuning = tuning_of(job)
    settings = {
        "job": job.name,
        "processor": job.processor.name,
        "sampling_rate_hz": job.sampling_rate_hz,
        "conventions": {
            "trim_db": "gain of the output, dB",
            "delay_ms": "delay of the output, milliseconds",
            "inverted": "true where the output's polarity is reversed",
            "crossovers": "order 4 is 24 dB/octave; Linkwitz-Riley sides of order 4 and 8 add up "
            "to an all-pass",
            "biquads": "kind, frequency, gain and Q by the Audio EQ Cookbook; "
            "coefficients stand in biquads.csv",
            "fir": "at the sampling rate, minimum phase unless of the bass, where each output has "
            "its own phase; taps stand in the WAV and CSV files named",
            "listening_modes": "each adds its shelves and its trim change to every output; whole "
            "settings stand in the folder named",
            "by_hand": "what the engineer changed of the computed settings, contained in them",
            "sound_and_picture": "how long after its signal the sound is at the main seat, with "
            "the way through the air and without converters; delay the picture by as much",
            "bass_management": "each main channel passes the low_pass of its entry in redirected "
            "and is then added to every subwoofer output, one with null is not; the LFE channel "
            "is added with lfe_gain_db",
        },
        "bass_management": {
            "redirected": redirected_objects(job),
            "lfe_gain_db": tuning.lfe_gain_db,
        },
        "sound_and_picture": _latency_object(job),
        "outputs": [_settings_object(job, output) for output in tuned_outputs(job)],
        "target": job.target.model_dump(),
        "own_targets": [own.model_dump() for own in job.own_targets],
        "listening_modes": [mode_object(job, mode) for mode in job.modes],
        "based_on": tuning.based_on,
    }
    return json.dumps(settings, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def fir_taps_by_output(job: Job) -> dict[str, NDArray[np.float32]]:
    """Taps (n,) of every output with an FIR filter, by a name that is safe as a file's.

    Raises
    ------
    InputError
        If the job has no tuning.
    """
    return {
        fir_name(number, tuned): fir_taps(tuned.fir, job.sampling_rate_hz).astype(np.float32)
        for number, tuned, _ in tuned_outputs(job)
        if tuned.fir is not None
    }


def taps_csv(taps: NDArray[np.float32], sampling_rate_hz: int) -> str:
    """Taps (n,) as text: one a line behind a heading that states the sampling rate."""
    rows = "\n".join(f"{float(tap):.9g}" for tap in taps)
    return f"# FIR taps at {sampling_rate_hz} Hz\ntap\n{rows}\n"


def fir_name(number: int, tuned: OutputTuning) -> str:
    """Name of the file with an output's taps, without its ending."""
    return f"output-{number:02d}-{tuned.drives}"


def _physical(job: Job, number: int) -> Output:
    return next(output for output in job.outputs if output.number == number)


def _settings_row(job: Job, output: TunedOutput) -> tuple[object, ...]:
    number, tuned, is_tuned = output
    channels = channels_of(job, tuned.drives)
    iec = [labels.iec_label(channel, job.layout) or "" for channel in channels]
    physical = _physical(job, number)
    return (
        number,
        tuned.drives,
        " ".join(channels),
        " ".join(iec),
        english_of(job, tuned.drives),
        physical.connection,
        physical.name,
        "yes" if is_tuned else "no",
        round(tuned.trim_db, 4),
        round(1e3 * tuned.delay_s, 6),
        "inverted" if tuned.inverted else "normal",
        "; ".join(crossover(c) for c in tuned.crossovers),
        _redirected_of(job, channels),
        len(tuned.biquads),
        0 if tuned.fir is None else tuned.fir.taps,
    )


def _redirected_of(job: Job, channels: tuple[str, ...]) -> str:
    """What the bass of a loudspeaker's channels passes to the subwoofers; empty for these."""
    tuning = tuning_of(job)
    filters = dict.fromkeys(tuning.low_pass_of(channel) for channel in channels)
    return "; ".join("none: keeps its bass" if low is None else crossover(low) for low in filters)


def _settings_object(job: Job, output: TunedOutput) -> dict[str, Any]:
    number, tuned, is_tuned = output
    physical = _physical(job, number)
    return {
        "number": number,
        "drives": tuned.drives,
        "connection": physical.connection,
        "name": physical.name,
        "channels": [
            {
                "bs2051": channel,
                "iec62574": labels.iec_label(channel, job.layout),
                "english": labels.english(channel),
            }
            for channel in channels_of(job, tuned.drives)
        ],
        "tuned": is_tuned,
        "by_hand": _by_hand_object(job, tuned.drives),
        "trim_db": tuned.trim_db,
        "delay_ms": round(1e3 * tuned.delay_s, 6),
        "inverted": tuned.inverted,
        "crossovers": [c.model_dump() for c in tuned.crossovers],
        "biquads": [section.model_dump() for section in tuned.biquads],
        "fir": None
        if tuned.fir is None
        else {
            "taps": tuned.fir.taps,
            "phase": "minimum" if isinstance(tuned.fir, FirCurve) else "of the bass",
            "file": f"fir/{fir_name(number, tuned)}.wav",
            "text_file": f"fir/{fir_name(number, tuned)}.csv",
        },
    }


def _latency_object(job: Job) -> dict[str, float] | None:
    late = latency(job, tuning_of(job))
    if late is None:
        return None
    return {
        "sound_after_picture_ms": round(1e3 * late.sound_after_picture_s, 3),
        "of_that_by_settings_ms": round(1e3 * late.settings_s, 3),
        "main_channels_wait_for_bass_ms": round(1e3 * late.waiting_s, 3),
    }


def _by_hand_object(job: Job, drives: str) -> dict[str, Any] | None:
    hand = job.hand(drives)
    if hand == ByHand(drives=drives):
        return None
    return {
        "trim_change_db": hand.trim_change_db,
        "delay_change_ms": round(1e3 * hand.delay_change_s, 6),
        "polarity_reversed": hand.flipped,
        "biquads": len(hand.biquads),
        "solver_adds_biquads": not hand.no_more_biquads,
    }


def _section_rows(
    number: object, drives: str, sections: list[tuple[str, Biquad]], rate: int
) -> Iterator[tuple[object, ...]]:
    for place, (part, section) in enumerate(sections, start=1):
        b0, b1, b2, _, a1, a2 = coefficients(section, rate).tolist()
        yield (
            number,
            drives,
            place,
            part,
            section.kind,
            section.frequency_hz,
            section.gain_db,
            section.q,
            b0,
            b1,
            b2,
            a1,
            a2,
        )


def _csv(columns: tuple[str, ...], rows: list[tuple[object, ...]]) -> str:
    written = io.StringIO()
    writer = csv.writer(written, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return written.getvalue()
