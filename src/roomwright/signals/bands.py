"""Fractional-octave bands of IEC 61260-1:2014: midbands, edges, labels, filters, powers."""

from __future__ import annotations

import math
from typing import cast

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive
from roomwright._errors import InputError

#: The octave ratio G of IEC 61260-1:2014, 5.2.
_OCTAVE = 10.0**0.3

_REFERENCE_HZ = 1000.0

#: Nominal midbands of one decade of third octaves (ISO 266 preferred numbers, R10 series).
_PREFERRED = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)

#: Limits given as rounded exact midbands (63.1 for 63.096) still include their band.
_LIMIT_TOLERANCE = 1e-3

#: The lowest order that keeps class 1 up to half the sampling rate, where the bilinear transform
#: bends the lower skirt: third-order edges leave it from a quarter of the rate. Higher ones ring
#: longer.
_EDGE_ORDER = 4


def midbands(fraction: int, low_hz: float, high_hz: float) -> NDArray[np.float64]:
    """Exact midband frequencies of 1/`fraction`-octave bands, base ten.

    Parameters
    ----------
    fraction
        Bands in an octave: 1, 3, 6, 12, 24 ...
    low_hz, high_hz
        Limits, inclusive, hertz. A band is taken if its exact or its nominal midband lies
        within them: 63 to 8000 gives 63.096 to 7943.3, and so does 63.1 to 7943.

    Returns
    -------
    Rising frequencies in hertz, shape (bands,); empty if no band lies within.

    Raises
    ------
    InputError
        If `fraction` is below 1, or the limits are not positive and rising.

    References
    ----------
    IEC 61260-1:2014, 5.2 to 5.4 and Annex E.
    """
    _check_fraction(fraction)
    if not 0 < low_hz <= high_hz < np.inf:
        raise InputError(
            f"bands were asked for from {low_hz:g} to {high_hz:g} Hz; "
            "both limits must be above 0 and rising"
        )
    first = int(np.floor(fraction * np.log(low_hz / _REFERENCE_HZ) / np.log(_OCTAVE))) - 1
    last = int(np.ceil(fraction * np.log(high_hz / _REFERENCE_HZ) / np.log(_OCTAVE))) + 1
    # Odd fractions have a band at 1 kHz, even ones a band edge.
    offset = 0.0 if fraction % 2 else 0.5
    exact = _REFERENCE_HZ * _OCTAVE ** ((np.arange(first, last + 1) + offset) / fraction)
    nominal = np.array([_nominal_hz(mid, fraction) for mid in exact])
    above = (exact >= low_hz * (1 - _LIMIT_TOLERANCE)) | (nominal >= low_hz)
    below = (exact <= high_hz * (1 + _LIMIT_TOLERANCE)) | (nominal <= high_hz)
    return exact[above & below]


