"""Findings that say the same of several places."""

from __future__ import annotations

from roomwright.model import Finding, gathered


def test_findings_are_gathered_by_what_they_say_and_the_gravest_come_first():
    note = [Finding(severity="note", where=place, text="is short") for place in "aabc"]
    doubt = Finding(severity="doubt", where="d", text="is noisy")
    assert [(f.severity, f.where, f.text) for f in gathered([*note, doubt])] == [
        ("doubt", "d", "is noisy"),
        ("note", "a and 2 more", "is short"),
    ]
    assert gathered([]) == ()
