"""The bass of a channel in figures: evenness, level, decay, what lingers, group delay, modes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.analysis import BassFigures, bass_figures
from roomwright.handover.blocks import Block, Section, Table, Text
from roomwright.handover.levels import (
    SPL_OF_ONE_DB,
    Levels,
    Material,
    main_column,
    seat_columns,
)
from roomwright.handover.wording import hertz, number
from roomwright.measurement import ResponseSet
from roomwright.model import Job
from roomwright.signals import nominal_words
from roomwright.standards import labels
from roomwright.standards.decay import decay_limit_s

F = NDArray[np.float64]

Rows = tuple[tuple[str, ...], ...]

#: What each figure is, by whom it was defined, and on what condition it holds.
DEFINITIONS: Final = (
    "Variance: of the level over seats, mean over frequency, dB² (mean spatial variance, Welti and "
    "Devantier, JAES 54(5), 2006, from memory). Highest less lowest: over seats, mean over "
    "frequency. Level: mean over seats and frequency, of a sine 20 dB below full scale. Over "
    "frequency: standard deviation of the mean over seats. All from powers in 1/24 octave. After "
    "100 ms: energy later than that after the arrival re all of it, at the worst seat; at the low "
    "end the band itself smears as much. Group delay: departure from its median over the band re "
    "what is held to be unheard (one period up to 100 Hz, 6 ms to 250 Hz; engineering rule, from "
    "memory), the largest, of the median seat, from powers in 1/6 octave."
)

DECAY_WORDS: Final = (
    "Decay: time for 60 dB in third octaves (T20, ISO 3382-1:2009, 5.3.3), median over the seats "
    "where 35 dB over the noise and a straight line allow it. Shortest: what the band's filter can "
    "read at all (2 / bandwidth). Line: above it decays are heard in music and test sounds "
    "(published listening tests, from memory); none is known outside its range."
)

_MODE_WORDS: Final = (
    "Modes: decaying tones common to all seats, fitted to the responses after the direct sound "
    "(ESPRIT; Roy and Kailath 1989, from memory), the {count} strongest. Level at the main seat "
    "re the strongest mode there, and highest less lowest over the seats. They leave {misfit} dB "
    "of the energy unexplained; above −10 dB they are not to be trusted."
)

#: So many modes are listed, and none so much softer than the strongest, dB.
_MOST_MODES, _SOFTEST_DB = 8, 25.0


def figures_of_channel(
    responses: ResponseSet, source: str, columns: Sequence[int], band_hz: tuple[float, float]
) -> BassFigures | None:
    """Figures of one source over some stations; None where they cannot be had."""
    if source not in responses.sources:
        return None
    row = responses.sources.index(source)
    present = [column for column in columns if responses.present[row, column]]
    try:
        return bass_figures(
            responses.samples[row, present].astype(np.float64),
            responses.sampling_rate_hz,
            band_hz,
        )
    except InputError:
        return None


def bass_columns(job: Job, responses: ResponseSet) -> tuple[int, ...]:
    """Columns of the stations that the bass is judged over: the seats', all if they are too few."""
    seats = seat_columns(job, responses)
    return seats if len(seats) > 1 else tuple(range(len(responses.stations)))


def figure_rows(all_figures: Sequence[BassFigures], *, absolute: bool) -> Rows:
    """A row a figure: its name, then its value in each of the sets."""
    zero_db = SPL_OF_ONE_DB if absolute else 0.0
    unit = "dB SPL" if absolute else "dB"

    def row(name: str, values: Sequence[str]) -> tuple[str, ...]:
        return (name, *values)

    each = list(all_figures)
    evenness = [one.evenness for one in each]
    return (
        row(
            "Variance over seats, dB²",
            [number(float(e.mean_spatial_variance_db2), 1) for e in evenness],
        ),
        row("Highest less lowest seat, dB", [number(float(e.range_db), 1) for e in evenness]),
        row(
            f"Level, {unit}",
            [number(float(e.mean_output_level_db) + zero_db, 1) for e in evenness],
        ),
        row("Over frequency, dB", [number(float(e.flatness_db), 1) for e in evenness]),
        row("After 100 ms, dB", [number(float(one.late_db.max()), 1) for one in each]),
        row("Group delay re threshold", [_delay_words(one) for one in each]),
    )


def decay_rows(all_figures: Sequence[BassFigures]) -> Rows:
    """A row a third octave: its name, the decay in each set, the shortest readable, the line."""
    first = all_figures[0].decay
    lines = decay_limit_s(first.mid_hz)
    return tuple(
        (
            nominal_words(float(mid), 3),
            *(number(_median_s(one, band), 2) for one in all_figures),
            number(float(first.analysis_limit_s[band]), 2),
            number(float(lines[band]), 2),
        )
        for band, mid in enumerate(first.mid_hz)
    )


