"""What the lines of the graph desk are called, how they look, and what is doubtful of them."""

from __future__ import annotations

from roomwright.commissioning.desk.view import MEAN_ALL, MEAN_SEATS, Choice, DeskLine, DeskView
from roomwright.web.components.graph_desk import Band, Curve
from roomwright.web.desk_looks import listed, look_of
from roomwright.web.page import JobPage


def place_words(page: JobPage, place: str) -> str:
    """A station, or a mean over stations, in words."""
    if place in {MEAN_ALL, MEAN_SEATS}:
        return "mean of all stations" if place == MEAN_ALL else "mean of the seats"
    seats = {station.id: station.seat for station in page.job.stations}
    return f"seat {seats[place]}" if seats.get(place) else place


def title_of(page: JobPage, choice: Choice) -> str:
    """The graph's title: what is shown of which channels."""
    sources = [page.label(source) for source in choice.sources]
    return f"{choice.quantity.capitalize()}: {listed(sources)}"


def curves_of(page: JobPage, choice: Choice, view: DeskView) -> list[Curve]:
    """The curves of a view, each with its label and look."""
    pairs = list(dict.fromkeys((one.source, one.place) for one in view.lines))
    return [
        Curve(
            f"{one.kind} {one.source} {one.place} {one.panel}",
            _words(page, choice, one),
            one.line.x,
            one.line.y,
            **look_of(choice, pairs, one),
            panel=one.panel,
        )
        for one in view.lines
    ]


def bands_of(view: DeskView, curves: list[Curve]) -> list[Band]:
    """The ranges of a view, in the colours of their curves."""
    colours = {curve.id: curve.colour for curve in curves}
    bands = []
    for one in view.ranges:
        colour = next(
            (c for i, c in colours.items() if i.startswith(f"{one.kind} {one.source} ")), 0
        )
        bands.append(Band("", one.frequency_hz, one.low_db, one.high_db, colour=colour))
    return bands


def why_empty(choice: Choice, view: DeskView) -> str:
    """Why a view has no curves: what was not chosen, or what is missing."""
    for what, name in (
        (choice.sources, "channel"),
        (choice.places, "place"),
        (choice.kinds, "kind"),
    ):
        if not what:
            return f"Choose at least one {name}."
    return "; ".join(view.missing[:4])


def tuning_doubt(page: JobPage, choice: Choice) -> tuple[str, ...]:
    """What is to be said of a prediction by a tuning that is out of date."""
    if "predicted" not in choice.kinds:
        return ()
    stale = [
        state
        for state in page.session.stages(page.label)
        if state.stage == "tuning" and state.state == "out of date"
    ]
    return ("predicted by a tuning that is out of date",) if stale else ()


def _words(page: JobPage, choice: Choice, one: DeskLine) -> str:
    """Label of a line: what tells it from the others."""
    words = [page.label(one.source)]
    if len(choice.places) > 1:
        words.append(place_words(page, one.place))
    if len(choice.kinds) > 1:
        words.append(one.kind)
    return ", ".join(words)
