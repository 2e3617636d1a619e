"""The graph desk: any responses of a job over each other, the same in every stage."""

from __future__ import annotations

import asyncio
import dataclasses
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal
from weakref import WeakKeyDictionary

from nicegui import background_tasks, ui

from roomwright._errors import InputError
from roomwright.commissioning.desk.curves import QUANTITIES, SMOOTHINGS, WHOLE, Quantity, Window
from roomwright.commissioning.desk.decay_map import DecayMap, decay_map
from roomwright.commissioning.desk.distortion import distortion_lines
from roomwright.commissioning.desk.earlier import EarlierTuning, earlier_tunings
from roomwright.commissioning.desk.view import (
    MEAN_ALL,
    MEAN_SEATS,
    Choice,
    DeskView,
    Kind,
    desk_view,
)
from roomwright.commissioning.survey.responses import takes_of
from roomwright.measurement import ResponseSet
from roomwright.tuning import predict
from roomwright.web.components.graph_desk import FREQUENCY, Axis, Curve, GraphDesk, distinct
from roomwright.web.desk_controls import one_of, several, tool
from roomwright.web.desk_decay import show_map, show_waterfall
from roomwright.web.desk_lines import (
    bands_of,
    curves_of,
    place_words,
    title_of,
    tuning_doubt,
    why_empty,
)
from roomwright.web.desk_looks import (
    ORDERS,
    axis_of,
    single_station,
    sources_of,
    untrusted,
)
from roomwright.web.page import JobPage

#: Quantities that are more than lines read from a set of responses.
View = Literal["curves", "decay", "waterfall", "distortion"]

_READ_ALONE: Final[tuple[View, ...]] = ("decay", "waterfall", "distortion")

_KINDS: Final[tuple[Kind, ...]] = ("before", "predicted", "re-measured", "earlier")

_HELD_DASH: Final = 2

#: An answer that takes longer is announced, seconds.
_PATIENCE_S: Final = 0.4

_WINDOWS: Final[Mapping[str, Window]] = {
    "whole response": WHOLE,
    "5 ms": Window("time", 0.005),
    "20 ms": Window("time", 0.020),
    "80 ms": Window("time", 0.080),
    "300 ms": Window("time", 0.300),
    "6 periods": Window("cycles", 6.0),
    "15 periods": Window("cycles", 15.0),
}

_LEVEL: Final = Axis("level", "dB", 50.0, 100.0)
_NOTHING: Final = "Nothing is measured yet: rehearse or import recordings in the survey stage."


@dataclass(frozen=True, slots=True)
class Desk:
    """What one window's desk shows; it outlives the elements, which are built again.

    `earlier` is the digest of the earlier tuning to predict with; the last one if there is none.
    """

    choice: Choice
    view: View = "curves"
    held: tuple[Curve, ...] = ()
    earlier: str = ""


_SHOWN: WeakKeyDictionary[JobPage, Desk] = WeakKeyDictionary()


def show(page: JobPage, choice: Choice | None = None) -> None:
    """Build the desk in the current slot; `choice` is shown instead of what the window had."""
    if choice is not None:
        _SHOWN[page] = Desk(choice)
    _DeskScreen(page)


def first_choice(page: JobPage) -> Choice:
    """What a window sees first: its channel, or the front ones, over all stations."""
    job = page.job
    channels = [channel.id for channel in job.channels]
    sources = (page.channel,) if page.channel in channels else tuple(channels[:3])
    kinds: tuple[Kind, ...] = ("before",) if job.tuning is None else ("before", "predicted")
    return Choice(kinds=kinds, sources=sources)


