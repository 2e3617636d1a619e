"""Whether a take is loud enough over its noise, and not too loud for its input."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement.deconvolution import full_level_band_hz
from roomwright.measurement.fades import fade_window
from roomwright.measurement.noise import NoiseFloor, signal_to_noise_db
from roomwright.measurement.octaves import OCTAVES_HZ
from roomwright.measurement.recording_checks import recording_faults
from roomwright.model import Diagnosis, Sweep
from roomwright.signals import amplitude_db, band_edges, nominal_words

F = NDArray[np.float64]

#: Signal over noise that a level needs in every octave, dB: noise then errs it by 0.8 dB at most.
USABLE_DB: Final = 20.0

#: A take holds something if it stands so far over its noise in half of its octaves, dB: in the
#: lowest octave noise alone may pass for 4 dB, by its few degrees of freedom.
HEARD_DB: Final = 6.0

#: How long the fades are for that, seconds.
_FADE_S: Final = 0.1

#: Above this no take is judged, hertz: hardly a loudspeaker or a criterion reaches further.
HIGHEST_JUDGED_HZ: Final = 16000.0

#: A take that peaks lower than this in its input is soft, dB re full scale: with an input that
#: takes 120 dB it is the level of speech, and a converter of 16 bits has 36 dB left below it.
_SOFT_DBFS: Final = -60.0

#: An input that is this much quieter than the room was is not connected, dB.
_UNDER_THE_ROOM_DB: Final = 10.0

#: What is said of a band that holds noise alone, dB.
_NOTHING_DB: Final = -10.0

#: ... and below this it is quieter than a measuring microphone in any room, dB re full scale.
_OPEN_DBFS: Final = -95.0


def clipped(microphone: NDArray[np.floating], minimum_samples: int) -> Diagnosis | None:
    """What makes the samples unusable: clipping or silence."""
    faults = recording_faults(microphone, "the take", minimum_samples=minimum_samples)
    text = next((fault.text for fault in faults), "")
    peak = float(np.abs(microphone).max()) if microphone.size else 0.0
    level = float(amplitude_db(max(peak, 1e-10)))
    if text.startswith("is clipped"):
        return Diagnosis(
            kind="clipped",
            evidence=level,
            sentence=text.split(";")[0],
            remedy="turn the input down or play it softer, and record it again",
            refuses=True,
        )
    if text.startswith("is silent"):
        return silent_input(level)
    return None


def nothing_heard(microphone: NDArray[np.floating], background_rms: float | None) -> Diagnosis:
    """Which is dead, the input or the output, where no sweep was found in a take."""
    level = float(amplitude_db(max(float(np.std(microphone)), 1e-10)))
    if background_rms is None and level < _OPEN_DBFS:
        return silent_input(level)
    return Diagnosis(
        kind="dead_output",
        evidence=level,
        sentence="holds the room's noise and no sweep: nothing came out of the loudspeaker",
        remedy="check the patch, the amplifier and the cable of this output",
    )


def heard(
    circle: NDArray[np.floating],
    noise: NoiseFloor,
    keep: int,
    rate: int,
    own: NDArray[np.bool_],
) -> bool:
    """Whether a take holds anything but noise, in half of its own octaves or more.

    The response is looked at together with what comes before it and fades at both ends: strong
    noise of the lowest frequencies would spread from cut ends into all others.

    Parameters
    ----------
    circle
        Deconvolved, shape (n,).
    noise
        Noise of the response.
    keep
        Samples of the response.
    rate
        Hertz.
    own
        Which of `OCTAVES_HZ` count.
    """
    fade = round(_FADE_S * rate)
    around = np.concatenate([circle[-fade:], circle[:keep]]).astype(np.float64)
    around *= fade_window(around.size, fade, fade)
    over = signal_to_noise_db(around, noise, rate)[own] > HEARD_DB
    return int(np.count_nonzero(over)) >= max(1, over.size // 2)


def under_the_room(
    microphone: NDArray[np.floating], background_rms: float | None
) -> Diagnosis | None:
    """A take that is quieter than the room was while nothing played, if that is known."""
    if not background_rms:
        return None
    level = float(amplitude_db(max(float(np.std(microphone)), 1e-10)))
    limit = float(amplitude_db(background_rms)) - _UNDER_THE_ROOM_DB
    return silent_input(level) if level < limit else None


def silent_input(level_dbfs: float) -> Diagnosis:
    """The microphone's input carries no sound."""
    return Diagnosis(
        kind="silent_input",
        evidence=level_dbfs,
        sentence=f"holds not even the room's noise ({level_dbfs:.0f} dBFS)",
        remedy="check the microphone's cable, its supply and the choice of input",
        refuses=True,
    )


def own_octaves(band_hz: tuple[float, float], sweep: Sweep) -> NDArray[np.bool_]:
    """Which of `OCTAVES_HZ` lie in a unit's own range, as far as takes are judged.

    Those into which the sweep sets in hold more of a room's noise than of the sweep: they count
    only where there are no others.
    """
    low_hz, high_hz = band_hz
    inside: NDArray[np.bool_] = (low_hz <= OCTAVES_HZ) & (
        min(high_hz, HIGHEST_JUDGED_HZ) >= OCTAVES_HZ
    )
    lower, _ = band_edges(OCTAVES_HZ, 1)
    whole = inside & (lower >= full_level_band_hz(sweep)[0])
    return whole if whole.any() else inside


def over_noise(
    signal_to_noise_db: F, own: NDArray[np.bool_], microphone: NDArray[np.floating]
) -> Diagnosis | None:
    """Octaves of the own range in which noise errs the level by more than 0.8 dB, if any."""
    short = own & (signal_to_noise_db < USABLE_DB)
    if not short.any():
        return None
    worst = max(float(signal_to_noise_db[short].min()), _NOTHING_DB)
    names = [nominal_words(float(mid), 1) for mid in OCTAVES_HZ[short]]
    octaves = f"octave of {names[0]}" if len(names) == 1 else f"octaves of {', '.join(names)}"
    peak = float(amplitude_db(max(float(np.abs(microphone).max()), 1e-10)))
    said = (
        "the sweep is not over the noise" if worst <= 0 else f"the sweep is {worst:.0f} dB over it"
    )
    if np.count_nonzero(short) > np.count_nonzero(own) / 2 and peak < _SOFT_DBFS:
        return Diagnosis(
            kind="low_level",
            evidence=worst,
            sentence=f"is too soft: {peak:.0f} dBFS at its peak; over the noise of the octaves "
            f"it has {worst:.0f} dB at worst, and {USABLE_DB:.0f} dB are needed",
            remedy="play it louder, or turn the input up",
        )
    return Diagnosis(
        kind="noisy",
        evidence=worst,
        sentence=f"has too much noise in the {octaves}: {said} at worst, and "
        f"{USABLE_DB:.0f} dB are needed",
        remedy="stop what makes the noise, play a longer sweep, or play it louder",
    )
