"""Levels and arrivals of every channel at the main seat, and the quality of the survey."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis import arrival_s, band_level_db
from roomwright.handover.blocks import Block, Section, Table, Text
from roomwright.handover.levels import (
    LFE_MEAN_BAND_HZ,
    MEAN_BAND_HZ,
    PLAYED_DBFS,
    SPL_OF_ONE_DB,
    Levels,
    Material,
    is_lfe,
    main_column,
    ordered_channels,
)
from roomwright.handover.origin import stage_words
from roomwright.handover.wording import MISSING, english_of, number
from roomwright.layout import direction
from roomwright.measurement import ResponseSet
from roomwright.standards import labels

F = NDArray[np.float64]

_ARRIVAL_BAND_HZ = (500.0, 8000.0)
_LFE_ARRIVAL_BAND_HZ = (30.0, 120.0)

#: The worst signal-to-noise ratio is looked for in these octaves, hertz.
_NOISE_BAND_HZ = (60.0, 8500.0)


def alignment(material: Material) -> Section | None:
    """Table of distances, arrivals and levels, and table of the survey's quality."""
    blocks: list[Block] = [*_channel_table(material), *_quality_table(material)]
    return Section("Levels, arrivals and take quality", tuple(blocks)) if blocks else None


def _channel_table(material: Material) -> tuple[Block, ...]:
    result = material.result
    if result is None:
        return ()
    column = main_column(material.job, result.responses)
    if column is None:
        return (
            Text(
                "No station stands for the main seat, so levels and arrivals there are not given."
            ),
        )
    before = _readings(material, material.survey, of_channels=False)
    after = _readings(material, result, of_channels=True)
    names = [name for name in ordered_channels(material.job) if name in after]
    mains = [after[n][1] for n in names if not is_lfe(material.job, n) and np.isfinite(after[n][1])]
    mean = float(np.mean(mains)) if mains else float("nan")
    rows = tuple(_row(material, name, before.get(name), after[name], mean) for name in names)
    absolute = result.responses.absolute
    zero = "dB SPL" if absolute else "dB, relative"
    caption = (
        f"At the main seat {material.job.main_seat}, station {result.responses.stations[column]}. "
        f"Level: {zero} of noise from 500 Hz to 2 kHz (LFE: 40 to 80 Hz) as strong as a sine at "
        f"{PLAYED_DBFS:.0f} dBFS; the last column is the difference from the mean of the main "
        "channels. Arrival: crest of the first rise of the envelope from 500 Hz to 8 kHz (LFE: 30 "
        "to 120 Hz, where the filter's own delay counts). “Before” is the loudspeaker alone as "
        f"surveyed ({stage_words(material, 'survey')}), “after” is {material.result_word}. "
        "Distance: from the positions in the job."
    ).replace("-20", "−20")
    if not result.responses.timed:
        caption += " The responses have no common time zero: arrivals are not given."
    return (
        Table(
            head=(
                "Channel",
                "Name",
                "Distance, m",
                "Arrival before, ms",
                "after, ms",
                "Level before, dB",
                "after, dB",
                "off mean, dB",
            ),
            rows=rows,
            widths=(0, 1, 0, 0, 0, 0, 0, 0),
            align="llrrrrrr",
            caption=caption,
        ),
    )


def _row(
    material: Material,
    name: str,
    before: tuple[float, float] | None,
    after: tuple[float, float],
    mean_db: float,
) -> tuple[str, ...]:
    job = material.job
    channel = next(channel for channel in job.channels if channel.id == name)
    seat = job.seat(job.main_seat).position_m
    distances = [direction(seat, job.unit(s).position_m).distance_m for s in channel.loudspeakers]
    early = before or (float("nan"), float("nan"))
    return (
        name,
        labels.english(name),
        number(min(distances), 2) if distances else MISSING,
        number(1e3 * early[0], 2),
        number(1e3 * after[0], 2),
        number(early[1], 1),
        number(after[1], 1),
        MISSING if is_lfe(job, name) else number(after[1] - mean_db, 2, signed=True),
    )


