"""How the subwoofers stand and are fed, against other ways, and what held-back stations say."""

from __future__ import annotations

import numpy as np

from roomwright.analysis import mean_spatial_variance_db2
from roomwright.handover import svg
from roomwright.handover.blocks import Figure, Section, Table, Text
from roomwright.handover.content import BassWay
from roomwright.handover.levels import Material
from roomwright.handover.origin import stage_words
from roomwright.handover.plots import Curve, Plot, draw
from roomwright.handover.svg import Stroke
from roomwright.handover.wording import number
from roomwright.layout import stations_held_back
from roomwright.model import Job
from roomwright.signals import amplitude_db, log_frequencies

_WIDTH_PT = 482.0
_STEPS_AN_OCTAVE = 24

_METHODS = {
    "matched": "all alike, matched in level and arrival",
    "even_seats": "each its own way, for even seats",
    "array": "as a plane-wave array: those at one end launch the sound, those at the other take it "
    "away",
    "mixture": "as a plane-wave array in the deep bass, where those at one end launch the sound "
    "and those at the other take it away, and for even seats above it",
}

_FIGURES = (
    "Spread: mean over frequency of the variance of the level over stations, dB² (0: all alike), "
    "where the design looked and at stations that no design saw. Level: for the same largest "
    "drive, drive: of the hardest driven for the same level, both dB re all alike. Decay: longest "
    "for 60 dB in any third octave, s. Ahead: energy that precedes the first sound by more than 5, "
    "10 and 20 ms, dB; −20, −30 and −40 dB are held to be tolerable (engineering choice, no "
    "source). 1 dB, 3 K: spread with one subwoofer 1 dB off, and in air 3 K warmer. Late: by the "
    "filters, ms. The last is a bound that no processor reaches. Computed from the survey"
)

_BEFORE = Stroke(svg.GREY, 1.2, "2 2")
_USED = Stroke(svg.BLUE, 1.6)
_LINE = Stroke(svg.BLACK, 1.1, "7 2 1.5 2")
_LIMIT = Stroke(svg.ORANGE, 0.9, "1 2")


def bass_ways(material: Material) -> Section | None:
    """Places, ways compared, decay against its line, held-back stations; None if not compared."""
    job, ways = material.job, material.content.bass_ways
    used = next((way for way in ways if way.used), None)
    if not ways or used is None:
        return None
    return Section(
        "Where the subwoofers stand, and how they are fed",
        (
            Text(_opening(job, used)),
            _places(job),
            _compared(material, ways),
            *_decay(ways[0], used),
            *_measured(material),
        ),
    )


def _opening(job: Job, used: BassWay) -> str:
    low, high = job.bass.band_hz
    return (
        f"The {len(job.subwoofers)} subwoofers are fed {_METHODS[job.bass.method]}. From "
        f"{low:.0f} to {high:.0f} Hz the level over the stations varies by "
        f"{number(used.spread_db2, 2)} dB² then, judged at {', '.join(used.judged_at)}"
        + (", which the design did not see." if used.held_back else ".")
    )


def _places(job: Job) -> Table:
    parts = dict.fromkeys(job.bass.launching, "launches")
    parts |= dict.fromkeys(job.bass.absorbing, "absorbs")
    rows = tuple(
        (
            one.id,
            one.model,
            *(number(value, 2) for value in one.position_m),
            parts.get(one.id, "–"),
        )
        for one in job.subwoofers
    )
    return Table(
        head=("Subwoofer", "Type", "Across, m", "Back, m", "Up, m", "In the array"),
        rows=rows,
        widths=(0, 1, 0, 0, 0, 0),
        align="llrrrl",
        caption="Middle of each subwoofer from the left wall, the front wall and the floor.",
    )


def _compared(material: Material, ways: tuple[BassWay, ...]) -> Table:
    rows = tuple(
        (
            f"{way.name} (in use)" if way.used else way.name,
            number(way.spread_db2, 2),
            number(way.designed_spread_db2, 2),
            number(way.level_db, 1),
            number(way.drive_db, 1),
            number(max(band[2] for band in way.decay), 2) if way.decay else "–",
            " / ".join(number(value, 0) for value in way.ahead_db) or "–",
            number(way.gain_off_db2, 2),
            number(way.air_off_db2, 2),
            number(1e3 * way.latency_s, 0),
        )
        for way in ways
    )
    return Table(
        head=(
            "Fed as",
            "Spread",
            "Designed",
            "Level",
            "Drive",
            "Decay",
            "Ahead",
            "1 dB",
            "3 K",
            "Late",
        ),
        rows=rows,
        widths=(1, 0, 0, 0, 0, 0, 0, 0, 0, 0),
        align="lrrrrrrrrr",
        caption=f"{_FIGURES} ({stage_words(material, 'survey')}).",
    )


def _decay(alike: BassWay, used: BassWay) -> tuple[Figure, ...]:
    if not used.decay or not alike.decay:
        return ()
    before, after = np.array(alike.decay), np.array(used.decay)
    frequency = after[:, 0]
    curves = [
        Curve(frequency, before[:, 2], _BEFORE, "all alike"),
        Curve(frequency, after[:, 2], _USED, "as fed"),
        Curve(frequency, after[:, 4], _LINE, "threshold"),
        Curve(frequency, after[:, 3], _LIMIT, "analysis limit"),
    ]
    highest = float(np.nanmax([curve.value[np.isfinite(curve.value)].max() for curve in curves]))
    plot = Plot(
        title="Decay in the bass",
        y_label="time for 60 dB, s",
        curves=tuple(curves),
        range_hz=(float(frequency[0]) * 0.95, float(frequency[-1]) * 1.05),
        range_y=(0.0, np.ceil(10.0 * highest + 0.5) / 10.0),
        width_pt=_WIDTH_PT,
        height_pt=150.0,
    )
    caption = (
        "Longest decay of each third octave over the stations that judge. Threshold: above it the "
        "decay itself is heard in music (published listening tests, from memory); none is known "
        "outside its range. Analysis limit: the shortest time that can be read in the band."
    )
    return (Figure((draw(plot, "Decay by third octave, before and after."),), caption),)


def _measured(material: Material) -> tuple[Text, ...]:
    """The spread that the proof measured, at the stations held back and at the others."""
    job, measured = material.job, material.content.measured
    lfe = next((channel.id for channel in job.channels if channel.role == "lfe"), None)
    if measured is None or lfe not in measured.sources:
        return ()
    row = measured.sources.index(lfe)
    held = stations_held_back(job, measured.stations) & measured.present[row]
    used = measured.present[row] & ~held
    frequency = log_frequencies(*job.bass.band_hz, _STEPS_AN_OCTAVE)
    at = np.searchsorted(measured.frequencies_hz(), frequency)

    def spread(columns: np.ndarray) -> str:
        spectra = np.fft.rfft(measured.samples[row, columns])[:, at]
        level = amplitude_db(np.maximum(np.abs(spectra), 1e-12))
        return f"{number(float(mean_spatial_variance_db2(level)), 2)} dB²"

    if used.sum() < 2:
        return ()
    words = f"Measured with the tuning loaded ({stage_words(material, 'proof')}), channel {lfe} "
    words += f"varies by {spread(used)} over the stations of the design"
    if held.sum() > 1:
        names = [name for name, out in zip(measured.stations, held, strict=True) if out]
        words += f" and by {spread(held)} over those held back ({', '.join(names)})"
    return (Text(f"{words}."),)
