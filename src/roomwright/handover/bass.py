"""The bass at every seat, before and after."""

from __future__ import annotations

import numpy as np

from roomwright.analysis import level_spread
from roomwright.handover import svg
from roomwright.handover.blocks import Block, Figure, Section, Text
from roomwright.handover.levels import (
    MEAN_BAND_HZ,
    SMOOTHING,
    F,
    Levels,
    Material,
    main_column,
    mean_level_db,
    target_curve_db,
)
from roomwright.handover.origin import stage_words
from roomwright.handover.plots import Curve, Plot, draw
from roomwright.handover.svg import Drawing, Stroke
from roomwright.handover.wording import number
from roomwright.standards import labels

_RANGE_HZ = (20.0, 300.0)
_SPREAD_BAND_HZ = (30.0, 120.0)
_WIDTH_PT = 482.0

_OPENING = (
    "Below some 200 Hz the room itself decides what each seat gets: sound that is loud at one "
    "seat can be missing at the next. The aim is that every seat follows the target, and that "
    "the seats differ little."
)

TARGET = Stroke(svg.BLACK, 1.1, "7 2 1.5 2")
_SEAT = Stroke(svg.SKY_BLUE, 0.8)
_MAIN_SEAT = Stroke(svg.VERMILLION, 1.5)
_BEFORE = Stroke(svg.GREY, 1.2, "2 2")
_AFTER = Stroke(svg.BLUE, 1.6)


def bass(material: Material) -> Section | None:
    """Level at every seat below 300 Hz, before and after, and its spread; None without data."""
    result, channel = material.result, material.reference
    if result is None or channel is None:
        return None
    before = material.untuned
    drawings: list[Drawing] = []
    for levels, title in (
        (before, "Before: crossovers and trims only"),
        (result, f"After: {material.result_word}, with the whole tuning"),
    ):
        row = None if levels is None else levels.row(channel)
        if levels is not None and row is not None:
            drawings.append(_at_seats(material, levels, channel, title))
    if result.row(channel) is None:
        return None
    blocks: list[Block] = [
        Text(f"{_OPENING} {spread_in_words(material)}"),
        Figure(
            tuple(drawings),
            f"Level of channel {channel} ({labels.english(channel)}), redirected bass included, "
            f"at {material.places(result.responses)}: one line each, the main "
            "seat in bold. 0 dB is the mean of all seats from 500 Hz to 2 kHz. Computed from "
            f"{_origin(material)}; 1/{SMOOTHING} octave smoothing of the power, the whole response "
            "unwindowed.",
        ),
    ]
    spread = _spread_figure(material, before, result, channel)
    return Section("The bass, seat by seat", (*blocks, *spread))


def spread_db(material: Material, levels: Levels, channel: str) -> F | None:
    """Standard deviation over seats of a channel's level, dB, (F,); None with fewer than two."""
    row = levels.row(channel)
    if row is None:
        return None
    at_seats = levels.level_db[row, list(material.seats(levels.responses))]
    at_seats = at_seats[np.isfinite(at_seats).all(axis=-1)]
    return level_spread(at_seats).deviation_db if len(at_seats) > 1 else None


def spread_in_words(material: Material) -> str:
    """How far the seats differ in the bass, after and before; empty without two seats."""
    result, channel = material.result, material.reference
    after = None if result is None or channel is None else spread_db(material, result, channel)
    if result is None or channel is None or after is None:
        return ""
    deviation = mean_level_db(result.frequency_hz, after, _SPREAD_BAND_HZ)
    low, high = (f"{limit:.0f}" for limit in _SPREAD_BAND_HZ)
    words = (
        f"From {low} to {high} Hz the seats differ by {number(deviation, 1)} dB on average "
        f"(standard deviation, channel {channel}, {material.result_word})"
    )
    before = None if material.untuned is None else spread_db(material, material.untuned, channel)
    if material.untuned is None or before is None:
        return f"{words}."
    untuned = mean_level_db(material.untuned.frequency_hz, before, _SPREAD_BAND_HZ)
    return f"{words}; with crossovers and trims only it is {number(untuned, 1)} dB."


def _origin(material: Material) -> str:
    survey = f"the survey ({stage_words(material, 'survey')})"
    if material.measured is None:
        return survey
    proof = f"the proof ({stage_words(material, 'proof')})"
    return proof if material.untuned is None else f"{survey} and {proof}"


def _at_seats(material: Material, levels: Levels, channel: str, title: str) -> Drawing:
    job, row = material.job, levels.responses.sources.index(channel)
    columns = material.seats(levels.responses)
    main = main_column(material.job, levels.responses)
    frequency = levels.frequency_hz
    zero = mean_level_db(frequency, levels.average_db(row, columns), MEAN_BAND_HZ)
    curves = [
        Curve(frequency, levels.level_db[row, column] - zero, _SEAT)
        for column in columns
        if column != main
    ]
    target = target_curve_db(job.target_of(channel), frequency, MEAN_BAND_HZ)
    curves.append(Curve(frequency, target, TARGET, "target"))
    if main is not None:
        bold = Curve(frequency, levels.level_db[row, main] - zero, _MAIN_SEAT, "main seat")
        curves.append(bold)
    plot = Plot(
        title=title,
        y_label="level, dB",
        curves=tuple(curves),
        range_hz=_RANGE_HZ,
        range_y=(-25.0, 20.0),
        width_pt=_WIDTH_PT,
        height_pt=170.0,
        trusted_hz=levels.trusted_hz(row),
    )
    return draw(plot, f"{title}: level from 20 to 300 Hz at {material.places(levels.responses)}.")


def _spread_figure(
    material: Material, before: Levels | None, result: Levels, channel: str
) -> tuple[Figure, ...]:
    curves = []
    for levels, stroke, label in (
        (before, _BEFORE, "before"),
        (result, _AFTER, material.result_word),
    ):
        spread = None if levels is None else spread_db(material, levels, channel)
        if levels is not None and spread is not None:
            curves.append(Curve(levels.frequency_hz, spread, stroke, label))
    if not curves:
        return ()
    plot = Plot(
        title="Difference between seats",
        y_label="deviation, dB",
        curves=tuple(curves),
        range_hz=_RANGE_HZ,
        range_y=(0.0, 12.0),
        width_pt=_WIDTH_PT,
        height_pt=135.0,
    )
    caption = (
        f"Standard deviation over seats of the level of channel {channel}, 0 where all seats are "
        f"alike. Computed from the curves above, before and after."
    )
    return (Figure((draw(plot, "Standard deviation over seats, 20 to 300 Hz."),), caption),)