def _readings(
    material: Material, levels: Levels | None, *, of_channels: bool
) -> dict[str, tuple[float, float]]:
    """Arrival (s) and level (dB) at the main seat of each channel, NaN where unknown."""
    if levels is None:
        return {}
    responses = levels.responses
    column = main_column(material.job, responses)
    if column is None:
        return {}
    sources = {
        channel.id: channel.id if of_channels else channel.loudspeakers[0]
        for channel in material.job.channels
        if of_channels or channel.loudspeakers
    }
    read: dict[str, tuple[float, float]] = {}
    for lfe in (False, True):
        rows = {
            name: responses.sources.index(source)
            for name, source in sources.items()
            if is_lfe(material.job, name) == lfe
            and source in responses.sources
            and responses.present[responses.sources.index(source), column]
        }
        if rows:
            samples = responses.samples[list(rows.values()), column]
            arrivals, heard = _read(samples, responses, lfe=lfe)
            read |= dict(zip(rows, zip(arrivals, heard, strict=True), strict=True))
    return read


def _read(
    samples: NDArray[np.float32], responses: ResponseSet, *, lfe: bool
) -> tuple[list[float], list[float]]:
    rate = responses.sampling_rate_hz
    band = LFE_MEAN_BAND_HZ if lfe else MEAN_BAND_HZ
    levels = band_level_db(samples, rate, *band) + (SPL_OF_ONE_DB if responses.absolute else 0.0)
    if not responses.timed:
        return [float("nan")] * len(samples), levels.tolist()
    arrivals: F = arrival_s(samples, rate, _LFE_ARRIVAL_BAND_HZ if lfe else _ARRIVAL_BAND_HZ)
    return arrivals.tolist(), levels.tolist()


def _quality_table(material: Material) -> tuple[Block, ...]:
    survey = material.content.survey
    if survey is None:
        return ()
    shown = (survey.octave_hz > _NOISE_BAND_HZ[0]) & (survey.octave_hz < _NOISE_BAND_HZ[1])
    subwoofers = {subwoofer.id for subwoofer in material.job.subwoofers}
    order = [*labels.label_order(s for s in survey.sources if s not in subwoofers)]
    order += [source for source in survey.sources if source in subwoofers]
    rows = []
    for source in order:
        row = survey.sources.index(source)
        if not survey.present[row].any():
            continue
        bands = (survey.octave_hz < 100.0) & (survey.octave_hz > 25.0)
        used = bands if source in subwoofers else shown
        ratio = survey.signal_to_noise_db[row][survey.present[row]][:, used]
        orders = _median(survey.distortion_db[row])
        total = 100.0 * np.sqrt(np.nansum(10.0 ** (orders / 10.0)))
        low, high = _trusted(survey, row)
        rows.append(
            (
                source,
                english_of(material.job, source),
                str(int(survey.present[row].sum())),
                f"{low} to {high}",
                number(float(np.nanmin(ratio)) if np.isfinite(ratio).any() else None, 0),
                *(number(level, 0) for level in orders),
                number(total, 2) if np.isfinite(orders).any() else MISSING,
            )
        )
    head: tuple[str, ...] = ("Source", "Name", "Takes", "Trusted, Hz", "S/N, dB")
    distortion = "no harmonic of the sweep stood clear of the noise"
    if np.isfinite(survey.distortion_db).any():
        head = (*head, "2nd, dB", "3rd, dB", "4th, dB", "5th, dB", "Total, %")
        distortion = (
            "harmonics of order 2 to 5 re the fundamental, separated by the sweep, median over "
            f"stations, at the level of the sweep ({number(material.job.sweep.level_dbfs, 0)} "
            "dBFS) only; total is their power sum"
        )
    caption = (
        "What the survey's takes are worth. Trusted band: where the response stands clear of its "
        "noise, median over stations. S/N: worst octave at the worst station, 63 Hz to 8 kHz "
        f"(subwoofers: 31.5 and 63 Hz). Distortion: {distortion}. "
        f"Computed from {stage_words(material, 'survey')}."
    )
    return (
        Table(
            head=head,
            rows=tuple(row[: len(head)] for row in rows),
            widths=tuple(int(name == "Name") for name in head),
            align="llrrrrrrrr"[: len(head)],
            caption=caption,
        ),
    )


def _median(distortion_db: F) -> F:
    """Median over stations of each order, NaN where no station knows it."""
    known = [column[np.isfinite(column)] for column in distortion_db.T]
    return np.array([np.median(values) if values.size else np.nan for values in known])


def _trusted(survey: ResponseSet, row: int) -> tuple[str, str]:
    trusted = survey.trusted_hz[row][survey.present[row]]
    trusted = trusted[trusted[:, 1] > trusted[:, 0]]
    if not trusted.size:
        return MISSING, MISSING
    low, high = np.median(trusted, axis=0)
    return f"{low:.0f}", f"{high:.0f}"
