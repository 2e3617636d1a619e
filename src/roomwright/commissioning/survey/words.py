"""A running survey in words: where the microphone goes, what happens, how far it is."""

from __future__ import annotations

from collections.abc import Callable

from roomwright.commissioning.survey.procedure import SurveyState
from roomwright.commissioning.survey.redo import missing_pairs
from roomwright.model import Job, Station

_DOING = {
    "moving": "the microphone is carried",
    "noise": "background noise is recorded: be quiet",
    "checking": "soft sweeps check the wiring",
    "measuring": "sweeps are measured: be quiet",
    "done": "all is measured",
}


def place_words(station: Station, length: Callable[[float], str]) -> str:
    """Where a station is, for whoever carries the microphone; empty if it has no place."""
    if station.position_m is None:
        return ""
    x, y, z = (length(value) for value in station.position_m)
    return f"{x} from the left wall, {y} from the front wall, {z} high"


def next_station(job: Job) -> str:
    """The first station at which something is missing; empty if nothing is."""
    return next((station for _, station in missing_pairs(job)), "")


def state_words(state: SurveyState, label: Callable[[str], str]) -> tuple[tuple[str, str], ...]:
    """How far a survey is, as pairs of words."""
    named = ", ".join(label(source) for source in state.sources[:3])
    named += f" and {len(state.sources) - 3} more" if len(state.sources) > 3 else ""
    now = f"{_DOING[state.step]}{f': {named}' if named else ''}"
    left = f"{state.remaining_s / 60.0:.0f} min" if state.remaining_s > 90 else "about a minute"
    heard = state.exposure
    return (
        ("now", now),
        ("made", f"{state.made} of {state.wanted}"),
        ("to go", "nothing" if state.step == "done" else left),
        ("loudest", _loudest(state)),
        (
            "exposure",
            "not known: calibrate the microphone" if heard is None else heard.sentence(0.0),
        ),
    )


def input_words(level_db: float, *, absolute: bool) -> str:
    """What the microphone hears now."""
    return f"input now: {level_db:.0f} dB {'SPL' if absolute else 're full scale'} (C, fast)"


def _loudest(state: SurveyState) -> str:
    """What the microphone heard at most in the last recording, and what it must not pass."""
    if state.level_db is None or state.peak_dbfs is None:
        return "–"
    peak = f"peak {state.peak_dbfs:.0f} dBFS"
    if state.ceiling_db is None:
        return f"{state.level_db:.0f} dB re full scale; {peak}"
    return f"{state.level_db:.0f} dB SPL (C, fast), ceiling {state.ceiling_db:.0f}; {peak}"
