"""The report: everything the client and the next engineer should know, as a PDF."""

from __future__ import annotations

import json
from dataclasses import asdict
from importlib.resources import files

import typst

from roomwright.handover.alignment import alignment
from roomwright.handover.angles import angles
from roomwright.handover.bass import bass
from roomwright.handover.bass_figures import bass_in_figures
from roomwright.handover.bass_ways import bass_ways
from roomwright.handover.blocks import Section
from roomwright.handover.channels import channels
from roomwright.handover.choices import choices
from roomwright.handover.closing import criteria, findings, limits_method_cautions
from roomwright.handover.content import Content
from roomwright.handover.levels import gather
from roomwright.handover.mains_and_bass import mains_and_bass
from roomwright.handover.outputs import outputs
from roomwright.handover.room import room
from roomwright.handover.summary import summary


def build_report(content: Content) -> bytes:
    """Typeset the report.

    The template stands beside this module; what the report says is handed over as data, so no
    name in a job can be taken for markup.

    Parameters
    ----------
    content
        What to tell of; what is None or empty is left out, and said to be missing where that
        matters.

    Returns
    -------
    bytes
        A tagged PDF, A4.
    """
    template = files("roomwright.handover").joinpath("report.typ").read_bytes()
    return typst.compile(template, format="pdf", sys_inputs={"content": document(content)})


def document(content: Content) -> str:
    """What the template is given: the report's words, tables and pictures as JSON."""
    report = {
        "title": content.job.name,
        "overline": "Tuning and proof of a private cinema",
        "subtitle": _subtitle(content),
        "made_on": content.made_on,
        "footer": _footer(content),
        "sections": [asdict(section) for section in sections(content)],
    }
    return json.dumps(report, ensure_ascii=False, allow_nan=False)


def sections(content: Content) -> tuple[Section, ...]:
    """The report's sections before typesetting, what the client reads first."""
    material = gather(content)
    every = (
        summary(material),
        room(material),
        bass(material),
        bass_in_figures(material),
        bass_ways(material),
        channels(material),
        alignment(material),
        mains_and_bass(material),
        outputs(material),
        choices(material),
        angles(material),
        criteria(material),
        findings(material),
        limits_method_cautions(material),
    )
    return tuple(section for section in every if section is not None)


def _subtitle(content: Content) -> str:
    if content.measured is None:
        return "Report on the tuning and the result predicted from the survey."
    return "Report on the tuning and on what was measured with it loaded."


def _footer(content: Content) -> str:
    simulated = any(take.origin == "rehearsal" for take in content.job.takes)
    return "Roomwright" + (": measured in the rehearsal room, a simulation" if simulated else "")
