"""Background noise against noise ratings."""

from __future__ import annotations

import numpy as np

from roomwright.proof.evidence import Evidence
from roomwright.proof.verdict import Requirement, Verdict
from roomwright.standards import NoiseRating
from roomwright.standards.bs1116 import HIGHEST_NR, PREFERRED_NR
from roomwright.standards.nc import EDITION, noise_criterion
from roomwright.standards.nr import noise_rating

_NR = Requirement(
    "background_noise_nr",
    "Background noise, noise rating",
    "NR",
    f"at most NR {HIGHEST_NR:.0f} (NR {PREFERRED_NR:.0f} preferred)",
    "ITU-R BS.1116 and EBU Tech 3276, from memory; curves of ISO/R 1996:1971",
)

_HIGHEST_NC = 20.0

_NC = Requirement(
    "background_noise_nc",
    "Background noise, noise criterion",
    "NC",
    f"at most NC {_HIGHEST_NC:.0f}",
    f"a dedicated home cinema by CTA/CEDIA-CEB22, from memory; curves of {EDITION}",
)

#: A rating decides only if these octaves, hertz, are known.
_NEEDED_HZ = (63.0, 4000.0)


def background_verdicts(evidence: Evidence) -> tuple[Verdict, Verdict]:
    """Noise rating (NR) and noise criterion (NC) of the loudest seat."""
    stations, loudest = _ratings(evidence)
    if not stations:
        why = (
            "No background noise was recorded at a seat with a microphone of known sensitivity, "
            "so there is no absolute level."
        )
        return _NR.not_judged(why), _NC.not_judged(why)
    return (
        _verdict(_NR, HIGHEST_NR, stations, [nr for nr, _ in loudest], evidence),
        _verdict(
            _NC,
            _HIGHEST_NC,
            stations,
            [nc for _, nc in loudest],
            evidence,
        ),
    )


def _ratings(evidence: Evidence) -> tuple[list[str], list[tuple[NoiseRating, NoiseRating]]]:
    """Stations with a usable background noise, and their NR and NC."""
    responses = evidence.responses
    octaves = responses.octave_hz
    needed = (octaves > 0.9 * _NEEDED_HZ[0]) & (octaves < 1.1 * _NEEDED_HZ[1])
    names, ratings = [], []
    for column in evidence.seats:
        levels = responses.background_db[column]
        if np.isfinite(levels[needed]).all():
            names.append(responses.stations[column])
            ratings.append((noise_rating(levels, octaves), noise_criterion(levels, octaves)))
    return names, ratings


def _verdict(
    requirement: Requirement,
    limit: float,
    stations: list[str],
    ratings: list[NoiseRating],
    evidence: Evidence,
) -> Verdict:
    loudest = int(np.argmax([rating.value for rating in ratings]))
    rating = ratings[loudest]
    octave = (
        "the mean of 500 Hz to 4 kHz decides"
        if rating.governing_hz is None
        else f"the {rating.governing_hz:g} Hz octave decides"
    )
    return requirement.judged(
        value=rating.value,
        passed=rating.value <= limit,
        reason=f"{requirement.unit} {rating.value:.0f} at {stations[loudest]}; {octave}."
        f"{evidence.seats_note()}",
        computed_from=f"background noise recorded at {', '.join(stations[:3])}"
        f"{f' and {len(stations) - 3} more' if len(stations) > 3 else ''}; octave bands",
        detail=[(name, r.value) for name, r in zip(stations, ratings, strict=True)],
    )
