"""What is loaded into the processor, output by output."""

from __future__ import annotations

import numpy as np

from roomwright.handover import svg
from roomwright.handover.bass_management import redirected
from roomwright.handover.blocks import Figure, Section, Table, Text
from roomwright.handover.levels import Material
from roomwright.handover.listening_modes import tuning_of
from roomwright.handover.mains_and_bass import sound_and_picture
from roomwright.handover.plots import Curve, Plot, draw
from roomwright.handover.settings import tuned_outputs
from roomwright.handover.svg import Drawing, Stroke
from roomwright.handover.wording import (
    MISSING,
    biquad,
    channels_of,
    crossover,
    english_of,
    number,
    short_crossover,
)
from roomwright.model import FirCurve, Job, OutputTuning
from roomwright.signals import amplitude_db, log_frequencies
from roomwright.standards import labels
from roomwright.tuning import output_response

_RANGE_HZ = (20.0, 20000.0)
_GAIN = Stroke(svg.BLUE, 1.2)


def outputs(material: Material) -> Section | None:
    """Table of the settings and table of the filters; None without a tuning."""
    job = material.job
    if job.tuning is None:
        return None
    tuned = tuned_outputs(job)
    rows = []
    for place, settings, is_tuned in tuned:
        iec = [labels.iec_label(c, job.layout) or "" for c in channels_of(job, settings.drives)]
        rows.append(
            (
                str(place),
                settings.drives,
                " ".join(iec) or MISSING,
                english_of(job, settings.drives),
                number(settings.trim_db, 1, signed=True) if is_tuned else "not tuned",
                number(1e3 * settings.delay_s, 3),
                "inverted" if settings.inverted else "normal",
                "; ".join(short_crossover(c) for c in settings.crossovers) or "none",
            )
        )
    settings_table = Table(
        head=(
            "Output",
            "Drives",
            "IEC 62574",
            "Name",
            "Trim, dB",
            "Delay, ms",
            "Polarity",
            "Crossover",
        ),
        rows=tuple(rows),
        widths=(0, 0, 0, 1, 0, 0, 0, 0),
        align="rlllrrll",
        caption="Settings of every output, as in settings.csv. LR4 is a Linkwitz-Riley filter of "
        "order 4 (24 dB/octave), B a Butterworth filter. Computed by the tuning from the survey, "
        "rounded to the processor's steps.",
    )
    filters = Table(
        head=("Output", "Drives", "Filters"),
        rows=tuple((str(n), s.drives, _filters(s)) for n, s, _ in tuned),
        widths=(0, 0, 1),
        align="rll",
        caption="Equaliser filters in the order of the signal, by the Audio EQ Cookbook. Their "
        f"coefficients at {job.sampling_rate_hz / 1000:g} kHz stand in biquads.csv, crossovers "
        "included; FIR taps stand in WAV files, one for each output.",
    )
    drawn = Figure(
        tuple(_drawn(job, place, settings) for place, settings, _ in tuned),
        "What each output's processing does to the level: crossovers, filters and trim together, "
        "computed from the settings above.",
        columns=3,
        may_break=True,
    )
    timing = sound_and_picture(job)
    opening = (*_bass_management(material), *((Text(timing),) if timing else ()))
    return Section("Settings", (*opening, settings_table, filters, drawn))


def _drawn(job: Job, place: int, settings: OutputTuning) -> Drawing:
    frequency = log_frequencies(_RANGE_HZ[0], min(_RANGE_HZ[1], 0.45 * job.sampling_rate_hz), 24)
    level = amplitude_db(output_response(settings, frequency, job.sampling_rate_hz))
    plot = Plot(
        title=f"{place}  {settings.drives}",
        y_label="gain, dB",
        curves=(Curve(frequency, np.maximum(level, -200.0), _GAIN),),
        range_hz=_RANGE_HZ,
        range_y=(-30.0, 10.0),
        width_pt=156.0,
        height_pt=78.0,
        has_x_label=False,
    )
    return draw(plot, f"Gain over frequency of output {place}, which drives {settings.drives}.")


def _filters(settings: OutputTuning) -> str:
    parts = [biquad(section) for section in settings.biquads]
    if settings.fir is not None:
        kind = "minimum phase" if isinstance(settings.fir, FirCurve) else "of the bass"
        parts.append(f"FIR, {kind}, {settings.fir.taps} taps")
    return ";  ".join(parts) or "none"


def _bass_management(material: Material) -> tuple[Text | Table, ...]:
    tuning = tuning_of(material.job)
    if not material.job.subwoofers:
        return (Text("There is no subwoofer: every channel keeps its own bass."),)
    lfe = f"{number(tuning.lfe_gain_db, 0, signed=True)} dB"
    if tuning.bass_low_pass is None:
        text = "The main channels keep their bass; the subwoofers play the LFE channel alone"
        return (Text(f"{text}, at {lfe}."),)
    by_filters = redirected(material.job)
    if len(by_filters) == 1:
        return (
            Text(
                "Bass management: the main channels are summed, pass a "
                f"{crossover(tuning.bass_low_pass)} filter and go to every subwoofer output; the "
                f"LFE channel joins them at {lfe} re a main channel."
            ),
        )
    text = (
        "Bass management: the channels do not all hand their bass over at one frequency. Each "
        "passes the low-pass of its row before they are summed and go to every subwoofer output; "
        f"the LFE channel joins them at {lfe} re a main channel."
    )
    rows = tuple(
        (
            ", ".join(alike.channels),
            "; ".join(short_crossover(c) for c in alike.high_passes) or "none: full range",
            "none: keeps its bass" if alike.low_pass is None else short_crossover(alike.low_pass),
        )
        for alike in by_filters
    )
    table = Table(
        head=("Channels", "In their outputs", "Before the sum to the subwoofers"),
        rows=rows,
        widths=(1, 0, 0),
        align="lll",
        caption="Crossovers to the subwoofers, channel by channel.",
    )
    return (Text(text), table)