class _DeskScreen:
    """The controls and the graph of one window."""

    def __init__(self, page: JobPage) -> None:
        self._page = page
        self._state = _SHOWN.get(page) or Desk(first_choice(page))
        self._asked = 0
        self._busy = False
        self._offered = ""
        with ui.element("div").style("width: 100%; height: 100%; min-height: 240px"):
            self._graph = GraphDesk(y=_LEVEL, name="Responses")
        with self._graph:
            self._build_controls()
        self._unlisten = page.session.listen(self._job_changed)
        # A job that is still listened to for a window that is gone would never fall silent.
        ui.context.client.on_delete(self._unlisten)
        self._ask()

    # Controls

    def _build_controls(self) -> None:
        choice = self._state.choice
        job = self._page.job
        sources = {name: self._page.label(name) for name in sources_of(self._page)}
        places = {MEAN_ALL: "mean of all stations", MEAN_SEATS: "mean of the seats"}
        for station in job.stations:
            places[station.id] = f"seat {station.seat}" if station.seat else station.id
        several("channels", sources, choice.sources, lambda v: self._choose(sources=v))
        several("places", places, choice.places, lambda v: self._choose(places=v))
        several(
            "kinds",
            {kind: f"{kind}{self._why_not(kind)}" for kind in _KINDS},
            choice.kinds,
            lambda v: self._choose(kinds=v),
        )
        shown: str = choice.quantity if self._state.view == "curves" else self._state.view
        self._which = one_of("earlier tuning", {}, None, self._choose_earlier)
        self._which.set_visibility(False)
        one_of("quantity", dict.fromkeys((*QUANTITIES, *_READ_ALONE)), shown, self._quantity)
        lower = {"": "alone", "phase": "and phase", "group delay": "and group delay",
                 "excess phase": "and excess phase"}  # fmt: skip
        self._lower = one_of(
            "second graph", lower, choice.lower or "", lambda v: self._choose(lower=v or None)
        )
        smoothings = {n: "1 octave" if n == 1 else f"1/{n} octave" for n in SMOOTHINGS}
        one_of("smoothing", smoothings, choice.smoothing, lambda v: self._choose(smoothing=int(v)))
        window = next(name for name, one in _WINDOWS.items() if one == choice.window)
        one_of(
            "window", dict.fromkeys(_WINDOWS), window,
            lambda v: self._choose(window=_WINDOWS[v]),
        )  # fmt: skip
        self._spread = tool("Spread", "range over the stations", self._toggle_spread)
        self._hold = tool("Hold", "keep these curves to compare with", self._toggle_hold)
        self._press_buttons()

    def _press_buttons(self) -> None:
        for button, pressed in (
            (self._spread, self._state.choice.spread),
            (self._hold, bool(self._state.held)),
        ):
            button.props(f"aria-pressed={'true' if pressed else 'false'}")

    def _why_not(self, kind: Kind) -> str:
        job = self._page.job
        if kind in {"predicted", "earlier"} and job.tuning is None:
            return " (no tuning yet)"
        if kind == "re-measured" and not takes_of(job, "proof"):
            return " (nothing is re-measured yet)"
        return ""

    def _choose(self, **changes: Any) -> None:  # noqa: ANN401 - fields of Choice
        self._keep(choice=dataclasses.replace(self._state.choice, **changes))

    def _choose_earlier(self, tuning: str | None) -> None:
        if tuning is not None and tuning != self._offered:
            self._keep(earlier=tuning)

    def _quantity(self, name: str) -> None:
        if name in _READ_ALONE:
            self._keep(view=name, held=())
        else:
            quantity: Quantity = next(one for one in QUANTITIES if one == name)
            choice = dataclasses.replace(self._state.choice, quantity=quantity)
            self._keep(view="curves", held=(), choice=choice)

    def _toggle_spread(self) -> None:
        self._choose(spread=not self._state.choice.spread)

    def _toggle_hold(self) -> None:
        if self._state.held:
            self._keep(held=())
        elif self._state.view == "curves":
            self._keep(
                held=tuple(
                    dataclasses.replace(
                        curve, id=f"held {curve.id}", label=f"{curve.label}, held", dash=_HELD_DASH
                    )
                    for curve in self._graph.curves
                )
            )

    def _keep(self, **changes: Any) -> None:  # noqa: ANN401 - fields of Desk
        self._state = dataclasses.replace(self._state, **changes)
        _SHOWN[self._page] = self._state
        self._press_buttons()
        self._ask()

    # Computing, off the event loop; only the newest answer is shown

    def _job_changed(self) -> None:
        if self._graph.is_deleted:
            self._unlisten()
        else:
            self._ask()

    def _ask(self) -> None:
        """Have the present choice shown; one at a time: a long reading holds one thread."""
        self._asked += 1
        if not self._busy:
            self._busy = True
            background_tasks.create(self._answer(), name="graph desk")

    async def _answer(self) -> None:
        answered = 0
        try:
            while answered != self._asked and not self._graph.is_deleted:
                await asyncio.sleep(0.05)  # several changes at once are answered once
                answered = self._asked
                work = asyncio.create_task(asyncio.to_thread(self._shown_or_said, self._state))
                if not (await asyncio.wait({work}, timeout=_PATIENCE_S))[0]:
                    # Not the present choice but an older one is still drawn.
                    self._graph.set_empty("Reading the responses …")
                show_it = await work
                if answered == self._asked and not self._graph.is_deleted:
                    show_it()
        finally:
            self._busy = False

    def _shown_or_said(self, state: Desk) -> Callable[[], None]:
        try:
            return self._computed(state)
        except InputError as error:
            sentence = str(error)
            return lambda: self._show_nothing(sentence)

    def _computed(self, state: Desk) -> Callable[[], None]:
        """Compute what is to be shown, in a worker thread; the result shows it."""
        if state.view == "distortion":
            return self._computed_distortion(state.choice)
        earlier = self._earlier_tunings() if "earlier" in state.choice.kinds else ()
        last = earlier[0] if earlier else None
        chosen = next((one for one in earlier if one.id == state.earlier), last)
        sets = self._sets(state.choice, chosen)
        show_it = self._computed_of(state, sets, chosen)

        def show_all() -> None:
            self._offer_earlier(earlier, chosen)
            show_it()

        return show_all

    def _computed_of(
        self, state: Desk, sets: Mapping[Kind, ResponseSet], chosen: EarlierTuning | None
    ) -> Callable[[], None]:
        if not sets:
            return lambda: self._show_nothing(_NOTHING)
        if state.view in {"decay", "waterfall"}:
            return self._computed_decay(state, sets)
        view = desk_view(self._page.job, sets, state.choice)
        return lambda: self._show_curves(state, view, chosen)

    def _sets(self, choice: Choice, chosen: EarlierTuning | None) -> dict[Kind, ResponseSet]:
        session = self._page.session
        ways: dict[Kind, Callable[[], ResponseSet | None]] = {
            "before": session.survey,
            "predicted": session.predicted,
            "re-measured": session.measured,
            "earlier": lambda: self._earlier(chosen),
        }
        found = {kind: ways[kind]() for kind in choice.kinds}
        return {kind: one for kind, one in found.items() if one is not None}

    def _earlier_tunings(self) -> tuple[EarlierTuning, ...]:
        session = self._page.session
        return session.remembered(
            "earlier tunings", (session.job,), lambda: earlier_tunings(session.folder)
        )

    def _earlier(self, chosen: EarlierTuning | None) -> ResponseSet | None:
        session = self._page.session
        job, survey = session.job, session.survey()
        if survey is None or chosen is None:
            return None
        tuning = chosen.tuning
        return session.remembered(
            "earlier", (tuning, job.channels, job.units), lambda: predict(job, tuning, survey)
        )

    def _offer_earlier(
        self, earlier: tuple[EarlierTuning, ...], chosen: EarlierTuning | None
    ) -> None:
        """Show the list of earlier tunings where they are of use."""
        self._which.set_visibility(chosen is not None)
        if chosen is not None:
            self._offered = chosen.id
            self._which.set_options({one.id: one.says for one in earlier}, value=chosen.id)
            self._which.props(f'display-value="earlier: until {chosen.when}"')

    def _computed_decay(self, state: Desk, sets: Mapping[Kind, ResponseSet]) -> Callable[[], None]:
        choice = state.choice
        for kind in choice.kinds:
            for source in choice.sources:
                for place in choice.places:
                    if kind in sets and source in sets[kind].sources:
                        station = single_station(self._page, place)
                        shown = decay_map(sets[kind], source, station)
                        at = place_words(self._page, station)
                        name = f"{self._page.label(source)} at {at}, {kind}"
                        return lambda: self._show_decay(state.view, shown, name)
        raise InputError("none of the chosen channels was measured; choose others")

    def _computed_distortion(self, choice: Choice) -> Callable[[], None]:
        folder = self._page.session.folder
        curves: list[Curve] = []
        for source in choice.sources:
            station = single_station(self._page, choice.places[0] if choice.places else MEAN_ALL)
            for order, line in distortion_lines(folder, source, station).items():
                label = f"{self._page.label(source)}, {ORDERS[order]}"
                curves.append(
                    Curve(f"{source} {order}", label, line.x, line.y, **distinct(len(curves)))
                )
        if not curves:
            raise InputError("choose a channel to see its distortion")
        return lambda: self._show_distortion(tuple(curves), place_words(self._page, station))

    # Showing

    def _show_nothing(self, sentence: str) -> None:
        self._graph.set_map(None)
        self._graph.set_curves(())
        self._graph.set_bands(())
        self._graph.set_shades(())
        self._graph.set_caption("")
        self._graph.set_empty(sentence)

    def _show_curves(self, state: Desk, view: DeskView, earlier: EarlierTuning | None) -> None:
        curves = curves_of(self._page, state.choice, view)
        graph = self._graph
        graph.set_map(None)
        graph.set_axes(
            axis_of(view.x), axis_of(view.y), None if view.lower is None else axis_of(view.lower)
        )
        graph.set_name(title_of(self._page, state.choice))
        graph.set_bands(bands_of(view, curves))
        graph.set_shades(untrusted(view))
        doubts = tuning_doubt(self._page, state.choice)
        if earlier is not None:
            doubts += (f"earlier: the tuning until {earlier.says}",)
        graph.set_caption("; ".join((view.caption, *doubts, *view.missing[:3])))
        graph.set_empty("" if curves else why_empty(self._state.choice, view) or _NOTHING)
        graph.set_curves((*state.held, *curves))

    def _show_decay(self, view: View, shown: DecayMap, name: str) -> None:
        self._show_nothing("")
        (show_waterfall if view == "waterfall" else show_map)(self._graph, shown, name)

    def _show_distortion(self, curves: tuple[Curve, ...], place: str) -> None:
        graph = self._graph
        self._show_nothing("")
        graph.set_axes(FREQUENCY, Axis("level re fundamental", "dB", -100.0, 0.0))
        graph.set_name(f"Distortion at {place}")
        graph.set_curves(curves)
        graph.set_caption(
            f"harmonics 2 to 5 over the fundamental's frequency, before tuning, at {place}; "
            "smoothed over 1/6 octave; room and noise are in it"
        )
