"""What the engineer chose stands in the report: targets, crossovers, by hand, modes."""

from __future__ import annotations

import pytest
from handover_samples import content_of, tuned_job

from roomwright.handover.blocks import Table, Text
from roomwright.handover.choices import choices
from roomwright.handover.levels import gather
from roomwright.handover.report import sections
from roomwright.model import (
    Biquad,
    ByHand,
    FollowRange,
    ListeningMode,
    OwnCrossover,
    OwnTarget,
    RollOff,
    Target,
)
from roomwright.tuning import in_mode


@pytest.fixture(scope="module")
def job():
    return tuned_job("5.1.2", rows=1)


def chosen(job):
    own = Target(
        roll_offs=(RollOff(side="low", frequency_hz=45.0, order=4),),
        follows=(FollowRange(low_hz=2000.0, high_hz=9000.0),),
    )
    return job.model_copy(
        update={
            "own_targets": (OwnTarget(channels=("M+000",), target=own),),
            "own_crossovers": (
                OwnCrossover(channels=("M+030", "M-030"), frequency_hz=60.0, order=8),
                OwnCrossover(channels=("M+110",), full_range=True),
            ),
            "by_hand": (
                ByHand(
                    drives="M+030",
                    trim_change_db=-2.0,
                    delay_change_s=0.0005,
                    biquads=(Biquad(kind="peaking", frequency_hz=212.0, gain_db=-3.0, q=2.0),),
                ),
                ByHand(drives="SW1", flipped=True, no_more_biquads=True),
                ByHand(drives="M-030"),
            ),
            "modes": (ListeningMode(name="Late", bass_db=-6.0, tilt_db=-0.5),),
        }
    )


def tables_of(job):
    section = choices(gather(content_of(job, proved=False)))
    return {block.head[0]: block for block in section.blocks if isinstance(block, Table)}, section


def test_targets_with_their_roll_offs_and_ranges(job):
    (first, second) = tables_of(chosen(job))[1].blocks[0].rows
    assert first[0] == "every other channel"
    plain = first[1].replace("\N{NO-BREAK SPACE}", " ")
    assert plain.startswith("20.0 Hz +5.0 dB, 60.0 Hz +5.0 dB")
    assert first[2:] == ("none", "none")
    assert second[0] == "M+000"
    assert second[2:] == ("low end −3 dB at 45.0 Hz, 24 dB/octave", "2 kHz to 9 kHz")


def test_crossovers_of_single_channels(job):
    table = tables_of(chosen(job))[1].blocks[1]
    assert table.rows == (
        ("M+030, M-030", "high-pass 60 Hz LR8, low-pass 60 Hz LR8"),
        ("M+110", "full range: no high-pass, keeps its bass"),
    )


def test_what_was_set_by_hand(job):
    tables, _ = tables_of(chosen(job))
    numbers = {output.drives: str(output.number) for output in job.outputs}
    first, second = tables["Output"].rows
    assert first == (
        numbers["M+030"],
        "M+030",
        "left",
        "−2.0",
        "+0.50",
        "–",
        "peak 212 Hz −3.0 dB Q 2.00",
    )
    assert second[1:] == ("SW1", "subwoofer", "–", "–", "reversed", "none, and none are computed")


def test_tone_controls_of_each_mode(job):
    changed = chosen(job)
    (row,) = tables_of(changed)[0]["Mode"].rows
    tuning = in_mode(changed, changed.tuning, changed.modes[0])[0]
    change_db = tuning.outputs[0].trim_db - changed.tuning.outputs[0].trim_db
    assert row[:4] == ("Late", "−6.0 dB below 120 Hz", "–", "−0.5")
    assert float(row[4].replace("−", "-")) == pytest.approx(change_db, abs=0.05)
    assert row[5] == "modes/1-late"


def test_nothing_chosen_is_said(job):
    _, section = tables_of(job)
    texts = [block.text for block in section.blocks if isinstance(block, Text)]
    assert any(text.startswith("Nothing: every filter") for text in texts)
    assert any(text.startswith("There is one listening mode") for text in texts)


def test_it_stands_in_the_report_and_only_with_a_tuning(job):
    titles = [section.title for section in sections(content_of(chosen(job)))]
    assert "Targets, settings by hand and listening modes" in titles
    untuned = job.model_copy(update={"tuning": None})
    assert choices(gather(content_of(untuned, proved=False))) is None
