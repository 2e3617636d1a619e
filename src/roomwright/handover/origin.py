"""Where the figures of a report come from: measured on site, imported, or simulated."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from roomwright.handover.levels import Material

Stage = Literal["survey", "proof"]

_ORIGINS = {
    "rehearsal": "the rehearsal room, a simulation",
    "import": "recordings made elsewhere and imported",
    "device": "this room, measured on site",
}


def origins(material: Material, stage: Stage) -> tuple[str, ...]:
    """Origins of a stage's takes, each once."""
    return tuple(dict.fromkeys(t.origin for t in material.job.takes if t.stage == stage))


def is_simulated(material: Material, stage: Stage) -> bool:
    """Whether any take of a stage is simulated."""
    return "rehearsal" in origins(material, stage)


def stage_words(material: Material, stage: Stage) -> str:
    """Where a stage's responses come from, for captions."""
    known = [_ORIGINS[origin] for origin in origins(material, stage)]
    return " and ".join(known) or "a source that is not written down"


def origin_note(material: Material) -> str:
    """What must be said beside the first figures; empty where all was measured on site."""
    return " ".join(_sentences(material))


def _sentences(material: Material) -> Iterator[str]:
    stages = [stage for stage in ("survey", "proof") if is_simulated(material, stage)]
    if stages:
        what = "Survey and proof were" if len(stages) == 2 else f"The {stages[0]} was"
        yield (
            f"{what} made in the rehearsal room, which is a simulation of this cinema: no "
            "loudspeaker played and no microphone stood in the real room. The figures show what "
            "to expect; only measurements on site can prove it."
        )
    if material.content.measured is None:
        yield "Nothing was re-measured with the tuning loaded: the result is a prediction."
    if material.content.survey is not None and not material.content.survey.absolute:
        yield "The microphone's sensitivity is not known: levels are relative, not sound pressure."
