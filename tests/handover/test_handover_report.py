"""The report: what it says of full and of poor data, and that it says it literally."""

from __future__ import annotations

import dataclasses
import json
from importlib.resources import files

import numpy as np
import pytest
import typst
from handover_samples import content_of, takes_of, tuned_job, verdicts

from roomwright.handover import build_report
from roomwright.handover.blocks import Beside, Bullets, Facts, Figure, Note, Small, Table, Text
from roomwright.handover.report import document, sections
from roomwright.model import Station

NASTY = '#set text(red) $x$ *bold* _it_ [y] <z> @ref \\ "q" `raw` //c'


def blocks_of(content):
    def flat(blocks):
        for block in blocks:
            if isinstance(block, Beside):
                yield from flat(block.left)
                yield from flat(block.right)
            else:
                yield block

    return [block for section in sections(content) for block in flat(section.blocks)]


def words_of(content):
    """Everything the report says, in one string."""
    said = []
    for block in blocks_of(content):
        if isinstance(block, Text | Note | Small):
            said.append(block.text)
        elif isinstance(block, Bullets):
            said += [" ".join(item) for item in block.items]
        elif isinstance(block, Facts):
            said += [" ".join(pair) for pair in block.pairs]
        elif isinstance(block, Table):
            said += [block.caption, *(" | ".join(row) for row in block.rows)]
        elif isinstance(block, Figure):
            said.append(block.caption)
    return "\n".join(said)


def titles(content):
    return [section.title for section in sections(content)]


def query(content, selector):
    template = files("roomwright.handover").joinpath("report.typ").read_bytes()
    compiler = typst.Compiler(template, sys_inputs={"content": document(content)})
    return json.loads(compiler.query(selector))


def test_a_whole_report_is_a_tagged_pdf_with_title_and_bookmarks(content):
    pdf = build_report(content)
    assert pdf.startswith(b"%PDF-1.7")
    for wanted in (b"/MarkInfo", b"/StructTreeRoot", b"/Lang(en-GB)", b"/Title(Lanternhouse)"):
        assert wanted in pdf
    assert b"/Title(The bass, seat by seat)" in pdf


def test_the_sections_come_in_the_client_s_order(content):
    assert titles(content) == [
        "Summary",
        "The room",
        "The bass, seat by seat",
        "The bass in figures",
        "Every channel",
        "Levels, arrivals and take quality",
        "Main channels and bass",
        "Settings",
        "Targets, settings by hand and listening modes",
        "Where the loudspeakers stand",
        "The criteria in detail",
        "Findings",
        "Limits, method and cautions",
    ]


def test_names_come_out_literally():
    """No name is markup: the typesetter's own tree holds them character by character."""
    job = tuned_job("M+030,M-030", rows=1, seats_per_row=1, name=NASTY)
    wall = job.room.walls[0].model_copy(update={"material": NASTY})
    room = job.room.model_copy(update={"walls": (wall,) * 4})
    content = content_of(job.model_copy(update={"room": room}))
    tables = json.dumps(query(content, "figure.where(kind: table)"))
    assert tables.count(json.dumps(NASTY)[1:-1]) == 4
    assert query(content, "strong.where(body: [bold])") == []
    assert build_report(content).startswith(b"%PDF")


def test_every_picture_and_table_with_results_says_where_it_comes_from(content):
    for block in blocks_of(content):
        if isinstance(block, Figure):
            assert any(
                words in block.caption
                for words in ("omputed from", "ositions", "average over", "as in the figure above")
            ), block.caption
            assert all(drawing.alt for drawing in block.drawings)
        if isinstance(block, Table):
            assert block.caption
            assert {len(row) for row in block.rows} == {len(block.head)}
            assert len(block.widths) == len(block.align) == len(block.head)


def test_verdicts_stand_in_words_beside_predicted_and_measured_values(content):
    table = next(b for b in blocks_of(content) if isinstance(b, Table) and b.marked == 4)
    by_title = {row[0]: row for row in table.rows}
    assert by_title["Level match"][2:5] == ("0.4 dB", "0.3 dB", "met")
    assert by_title["Bass"][1:5] == ("at most 9 dB²", "12.1 dB²", "12.1 dB²", "not met")
    assert by_title["Arrival"][2:5] == ("–", "–", "not judged")
    assert by_title["Level match"][5] != by_title["Decay"][5]
    assert "3 of 5 criteria are met, 1 is not met and 1 could not be judged" in words_of(content)


