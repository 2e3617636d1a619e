"""The measuring microphone's calibration: reading its file and undoing its response."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.signals import from_amplitude_db, minimum_phase

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: What a calibration file may hold: at least so many rows, no gap above this ratio of
#: frequencies (an octave and a little), no level beyond this. Common practice, no source.
_FEWEST_ROWS, _WIDEST_GAP, _LARGEST_DB = 3, 2.1, 60.0

_COMMENT = ("*", "#", ";", '"', "//")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+(,[+-]?\d+,\d+)?")
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f\ufffd]")


@dataclass(frozen=True, slots=True, eq=False)
class CalibrationCurve:
    """The level response of a microphone.

    Attributes
    ----------
    frequency_hz
        Rising, above 0, shape (n,).
    level_db
        The microphone's response at those frequencies, shape (n,); a measured level is corrected
        by subtracting it.
    note
        Whatever the file's heading said (sensitivity, serial number), as it stood.
    """

    frequency_hz: F
    level_db: F
    note: str = ""

    def __post_init__(self) -> None:
        """Check the curve and make it read-only."""
        frequency = _checks.finite(self.frequency_hz, "a microphone's frequencies").astype(float)
        level = _checks.finite(self.level_db, "a microphone's levels").astype(float)
        if frequency.ndim != 1 or frequency.shape != level.shape or frequency.size == 0:
            raise InputError(
                "a microphone's curve needs as many levels as frequencies, at least one; got "
                f"{level.size} and {frequency.size}"
            )
        if frequency[0] <= 0 or (np.diff(frequency) <= 0).any():
            raise InputError("a microphone's frequencies must be above 0 Hz and rise")
        for name, array in (("frequency_hz", frequency), ("level_db", level)):
            array.flags.writeable = False
            object.__setattr__(self, name, array)


def parse_calibration(text: str, name: str) -> CalibrationCurve:
    """Read the text of a calibration file.

    Each row holds a frequency in hertz, the microphone's level in dB and, if need be, a phase,
    which is not used; they are separated by spaces, tabs, commas or semicolons. Lines that begin
    with ``* # ; " //`` and lines of words before the first row are the heading.

    Parameters
    ----------
    text
        Contents of the file.
    name
        What to call the file in messages.

    Raises
    ------
    InputError
        If the text is empty or binary, a row is unsorted, doubled, incomplete, not numeric or
        written with decimal commas, or rows are missing; the sentence names the line.
    """
    control = _CONTROL.search(text)
    if control is not None:
        place = f"{name} line {text.count(chr(10), 0, control.start()) + 1}"
        raise InputError(f"{place}: this is not a text file")
    heading: list[str] = []
    rows: list[tuple[int, float, float]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        content = line.strip().lstrip("\ufeff")
        if not content:
            continue
        if content.startswith(_COMMENT) or (not rows and not re.match(r"[+-]?[\d.,]", content)):
            heading.append(content.strip('*#;" /'))
            continue
        frequency, level = _row(content, f"{name} line {number}")
        rows.append((number, frequency, level))
    _check_rows(rows, name)
    return CalibrationCurve(
        np.array([row[1] for row in rows]),
        np.array([row[2] for row in rows]),
        "\n".join(line for line in heading if line),
    )


def correction(curve: CalibrationCurve, frequencies_hz: ArrayLike) -> C:
    """What to multiply measured spectra with to undo the microphone's response.

    The level is a straight line over log frequency between the rows and held outside them; the
    phase is the minimum phase that belongs to it.

    Parameters
    ----------
    curve
        The microphone's response.
    frequencies_hz
        Uniform grid from 0 to half the sampling rate, shape (k,).

    Returns
    -------
    Complex, shape (k,).

    Raises
    ------
    InputError
        If the frequencies are not such a grid.
    """
    frequencies = np.asarray(frequencies_hz, dtype=np.float64)
    steps = np.diff(frequencies)
    if steps.size == 0 or frequencies[0] != 0 or not np.allclose(steps, steps[0], rtol=1e-6):
        raise InputError(
            "a microphone is corrected on a uniform grid of frequencies from 0 Hz to half the "
            "sampling rate"
        )
    log_frequency = np.log(np.maximum(frequencies, curve.frequency_hz[0]))
    level_db = np.interp(log_frequency, np.log(curve.frequency_hz), curve.level_db)
    return minimum_phase(from_amplitude_db(-level_db))


def _row(content: str, place: str) -> tuple[float, float]:
    spaced = content.replace(";", " ").split()
    # One comma alone separates two whole numbers; beside another separator it is a decimal one.
    if any(_DECIMAL_COMMA.fullmatch(field) for field in spaced) and (
        len(spaced) > 1 or content.count(",") > 2
    ):
        raise InputError(f"{place}: {content!r} has decimal commas; write decimal points")
    fields = re.split(r"[\s;,]+", content.strip(" \t,;"))
    if len(fields) < 2:
        raise InputError(f"{place}: {content!r} has no level; a row needs a frequency and a level")
    for field in fields[:2]:
        if not _NUMBER.fullmatch(field):
            raise InputError(f"{place}: {field!r} is not a number")
    frequency, level = float(fields[0]), float(fields[1])
    if frequency <= 0:
        raise InputError(f"{place}: the frequency is {fields[0]} Hz; it must be above 0")
    if abs(level) > _LARGEST_DB:
        raise InputError(
            f"{place}: the level is {fields[1]} dB; a microphone's lies within "
            f"{_LARGEST_DB:.0f} dB of 0"
        )
    return frequency, level


def _check_rows(rows: list[tuple[int, float, float]], name: str) -> None:
    if len(rows) < _FEWEST_ROWS:
        last = rows[-1][0] if rows else 1
        raise InputError(
            f"{name} line {last}: the file ends after {len(rows)} rows of frequency and level; "
            f"at least {_FEWEST_ROWS} are needed"
        )
    for (_, before, _), (number, frequency, _) in pairwise(rows):
        if frequency == before:
            raise InputError(f"{name} line {number}: {frequency:g} Hz is listed twice")
        if frequency < before:
            raise InputError(
                f"{name} line {number}: {frequency:g} Hz stands after {before:g} Hz; "
                "the frequencies must rise"
            )
        if frequency > _WIDEST_GAP * before:
            raise InputError(
                f"{name} line {number}: rows are missing between {before:g} and {frequency:g} Hz; "
                "at least one an octave is needed"
            )
