"""The last pages: criteria in detail, findings, what is not known, method, cautions."""

from __future__ import annotations

from collections.abc import Iterator

from roomwright.handover.blocks import Beside, Bullets, Heading, Section, Table, Text
from roomwright.handover.levels import SMOOTHING, Material
from roomwright.handover.origin import is_simulated
from roomwright.handover.summary import final_verdicts, sources
from roomwright.handover.wording import count, printed
from roomwright.model import gathered

_SEVERITIES = {"refusal": "Not used", "doubt": "Doubtful", "note": "Note"}

_CAUTIONS = (
    (
        "Hearing.",
        (
            "The system can play loud enough to harm hearing within minutes. Levels in this "
            "report are for measuring; nobody should stay in the room while loud signals "
            "play without protection."
        ),
    ),
    (
        "Loudspeakers.",
        (
            "Sweeps, filters with boost and wrong crossovers can destroy loudspeakers. Start "
            "low, check that every output drives what its label says, and keep within the "
            "maker's limits."
        ),
    ),
    (
        "Loads overhead.",
        (
            "Height loudspeakers, screens and treatment hang above people. Fixings and "
            "structure are matters for a qualified person and the local building code."
        ),
    ),
    (
        "Mains.",
        (
            "Supply, earthing and amplifier racks are work for a licensed electrician under "
            "the local code. Never lift a safety earth to cure hum."
        ),
    ),
    (
        "Fire.",
        (
            "Absorbers, fabrics and cable passages must meet the local fire code; exits and "
            "alarms must stay usable with the sound on. This report judges sound only."
        ),
    ),
)

_METHOD = (
    (
        "Measuring.",
        (
            "Each loudspeaker and subwoofer is measured alone with an exponential sine "
            "sweep at every station; the impulse response follows by spectral division, "
            "which also separates the harmonics. Recordings made elsewhere enter as "
            "takes or as responses."
        ),
    ),
    (
        "Levels.",
        (
            f"Powers are averaged over 1/{SMOOTHING} octave for the plots and over third "
            "octaves for the verdicts. Averages over stations are averages of power."
        ),
    ),
    (
        "Predicting.",
        (
            "The survey's complex responses pass each output's filters, trim, delay and "
            "polarity, and are summed at every station."
        ),
    ),
    (
        "Proving.",
        (
            "With the tuning loaded, every channel is measured again. The criteria are "
            "judged on those measurements by a part of the program that knows nothing of "
            "how the tuning was designed; the same judge rates the prediction."
        ),
    ),
    (
        "Sources.",
        (
            "Where a criterion says “from memory”, its numbers were not checked against "
            "the printed standard; “common practice, no source” means just that."
        ),
    ),
)


def criteria(material: Material) -> Section | None:
    """What was found on each criterion, and from which data; None without verdicts."""
    verdicts = final_verdicts(material)
    if not verdicts:
        return None
    letters = sources(verdicts)
    table = Table(
        head=("Criterion", "What was found", "Computed from", "Source"),
        rows=tuple(
            (v.title, printed(v.reason), printed(v.computed_from), letters[v.source])
            for v in verdicts
        ),
        widths=(0.8, 1.5, 1.0, 0),
        align="lllc",
        caption=f"The verdicts on the {material.result_word} result in detail; the letters of the "
        "sources are those of the summary.",
    )
    return Section("The criteria in detail", (table,))


def findings(material: Material) -> Section:
    """Everything that was found while measuring and computing, doubts first."""
    found = gathered(material.content.findings)
    if not found:
        return Section("Findings", (Text("Measuring and computing raised no doubts."),))
    table = Table(
        head=("Kind", "Where", "What"),
        rows=tuple((_SEVERITIES[one.severity], one.where, printed(one.text)) for one in found),
        widths=(0, 0.5, 1.6),
        align="lll",
        caption="What the program found worth saying. “Doubtful”: the figures it touches may be "
        "wrong. “Not used”: the data were refused.",
    )
    return Section("Findings", (table,))


def limits_method_cautions(material: Material) -> Section:
    """What this report does not know, how its figures were come by, and what must be minded."""
    unknown = Bullets(tuple(("", sentence) for sentence in _unknown(material)))
    return Section(
        "Limits, method and cautions",
        (
            Beside(
                (Heading("What this report does not know"), unknown),
                (Heading("Cautions"), Bullets(_CAUTIONS)),
                left_share=0.42,
            ),
            Beside(
                (Heading("Method"), Bullets(_METHOD[:3])),
                (Heading("Method, continued"), Bullets(_METHOD[3:])),
                left_share=0.5,
            ),
        ),
    )


def _unknown(material: Material) -> Iterator[str]:
    job, content = material.job, material.content
    if is_simulated(material, "survey") or is_simulated(material, "proof"):
        yield (
            "How the real room sounds. The rehearsal room is a box with even surfaces and ideal "
            "mounting; furniture, doors, ducts, rattles and people are not in it."
        )
    if content.measured is None:
        yield (
            "Whether the processor does what it was told. The result is predicted from the survey "
            "and was not re-measured."
        )
    responses = content.survey or content.predicted
    if responses is not None and not responses.absolute:
        yield (
            "Absolute sound pressure: the microphone's sensitivity is not in the job, so levels "
            "compare channels with each other only."
        )
    if responses is not None and not responses.timed:
        yield (
            "Arrival times: the recordings share no time reference, so delays could not be set or "
            "judged from them."
        )
    stations = 0 if responses is None else len(responses.stations)
    if 0 < stations < 4:
        yield (
            f"How seats differ: with {count(stations, 'station')} averages and spreads say little."
        )
    if any(station.position_m is None for station in job.stations):
        yield "Where some stations stood: their places were not written down."
    if responses is not None and not (responses.background_db > -300).any():
        yield "How quiet the room is: no background noise was recorded at a known sensitivity."
    yield "Whether surfaces and positions are as stated: they are taken from the job as entered."
    yield (
        "How loud each channel plays before it distorts: distortion was seen at the level of the "
        "sweep alone."
    )
    yield "How the room sounds to its owner: criteria are necessary, not sufficient."
