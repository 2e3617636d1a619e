"""The ways to feed the subwoofers as a table of words: one column a way, one row a figure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from roomwright.commissioning.bass.compare import BassComparison, WayCompared

#: Whether a figure meets a line, exceeds it, or has none.
Tone = Literal["", "good", "doubt"]

WAY_WORDS: Final = {
    "alike": "All alike",
    "gain and delay": "Gain and delay",
    "biquads": "Biquads",
    "FIR": "FIR",
    "simple array": "Array: gain, delay",
    "array filters": "Array: filters",
    "mixture": "Mixture",
    "free": "Bound: any filter",
}


@dataclass(frozen=True, slots=True)
class Cell:
    """A figure in words, and whether it meets its line."""

    text: str
    tone: Tone = ""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One figure of every way; `hint` says what it is."""

    title: str
    hint: str
    cells: tuple[Cell, ...]


def comparison_sheet(compared: BassComparison) -> tuple[SheetRow, ...]:
    """Every figure of a comparison, in the order of its ways."""
    rows: list[tuple[str, str, Callable[[WayCompared], Cell]]] = [
        ("spread, dB²", _SPREAD, lambda way: Cell(f"{way.spread_db2:.2f}")),
        ("where designed, dB²", _DESIGNED, lambda way: Cell(f"{way.designed_spread_db2:.2f}")),
        ("highest less lowest, dB", _RANGE, lambda way: Cell(f"{way.range_db:.1f}")),
        ("level, dB", _LEVEL, lambda way: _signed(way.level_db)),
        ("hardest driven, dB", _DRIVE, lambda way: _signed(max(way.drive_db))),
        ("reach, dB SPL", _REACH, lambda way: _maybe(way.reach_db, 0)),
        ("longest decay", _DECAY, _decay),
        ("ahead 5, 10, 20 ms, dB", _AHEAD, _ahead),
        ("after 100 ms, dB", _LATE, lambda way: _maybe(way.late_db, 0)),
        ("one 1 dB off, dB²", _GAIN, lambda way: Cell(f"{way.gain_off_db2:.2f}")),
        ("3 K warmer, dB²", _AIR, lambda way: Cell(f"{way.air_off_db2:.2f}")),
        ("late by, ms", _LATENCY, lambda way: Cell(f"{1e3 * way.latency_s:.0f}")),
        ("each output takes", _TAKES, _takes),
    ]
    return tuple(
        SheetRow(title, hint, tuple(cell(way) for way in compared.ways))
        for title, hint, cell in rows
    )


def drives_say(compared: BassComparison, way: WayCompared) -> str:
    """The largest drive of each subwoofer in words."""
    each = zip(compared.subwoofers, way.drive_db, strict=True)
    return ", ".join(f"{name} {_signed(drive).text}" for name, drive in each)


def origin_says(compared: BassComparison) -> str:
    """What a comparison rests on, in one sentence."""
    where = "the drawing" if compared.origin == "drawing" else "the survey"
    low, high = compared.band_hz
    held = "held back from every design"
    if set(compared.judged_at) & set(compared.designed_at):
        held = "the stations of the design: none could be held back"
    return (
        f"Computed from {where}, {low:.0f} to {high:.0f} Hz; judged at "
        f"{', '.join(compared.judged_at)}, {held}."
    )


_SPREAD: Final = "mean over frequency of the variance of the level over the stations that judge"
_DESIGNED: Final = "the same over the stations that the design saw"
_RANGE: Final = "mean over frequency of the loudest less the quietest station"
_LEVEL: Final = "for the same largest drive, re all alike"
_DRIVE: Final = "for the same level, re all alike"
_REACH: Final = "highest level of a sine anywhere in the band within the data sheets"
_DECAY: Final = "for 60 dB in a third octave at the worst station; ▲ where it is over the line"
_AHEAD: Final = "energy that precedes the first sound by more; −20, −30, −40 dB are tolerable"
_LATE: Final = "energy more than 100 ms after the first sound, re all"
_GAIN: Final = "spread with one subwoofer 1 dB louder or quieter"
_AIR: Final = "spread with the air 3 K warmer"
_LATENCY: Final = "delay of the whole bass by its filters, which main channels wait for"
_TAKES: Final = "filters of the processor"


def _signed(value: float) -> Cell:
    return Cell(f"{value:+.1f}".replace("-", "−"))


def _maybe(value: float | None, digits: int) -> Cell:
    return Cell("–" if value is None else f"{value:.{digits}f}".replace("-", "−"))


def _decay(way: WayCompared) -> Cell:
    if not way.decay:
        return Cell("–")
    over = [band for band in way.decay if band.limit_s is not None and band.worst_s > band.limit_s]
    bands = over or list(way.decay)
    worst = max(bands, key=lambda band: band.worst_s / (band.limit_s or 1.0))
    if not over:
        worst = max(bands, key=lambda band: band.worst_s)
    text = f"{worst.worst_s:.2f} s at {worst.frequency_hz:.0f} Hz"
    return Cell(f"▲ {text}", "doubt") if over else Cell(f"■ {text}", "good")


def _ahead(way: WayCompared) -> Cell:
    if not way.ahead_db:
        return Cell("–")
    text = ", ".join(f"{value:.0f}" for value in way.ahead_db).replace("-", "−")
    return Cell(f"■ {text}", "good") if way.quiet_ahead else Cell(f"▲ {text}", "doubt")


def _takes(way: WayCompared) -> Cell:
    if way.method is None:
        return Cell("no processor")
    parts = [f"{way.fir_taps} taps"] if way.fir_taps else []
    parts += [f"{way.biquads} biquads"] if way.biquads else []
    return Cell(", ".join(parts) or "gain, delay")
