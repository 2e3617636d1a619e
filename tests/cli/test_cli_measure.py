"""The command that measures, as a person meets it."""

from __future__ import annotations

import io
import json
import sys

from test_cli_commands import job, run

from roomwright.store import open_job

__all__ = ["job"]  # a fixture


def test_a_survey_is_measured_and_what_is_missing_made_up_for(capsys, job):
    with open_job(job) as folder:
        stations = [station.id for station in folder.job.stations]
    words = ("measure", job, "--device", "rehearsal")
    code, out, _ = run(capsys, *words, "--station", stations[0])
    assert code == 0
    assert "nobody near the loudspeakers" in out
    code, out, _ = run(capsys, *words, "--missing", "--json")
    assert code == 0
    assert json.loads(out)["stations"] == stations
    code, out, _ = run(capsys, *words, "--missing")
    assert code == 0
    assert out.splitlines()[0] == (
        "nothing is missing; every output was measured at every station asked for"
    )
    code, out, _ = run(capsys, *words, "--missing", "--json")
    assert code == 0
    assert json.loads(out)["stations"] == stations


def test_without_an_interface_one_sentence_is_said(capsys, job):
    code, _, error = run(capsys, "measure", job)
    assert code == 3
    assert error.strip().count("\n") == 0


def test_control_c_keeps_what_was_captured(capsys, job, monkeypatch):
    from roomwright.commissioning.survey.rigs import RehearsalRig

    play, played = RehearsalRig.play, []

    def interrupted(self, signals, ceiling_dbfs=0.0):
        if len(played) == 3:
            raise KeyboardInterrupt
        played.append(signals)
        return play(self, signals, ceiling_dbfs)

    monkeypatch.setattr(RehearsalRig, "play", interrupted)
    code, _, error = run(capsys, "measure", job, "--device", "rehearsal")
    assert code == 130
    assert "interrupted" in error
    with open_job(job) as folder:
        assert any(take.kind == "take" for take in folder.job.takes)


def test_the_microphone_is_asked_for_and_a_station_skipped(monkeypatch, capsys, job):
    from roomwright.cli import measure_command

    with open_job(job) as folder:
        station = folder.job.stations[0]
    for answer, moved in (("\n", True), ("s\n", False)):
        monkeypatch.setattr(sys, "stdin", io.StringIO(answer))
        assert measure_command._moved(station) is moved
    assert f"microphone to {station.id} (" in capsys.readouterr().err