def mode_rows(figures: BassFigures, main: int | None) -> Rows:
    """A row a mode: frequency, decay, level at the main seat, difference over seats.

    `main` is the main seat's row among those of the figures; None if it is not there.
    """
    modes = figures.modes
    if modes is None or not modes.frequency_hz.size:
        return ()
    # Below the band nothing but noise and the ends of the responses are left to fit.
    loudest = np.where(modes.frequency_hz < figures.band_hz[0], -np.inf, modes.level_db.max(axis=0))
    if not np.isfinite(loudest).any():
        return ()
    order = np.argsort(-loudest)[:_MOST_MODES]
    kept = np.sort(order[loudest[order] > loudest.max() - _SOFTEST_DB])
    return tuple(
        (
            hertz(float(modes.frequency_hz[mode])),
            number(float(modes.decay_time_s[mode]), 2),
            number(None if main is None else _re_strongest_db(modes.level_db[main], mode, kept), 0),
            number(float(np.ptp(modes.level_db[:, mode])), 0),
        )
        for mode in kept
    )


def mode_words(rows: Rows, misfit_db: float) -> str:
    """What the listed modes are, and how far they are to be trusted."""
    return _MODE_WORDS.format(count=len(rows), misfit=number(misfit_db, 0))


def bass_in_figures(material: Material) -> Section | None:
    """Figures, decays and modes before and after; None without two seats."""
    job, channel, result = material.job, material.reference, material.result
    if result is None or channel is None:
        return None
    sets: list[tuple[str, Levels]] = [(material.result_word.capitalize(), result)]
    if material.untuned is not None:
        sets.insert(0, ("Before", material.untuned))
    found = []
    for word, levels in sets:
        columns = bass_columns(job, levels.responses)
        figures = figures_of_channel(levels.responses, channel, columns, job.bass.band_hz)
        if figures is not None:
            found.append((word, figures))
    if not found:
        return None
    words, all_figures = [word for word, _ in found], [figures for _, figures in found]
    low, high = job.bass.band_hz
    opening = (
        f"Channel {channel} ({labels.english(channel)}) from {low:.0f} to {high:.0f} Hz at "
        f"{len(bass_columns(job, result.responses))} places"
        + ("; before is with crossovers and trims only." if len(found) > 1 else ".")
    )
    width = (1, *(0 for _ in words))
    blocks: list[Block] = [
        Text(opening),
        Table(
            head=("Figure", *words),
            rows=figure_rows(all_figures, absolute=result.responses.absolute),
            widths=width,
            align="l" + "r" * len(words),
            caption=DEFINITIONS,
        ),
        Table(
            head=("Third octave", *(f"{word}, s" for word in words), "Shortest, s", "Line, s"),
            rows=decay_rows(all_figures),
            widths=(1, *(0 for _ in words), 0, 0),
            align="l" + "r" * (len(words) + 2),
            caption=DECAY_WORDS,
        ),
    ]
    modes = mode_rows(all_figures[0], _main_row(material, sets[0][1]))
    if modes and all_figures[0].modes is not None:
        blocks.append(
            Table(
                head=("Mode", "Decay, s", "Main seat, dB", "Over seats, dB"),
                rows=modes,
                widths=(1, 0, 0, 0),
                align="lrrr",
                caption=mode_words(modes, all_figures[0].modes.misfit_db),
            )
        )
    return Section("The bass in figures", tuple(blocks))


def _main_row(material: Material, levels: Levels) -> int | None:
    columns = list(bass_columns(material.job, levels.responses))
    main = main_column(material.job, levels.responses)
    return columns.index(main) if main in columns else None


def _re_strongest_db(level_db: F, mode: int, kept: NDArray[np.intp]) -> float:
    return float(level_db[mode] - level_db[kept].max())


def _median_s(figures: BassFigures, band: int) -> float:
    known = figures.decay.t20_s[figures.decay.reliable[:, band], band]
    return float(np.median(known)) if known.size else float("nan")


def _delay_words(figures: BassFigures) -> str:
    """Of the median seat: the largest departure re the threshold, and where."""
    worst = figures.delay.worst
    seat = int(np.argsort(worst)[len(worst) // 2])
    at = figures.delay_hz[int(np.argmax(figures.delay.share[seat]))]
    return f"{number(float(worst[seat]), 1)} at {at:.0f} Hz"
