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
_SERIAL = re.compile(
    r"\b(?:serial(?:\s*(?:no|number|nr))?|s/?n|ser\.?\s*no)\b[\s.:#=]*([A-Za-z]{0,4}-?\d[\w-]*)",
    re.IGNORECASE,
)
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
    phase_deg
        Its phase at those frequencies, shape (n,); None where only the level is known.
    """

    frequency_hz: F
    level_db: F
    note: str = ""
    phase_deg: F | None = None

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
        arrays = [("frequency_hz", frequency), ("level_db", level)]
        if self.phase_deg is not None:
            phase = _checks.finite(self.phase_deg, "a microphone's phases").astype(float)
            if phase.shape != frequency.shape:
                raise InputError(
                    "a microphone's curve needs as many phases as frequencies; got "
                    f"{phase.size} and {frequency.size}"
                )
            arrays.append(("phase_deg", phase))
        for name, array in arrays:
            array.flags.writeable = False
            object.__setattr__(self, name, array)


def parse_calibration(text: str, name: str) -> CalibrationCurve:
    """Read the text of a calibration file.

    Each row holds a frequency in hertz, the microphone's level in dB and, in all rows or none, a
    phase in degrees; they are separated by spaces, tabs, commas or semicolons. Lines that begin
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
    rows: list[_Row] = []
    for number, line in enumerate(text.splitlines(), start=1):
        content = line.strip().lstrip("\ufeff")
        if not content:
            continue
        if content.startswith(_COMMENT) or (not rows and not re.match(r"[+-]?[\d.,]", content)):
            heading.append(content.strip('*#;" /'))
            continue
        rows.append(_row(content, number, name))
    _check_rows(rows, name)
    phases = [row.phase_deg for row in rows if row.phase_deg is not None]
    return CalibrationCurve(
        np.array([row.frequency_hz for row in rows]),
        np.array([row.level_db for row in rows]),
        "\n".join(line for line in heading if line),
        np.array(phases) if phases else None,
    )


def stated_serial(curve: CalibrationCurve) -> str | None:
    """The serial number that a calibration file's heading states, or None if it states none."""
    found = _SERIAL.search(curve.note)
    return None if found is None else found.group(1)


def correction(curve: CalibrationCurve, frequencies_hz: ArrayLike) -> C:
    """What to multiply measured spectra with to undo the microphone's response.

    The level is a straight line over log frequency between the rows and held outside them. The
    phase is the minimum phase that belongs to it; where the calibration has a phase, what that
    has in excess is undone too: held above the rows, and going to nothing at 0 Hz below them.

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
    undone = minimum_phase(from_amplitude_db(-level_db))
    if curve.phase_deg is None:
        return undone
    # Both phases at the rows: the calibration's, and the one that its level already accounts for.
    own = -np.interp(curve.frequency_hz, frequencies, np.unwrap(np.angle(undone)))
    excess = np.unwrap(np.radians(curve.phase_deg) - own)
    excess -= 2 * np.pi * np.round(excess[0] / (2 * np.pi))
    spread = np.interp(log_frequency, np.log(curve.frequency_hz), excess)
    spread *= np.minimum(frequencies / curve.frequency_hz[0], 1.0)
    return np.asarray(undone * np.exp(-1j * spread))


@dataclass(frozen=True, slots=True)
class _Row:
    """One row of a calibration file."""

    line: int
    frequency_hz: float
    level_db: float
    phase_deg: float | None


def _row(content: str, line: int, name: str) -> _Row:
    place = f"{name} line {line}"
    spaced = content.replace(";", " ").split()
    # One comma alone separates two whole numbers; beside another separator it is a decimal one.
    if any(_DECIMAL_COMMA.fullmatch(field) for field in spaced) and (
        len(spaced) > 1 or content.count(",") > 2
    ):
        raise InputError(f"{place}: {content!r} has decimal commas; write decimal points")
    fields = re.split(r"[\s;,]+", content.strip(" \t,;"))
    if len(fields) < 2:
        raise InputError(f"{place}: {content!r} has no level; a row needs a frequency and a level")
    for field in fields[:3]:
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
    return _Row(line, frequency, level, float(fields[2]) if len(fields) > 2 else None)


def _check_rows(rows: list[_Row], name: str) -> None:
    if len(rows) < _FEWEST_ROWS:
        last = rows[-1].line if rows else 1
        raise InputError(
            f"{name} line {last}: the file ends after {len(rows)} rows of frequency and level; "
            f"at least {_FEWEST_ROWS} are needed"
        )
    for one, other in pairwise(rows):
        number, before, frequency = other.line, one.frequency_hz, other.frequency_hz
        if (one.phase_deg is None) != (other.phase_deg is None):
            raise InputError(
                f"{name} line {number}: a phase stands in some rows only; give it in all or none"
            )
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
