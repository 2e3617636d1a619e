"""The response of every channel: before, predicted, re-measured, and the target."""

from __future__ import annotations

import numpy as np

from roomwright.handover import svg
from roomwright.handover.bass import TARGET
from roomwright.handover.blocks import Figure, Section, Text
from roomwright.handover.levels import (
    LFE_MEAN_BAND_HZ,
    MEAN_BAND_HZ,
    SMOOTHING,
    Levels,
    Material,
    is_lfe,
    mean_level_db,
    ordered_channels,
    target_curve_db,
)
from roomwright.handover.origin import stage_words
from roomwright.handover.plots import Curve, Plot, draw
from roomwright.handover.svg import Drawing, Stroke
from roomwright.handover.wording import count
from roomwright.standards import labels

_BEFORE = Stroke(svg.ORANGE, 0.9, "1.5 1.5")
_PREDICTED = Stroke(svg.BLUE, 1.0, "4 2")
_MEASURED = Stroke(svg.VERMILLION, 1.3)
_RANGE_HZ = (20.0, 20000.0)
_RANGE_DB = (-20.0, 15.0)
_WIDTH_PT = 482.0


def channels(material: Material) -> Section | None:
    """One large plot of the reference channel, then one small plot of each; None without data."""
    names = [name for name in ordered_channels(material.job) if _curves(material, name)]
    if not names:
        return None
    blocks: list[Text | Figure] = [
        Text(
            "Each channel as the average over all stations. A single seat shows more detail; the "
            "average is what the tuning was made for and what most listeners get. Narrow dips "
            "that differ from seat to seat are left alone on purpose: no filter can fill them."
        )
    ]
    reference = material.reference
    if reference in names:
        large = _panel(material, reference, _WIDTH_PT, 165.0, is_large=True)
        blocks.append(Figure((large,), f"Channel {_named(reference)}. {_computed(material)}"))
    panels = tuple(_panel(material, name, 0.49 * _WIDTH_PT, 92.0, is_large=False) for name in names)
    key = _key(material)
    caption = (
        f"All {count(len(names), 'channel')}, drawn as in the figure above."
        if reference in names
        else _computed(material)
    )
    shaded = " Grey areas: outside the band that stands clear of noise."
    blocks.append(Figure(panels, caption + shaded, columns=2, may_break=True, key=key))
    return Section("Every channel", tuple(blocks))


def _named(channel: str) -> str:
    english = labels.english(channel)
    return channel if english == channel else f"{channel} ({english})"


def _computed(material: Material) -> str:
    parts = []
    if material.survey is not None:
        parts.append(
            "“before” is the loudspeaker alone as surveyed, without processing and without "
            f"subwoofers ({stage_words(material, 'survey')})"
        )
    if material.predicted is not None:
        parts.append("“predicted” is the survey's responses summed through the tuning")
    if material.measured is not None:
        parts.append(
            "“re-measured” is the whole channel with the tuning loaded "
            f"({stage_words(material, 'proof')})"
        )
    sets = (material.survey, material.result)
    stations = max(len(levels.responses.stations) for levels in sets if levels is not None)
    return (
        f"Power average over {count(stations, 'station')}, 1/{SMOOTHING} octave smoothing, the "
        f"whole response unwindowed; {'; '.join(parts)}. 0 dB is each curve's own mean from "
        "500 Hz to 2 kHz (LFE: 40 to 80 Hz)."
    )


def _sources(material: Material, channel: str) -> tuple[tuple[Levels, int, Stroke, str], ...]:
    loudspeakers = next(c.loudspeakers for c in material.job.channels if c.id == channel)
    before = loudspeakers[0] if loudspeakers else ""
    wanted = (
        (material.survey, before, _BEFORE, "before"),
        (material.predicted, channel, _PREDICTED, "predicted"),
        (material.measured, channel, _MEASURED, "re-measured"),
    )
    found = []
    for levels, source, stroke, label in wanted:
        row = None if levels is None else levels.row(source)
        if levels is not None and row is not None:
            found.append((levels, row, stroke, label))
    return tuple(found)


def _curves(material: Material, channel: str) -> tuple[Curve, ...]:
    band = LFE_MEAN_BAND_HZ if is_lfe(material.job, channel) else MEAN_BAND_HZ
    curves = []
    for levels, row, stroke, label in _sources(material, channel):
        average = levels.average_db(row)
        zero = mean_level_db(levels.frequency_hz, average, band)
        if np.isfinite(zero):
            curves.append(Curve(levels.frequency_hz, average - zero, stroke, label))
    if not curves:
        return ()
    frequency = curves[0].frequency_hz
    # The re-measured line is solid and covers much; what is dashed goes over it.
    curves.sort(key=lambda curve: bool(curve.stroke.dash))
    asked = target_curve_db(material.job.target_of(channel), frequency, band)
    target = Curve(frequency, asked, TARGET, "target")
    return (target, *curves)


def _panel(
    material: Material, channel: str, width_pt: float, height_pt: float, *, is_large: bool
) -> Drawing:
    curves = _curves(material, channel)
    levels, row, *_ = _sources(material, channel)[-1]
    if not is_large:
        curves = tuple(Curve(c.frequency_hz, c.value, c.stroke) for c in curves)
    english = labels.english(channel)
    plot = Plot(
        title=channel if english == channel else f"{channel}  {english}",
        y_label="level, dB",
        curves=curves,
        range_hz=_RANGE_HZ,
        range_y=_RANGE_DB,
        width_pt=width_pt,
        height_pt=height_pt,
        trusted_hz=levels.trusted_hz(row),
        has_x_label=is_large,
    )
    return draw(plot, f"Level over frequency of channel {_named(channel)}.")


def _key(material: Material) -> Drawing:
    """What the lines of the small plots mean."""
    entries = [("target", TARGET)]
    entries += [
        (label, stroke)
        for levels, label, stroke in (
            (material.survey, "before", _BEFORE),
            (material.predicted, "predicted", _PREDICTED),
            (material.measured, "re-measured", _MEASURED),
        )
        if levels is not None
    ]
    parts = []
    for place, (label, stroke) in enumerate(entries):
        x = 30.0 + 95.0 * place
        parts.append(svg.line(x, 6, x + 26, 6, stroke))
        parts.append(svg.text(x + 30, 9, label, 8.5))
    alt = f"Key to the lines: {', '.join(label for label, _ in entries)}."
    return svg.drawing(_WIDTH_PT, 13, parts, alt)