def test_a_simulation_is_called_one_on_the_first_page(content):
    note = next(b for b in sections(content)[0].blocks if isinstance(b, Note))
    assert "which is a simulation" in note.text
    imported = content.job.model_copy(update={"takes": takes_of(content.job, "import")})
    words = words_of(dataclasses.replace(content, job=imported))
    assert "simulation" not in words
    assert "recordings made elsewhere and imported" in words


def test_poor_data_make_a_report_that_says_so():
    job = tuned_job("M+030,M-030,M+000", rows=1, seats_per_row=2)
    job = job.model_copy(update={"stations": (Station(id="P1"), Station(id="P2"))})
    content = content_of(job, proved=False, absolute=False, timed=False)
    words = words_of(content)
    assert "Nothing was re-measured" in words
    assert "levels are relative" in words
    assert "share no time reference" in words
    assert "There is no subwoofer" in words
    assert "No station stands for the main seat" in words
    assert "The places of 2 stations were not written down" in words
    assert "with 2 stations averages and spreads say little" in words
    assert "no background noise was recorded" in words
    assert "at 2 stations: one line each" in words
    assert build_report(content).startswith(b"%PDF")


def test_without_any_response_the_settings_and_the_room_remain():
    job = tuned_job("5.1.2", rows=1, seats_per_row=3)
    content = dataclasses.replace(
        content_of(job, proved=False, surveyed=False),
        predicted=None,
        verdicts_predicted=(),
        findings=(),
    )
    assert titles(content) == [
        "Summary",
        "The room",
        "Settings",
        "Targets, settings by hand and listening modes",
        "Where the loudspeakers stand",
        "Findings",
        "Limits, method and cautions",
    ]
    assert "raised no doubts" in words_of(content)
    assert build_report(content).startswith(b"%PDF")


def test_without_a_tuning_the_survey_is_still_shown():
    job = tuned_job("5.1.2", rows=1, seats_per_row=3).model_copy(update={"tuning": None})
    content = dataclasses.replace(
        content_of(job, proved=False), predicted=None, verdicts_predicted=()
    )
    assert "Settings" not in titles(content)
    assert "Every channel" in titles(content)
    assert build_report(content).startswith(b"%PDF")


def test_twenty_four_channels_fit():
    job = tuned_job("9+10+3", rows=3, seats_per_row=5)
    content = content_of(job, stations=3)
    panels = next(b for b in blocks_of(content) if isinstance(b, Figure) and b.key is not None)
    assert len(panels.drawings) == 24
    assert build_report(content).startswith(b"%PDF")


def test_a_source_that_was_not_measured_leaves_gaps_not_errors(content):
    measured = content.measured
    present = measured.present.copy()
    present[0] = False
    present[1, 0] = False
    holes = dataclasses.replace(
        measured, present=present, samples=np.where(present[..., None], measured.samples, 0)
    )
    assert build_report(dataclasses.replace(content, measured=holes)).startswith(b"%PDF")


def test_findings_are_told_once_and_doubts_first(content):
    twice = dataclasses.replace(content, findings=content.findings * 2)
    table = next(
        b for b in blocks_of(twice) if isinstance(b, Table) and b.head == ("Kind", "Where", "What")
    )
    assert [row[0] for row in table.rows] == ["Doubtful", "Note"]


@pytest.mark.parametrize("word", ["Hearing", "Loudspeakers", "Loads overhead", "Mains", "Fire"])
def test_the_cautions_are_there(content, word):
    assert f"{word}. " in words_of(content)


def test_the_same_content_gives_the_same_words(content):
    assert document(content) == document(dataclasses.replace(content))
    assert verdicts() == content.verdicts_predicted


def test_main_channels_and_bass_have_their_figures_and_the_picture_its_delay(content):
    words = words_of(content)
    assert "of the sum of each main channel" in words
    assert "ITU-R BT.1359-1, from memory" in words
    assert "Delaying the picture by" in words
    table = next(b for b in blocks_of(content) if isinstance(b, Table) and "By delay" in b.head)
    assert [row[0] for row in table.rows] == [
        channel.id for channel in content.job.channels if channel.role != "lfe"
    ]
    untimed = words_of(content_of(content.job, timed=False))
    assert "of the sum of each" not in untimed
    assert "ITU-R BT.1359-1, from memory" in untimed