def band_edges(mid_hz: ArrayLike, fraction: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower and upper band-edge frequencies in hertz, each of the shape of `mid_hz`.

    Raises
    ------
    InputError
        If `fraction` is below 1.

    References
    ----------
    IEC 61260-1:2014, 5.7 (equations 4 and 5).
    """
    _check_fraction(fraction)
    half_width = _OCTAVE ** (0.5 / fraction)
    mid = np.asarray(mid_hz, dtype=np.float64)
    return mid / half_width, mid * half_width


def nominal_label(mid_hz: float, fraction: int) -> str:
    """The trade's label of a band: '63', '31.5', '1k', '1.25k'.

    Parameters
    ----------
    mid_hz
        Exact (or nominal) midband frequency, hertz.
    fraction
        Bands in an octave.

    Raises
    ------
    InputError
        If `mid_hz` is not above 0 or `fraction` is below 1.

    References
    ----------
    ISO 266 for octaves and third octaves; IEC 61260-1:2014 Annex E for narrower bands (half
    octaves from memory).
    """
    _check_fraction(fraction)
    nominal = _nominal_hz(positive(mid_hz, "the midband frequency"), fraction)
    return f"{nominal / 1000.0:g}k" if nominal >= 1000.0 else f"{nominal:g}"


def nominal_words(mid_hz: float, fraction: int) -> str:
    """A band's nominal frequency as a sentence says it: '63 Hz', '31.5 Hz', '1.25 kHz'.

    Raises
    ------
    InputError
        As `nominal_label` does.
    """
    label = nominal_label(mid_hz, fraction)
    return f"{label[:-1]} kHz" if label.endswith("k") else f"{label} Hz"


def band_filter_sos(mid_hz: float, fraction: int, sampling_rate_hz: float) -> NDArray[np.float64]:
    """Second-order sections of a band filter that meets class 1 of IEC 61260-1:2014.

    A Butterworth band-pass of fourth-order edges, its -3 dB points placed on the band edges.

    Parameters
    ----------
    mid_hz
        Exact midband frequency, hertz.
    fraction
        Bands in an octave.
    sampling_rate_hz
        Sampling rate, hertz.

    Returns
    -------
    Shape (4, 6), as scipy.signal.sosfilt takes them.

    Raises
    ------
    InputError
        If the upper band edge reaches half the sampling rate.
    """
    low, high = band_edges(positive(mid_hz, "the midband frequency"), fraction)
    if high >= sampling_rate_hz / 2:
        raise InputError(
            f"the {nominal_label(mid_hz, fraction)}Hz band reaches up to {high:.0f} Hz; "
            f"at a sampling rate of {sampling_rate_hz:g} Hz it must stay below half of it"
        )
    sections = scipy.signal.butter(
        _EDGE_ORDER, (float(low), float(high)), "bandpass", fs=sampling_rate_hz, output="sos"
    )
    return cast("NDArray[np.float64]", sections)


def band_powers(
    power_spectrum: ArrayLike,
    frequencies_hz: ArrayLike,
    fraction: int,
    low_hz: float,
    high_hz: float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Power in each fractional-octave band of a power spectrum.

    Every bin reaches half-way to its neighbours, and its power is spread evenly over that
    width; a bin that an edge cuts is split there, so adjacent bands share all power and count
    none twice. Outside the spectrum there is no power.

    Parameters
    ----------
    power_spectrum
        Power in each bin, shape (..., bins).
    frequencies_hz
        Rising bin frequencies, hertz, shape (bins,).
    fraction
        Bands in an octave.
    low_hz, high_hz
        Limits of the midbands, as `midbands` takes them.

    Returns
    -------
    mid_hz
        Exact midbands, hertz, shape (bands,).
    powers
        Shape (..., bands), in the unit of `power_spectrum`.

    Raises
    ------
    InputError
        If the spectrum and its frequencies do not fit each other, or as `midbands` does.
    """
    power = np.asarray(power_spectrum, dtype=np.float64)
    frequencies = np.asarray(frequencies_hz, dtype=np.float64)
    if frequencies.size < 2 or power.shape[-1:] != frequencies.shape:
        raise InputError(
            f"the spectrum has shape {power.shape} and its frequencies {frequencies.shape}; "
            "the last axis must be the same and hold 2 bins or more"
        )
    mid = midbands(fraction, low_hz, high_hz)
    low, high = band_edges(mid, fraction)
    bounds = _bin_bounds(frequencies)
    return mid, _power_below(power, bounds, high) - _power_below(power, bounds, low)


def _bin_bounds(frequencies: NDArray[np.float64]) -> NDArray[np.float64]:
    """Bounds of bins that reach half-way to their neighbours, shape (bins + 1,)."""
    between = (frequencies[1:] + frequencies[:-1]) / 2
    first = max(0.0, 2 * frequencies[0] - between[0])
    return np.concatenate(([first], between, [2 * frequencies[-1] - between[-1]]))


def _power_below(
    power: NDArray[np.float64], bounds: NDArray[np.float64], at_hz: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Power below each of `at_hz`, shape (..., len(at_hz))."""
    at = np.clip(at_hz, bounds[0], bounds[-1])
    index = np.clip(np.searchsorted(bounds, at, side="right") - 1, 0, power.shape[-1] - 1)
    share = (at - bounds[index]) / (bounds[index + 1] - bounds[index])
    whole = np.cumsum(power, axis=-1)[..., index] - power[..., index]
    below: NDArray[np.float64] = whole + share * power[..., index]
    return below


def _nominal_hz(mid_hz: float, fraction: int) -> float:
    """Nominal midband of an exact one, hertz."""
    decade = math.floor(math.log10(mid_hz) + 1e-9)
    if fraction in (1, 3):
        step = round(10 * math.log10(mid_hz))
        return _PREFERRED[step % 10] * 10.0 ** (step // 10)
    leading = mid_hz / 10.0**decade
    # Annex E: three digits, or two where the first is 5 or more; half octaves always three.
    digits = 2 if fraction == 2 or leading < 5 else 1
    return round(leading, digits) * 10.0**decade


def _check_fraction(fraction: int) -> None:
    if fraction < 1:
        raise InputError(f"{fraction} bands in an octave were asked for; it must be 1 or more")
