"""Whether a recording can be used at all, and what is doubtful about it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.model import Finding
from roomwright.signals import amplitude_db

#: A recording that never exceeds this holds nothing, dB re full scale; common practice.
_SILENCE_DBFS = -90.0

#: From this on a sample counts as at full scale, and so many in a row as clipped.
FULL_SCALE, _RUN = 0.999, 3

#: Where samples stop short at a lower level, a step this large before them tells clipping from
#: the crest of a low tone, re the peak and re full scale. In a recording of few bits a crest that
#: stays for three samples was at most three steps of the converter below before: here of 16 bits.
_STEP_RE_PEAK, _STEP_RE_FULL_SCALE = 1e-3, 3.5 * 2.0**-15

#: A constant offset above this is worth a note, re the peak.
_OFFSET = 0.01


def recording_faults(
    samples: NDArray[np.floating],
    where: str,
    *,
    minimum_samples: int = 1,
    full_scale: float = FULL_SCALE,
) -> tuple[Finding, ...]:
    """Everything that makes a recording unusable, as refusals; empty if nothing does.

    Looked for are wrong shape, missing samples, values that are not numbers, silence (peak below
    -90 dBFS) and clipping (three or more samples in a row at full scale or at a lower ceiling).

    Parameters
    ----------
    samples
        Shape (n,), 1.0 = full scale.
    where
        What to call the recording in the sentences.
    minimum_samples
        The shortest length that can be used.
    full_scale
        Three samples in a row from here on are clipped; infinity for data that were scaled since
        they were recorded, where only a ceiling reached by a step tells.
    """
    texts = _faults(np.asarray(samples), minimum_samples, full_scale)
    return tuple(Finding(severity="refusal", where=where, text=text) for text in texts)


def check_recording(
    samples: NDArray[np.floating],
    where: str,
    *,
    minimum_samples: int = 1,
    full_scale: float = FULL_SCALE,
) -> tuple[Finding, ...]:
    """Check that a recording can be used, and say what is doubtful about it.

    Parameters
    ----------
    samples, where, minimum_samples, full_scale
        As for `recording_faults`.

    Returns
    -------
    Doubts and notes.

    Raises
    ------
    InputError
        If `recording_faults` finds anything; the sentence names the first.
    """
    faults = recording_faults(
        samples, where, minimum_samples=minimum_samples, full_scale=full_scale
    )
    if faults:
        raise InputError(f"{where} {faults[0].text}")
    offset = float(np.mean(samples, dtype=np.float64))
    if abs(offset) < _OFFSET * float(np.abs(samples).max()):
        return ()
    text = f"has a constant offset of {offset:.3g} of full scale; it was removed"
    return (Finding(severity="note", where=where, text=text),)


def _faults(
    samples: NDArray[np.floating], minimum_samples: int, full_scale: float
) -> Iterator[str]:
    if samples.ndim != 1:
        yield f"has the shape {samples.shape}; one row of samples is needed"
        return
    if samples.size < max(minimum_samples, 1):
        yield f"is cut short: it has {samples.size} samples, at least {minimum_samples} are needed"
        return
    finite = np.isfinite(samples)
    if not finite.all():
        first = int(np.argmin(finite))
        yield f"holds a value that is not a number at sample {first}"
        return
    peak = float(np.abs(samples).max())
    if peak < 10.0 ** (_SILENCE_DBFS / 20.0):
        level = float(amplitude_db(peak))
        level_text = "digital silence" if peak == 0 else f"its peak is {level:.0f} dBFS"
        yield f"is silent: {level_text}; at least {_SILENCE_DBFS:.0f} dBFS is needed"
        return
    clipped_at = _clipped_at(samples, peak, full_scale)
    if clipped_at is not None:
        yield (
            f"is clipped at sample {clipped_at} (ceiling {peak:.3g} of full scale); play it softer"
        )


def _clipped_at(samples: NDArray[np.floating], peak: float, full_scale: float) -> int | None:
    """First sample of a run at full scale, or at a lower ceiling reached by a step."""
    magnitude = np.abs(samples)
    ceiling = min(full_scale, peak)
    at_ceiling = np.flatnonzero(magnitude >= ceiling)
    if at_ceiling.size < _RUN:
        return None
    step = max(_STEP_RE_PEAK * peak, _STEP_RE_FULL_SCALE)
    runs = np.split(at_ceiling, np.flatnonzero(np.diff(at_ceiling) > 1) + 1)
    for run in runs:
        before = magnitude[max(run[0] - 1, 0)]
        by_a_step = peak >= full_scale or before < peak - step
        if run.size >= _RUN and by_a_step:
            return int(run[0])
    return None
