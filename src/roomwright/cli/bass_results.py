"""What the commands of the bass print of their results."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from roomwright.cli import show
from roomwright.cli.results import show_findings

if TYPE_CHECKING:
    from roomwright.commissioning import (
        ArrayProposal,
        BassComparison,
        BassSheet,
        PlaceChoice,
        PlacesFound,
    )
    from roomwright.model import Point, Subwoofer


def names(text: str) -> tuple[str, ...]:
    """Names separated by commas."""
    return tuple(name.strip() for name in text.split(",") if name.strip())


def show_places(found: PlacesFound) -> None:
    """Print the choices of a search, and the subwoofers where they stand."""
    columns = ("", "spread dB2", "level dB", "alike", "free", "10 cm", "1 dB", "3 K", "twins", "")
    rows = [_place_row(str(number), one) for number, one in enumerate(found.choices, start=1)]
    if found.now is not None:
        rows.append(_place_row("now", found.now))
    show.table((*columns, "places x, y, z m"), rows)
    front = [str(number) for number, one in enumerate(found.choices, start=1) if one in found.front]
    show.say(f"best in spread or in level: {', '.join(front)}")
    gap = "" if found.gap is None else f"; at most {100 * found.gap:.0f} % from the best misfit"
    show.say(
        f"{found.looked_at} of {found.sets} sets of {len(found.candidates)} places looked at, "
        f"{found.designed} designed{gap}"
    )
    if found.certainty:
        show.say(found.certainty)
    for remark in dict.fromkeys(one.remark for one in found.choices if one.remark):
        show.say(f"note: {remark}")


def _place_row(name: str, choice: PlaceChoice) -> tuple[str, ...]:
    return (
        name,
        f"{choice.spread_db2:.2f}",
        f"{choice.level_per_drive_db:+.1f}",
        f"{choice.alike_spread_db2:.1f}",
        f"{choice.free_spread_db2:.2f}",
        *(
            "-" if value is None else f"{value:.2f}"
            for value in (choice.moved_db2, choice.gain_off_db2, choice.air_off_db2)
        ),
        str(choice.stands_for),
        "*" if choice.remark else "",
        "; ".join(_place(place) for place in choice.positions_m),
    )


def _place(place: Point) -> str:
    return ", ".join(f"{value:.2f}" for value in place)


def show_subwoofers(job: Path, placed: Sequence[Subwoofer], *, json: bool) -> None:
    """Print where the subwoofers stand."""
    if json:
        show.as_json({"job": str(job), "subwoofers": [one.model_dump() for one in placed]})
        return
    rows = [(one.id, one.model, _place(one.position_m)) for one in placed]
    show.table(("subwoofer", "type", "x, y, z m"), rows)


def show_proposal(proposal: ArrayProposal) -> None:
    """Print a proposed array."""
    rows = [("launches", _place(place)) for place in proposal.launching_m]
    rows += [("absorbs", _place(place)) for place in proposal.absorbing_m]
    show.table(("", "x, y, z m"), rows)
    show.say(proposal.says)
    show.say(
        f"the absorbing ones are inverted, {1e3 * proposal.delay_s:.2f} ms later and at "
        f"{proposal.gain_db:+.1f} dB"
    )
    if proposal.robust_up_to_hz is not None:
        show.say(f"with errors of place and gain up to {proposal.robust_up_to_hz:.0f} Hz")
    for name in proposal.blocked:
        show.say(f"doubt: a place lies in {name}, which is to be kept clear")


def show_figures(sheet: BassSheet) -> None:
    """Print the figures of the bass, decays and modes."""
    low, high = sheet.band_hz
    show.say(f"{sheet.source}, {low:.0f} to {high:.0f} Hz, at {', '.join(sheet.stations)}")
    show.table(("figure", *sheet.sets), sheet.figures)
    show.table(("third octave", *(f"{n} s" for n in sheet.sets), "shortest", "line"), sheet.decay)
    if sheet.modes:
        show.table(("mode", "decay s", "main seat dB", "over seats dB"), sheet.modes)
        show.say(f"the modes leave {sheet.misfit_db:.0f} dB of the energy unexplained")
    show.say("what each figure is, and its source, stands in the report")


def show_comparison(compared: BassComparison) -> None:
    """Print the ways side by side, and the decay of each."""
    rows = [
        (
            "*" if way.used else "",
            way.name,
            f"{way.spread_db2:.2f}",
            f"{way.designed_spread_db2:.2f}",
            f"{way.level_db:+.1f}",
            f"{max(way.drive_db):+.1f}",
            "-" if way.reach_db is None else f"{way.reach_db:.0f}",
            " ".join(f"{value:.0f}" for value in way.ahead_db) or "-",
            "-" if way.late_db is None else f"{way.late_db:.0f}",
            f"{way.gain_off_db2:.2f}",
            f"{way.air_off_db2:.2f}",
            f"{1e3 * way.latency_s:.0f}",
        )
        for way in compared.ways
    ]
    columns = ("", "fed as", "spread dB2", "designed", "level dB", "drive dB", "reach dB SPL")
    show.table((*columns, "ahead dB", "late dB", "1 dB off", "3 K", "late by ms"), rows)
    _show_decay(compared)
    where = "computed from the drawing" if compared.origin == "drawing" else "from the survey"
    show.say(
        f"{where}; judged at {', '.join(compared.judged_at)}, from {compared.band_hz[0]:.0f} to "
        f"{compared.band_hz[1]:.0f} Hz; * is what the job asks for"
    )
    show_findings(compared.findings)


def _show_decay(compared: BassComparison) -> None:
    """Print the longest decay in every third octave against its line."""
    ways = [way for way in compared.ways if way.decay]
    rows = [
        (
            f"{band.frequency_hz:.0f}",
            "-" if band.limit_s is None else f"{band.limit_s:.2f}",
            f"{band.readable_s:.2f}",
            *(f"{way.decay[number].worst_s:.2f}" for way in ways),
        )
        for number, band in enumerate(ways[0].decay)
    ]
    show.table(("decay s at Hz", "line", "readable", *(way.name for way in ways)), rows)
