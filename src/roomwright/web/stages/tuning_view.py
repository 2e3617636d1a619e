"""What the tuning screen draws: computed by `commissioning`, put on the graph desk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from roomwright._progress import Progress, silent
from roomwright.commissioning.edits import target as edit_target
from roomwright.commissioning.edits import tuning as edit_tuning
from roomwright.commissioning.tuning import changes as tuning_changes
from roomwright.commissioning.tuning import live, modes
from roomwright.commissioning.tuning import scope as tuning_scope
from roomwright.commissioning.tuning.handles import (
    FilterPoint,
    TargetHandle,
    drawn_range_db,
    filter_points,
    level_handles,
    target_handles,
)
from roomwright.commissioning.tuning.live import Live, Measured, Predicted
from roomwright.measurement import ResponseSet
from roomwright.model import Job, Tuning
from roomwright.tuning import plan_of
from roomwright.tuning.bass_ways import BassPlan, planned_from
from roomwright.web.components.graph_desk import (
    FREQUENCY,
    Axis,
    Band,
    Curve,
    GraphDesk,
    Handle,
    Mark,
    Point,
    Shade,
)
from roomwright.web.session import JobSession

Scope = Literal["channel", "group", "all"]
Drawn = Literal["target", "filters", "levels"]

FILTERS = Axis("filters", "dB", -13.0, 7.0)


@dataclass(slots=True)
class Choice:
    """What one window looks at and edits; kept while it goes to other stages."""

    channel: str
    seat: str
    scope: Scope = "channel"
    drawn: Drawn = "target"
    modes: list[str] = field(default_factory=lambda: [modes.REFERENCE, modes.REFERENCE])

    def channels(self, job: Job) -> tuple[str, ...]:
        """The channels that edits apply to; none stands for all."""
        if self.scope == "all":
            return ()
        return (
            tuning_scope.group_of(job, self.channel) if self.scope == "group" else (self.channel,)
        )


@dataclass(frozen=True, slots=True)
class Drawing:
    """Everything of one channel to draw. `others` are the other channels that edits apply to."""

    job: Job
    ready: Live
    channel: str
    tuning: Tuning | None
    measured: Measured | None
    predicted: tuple[Predicted | None, Predicted | None]
    tunings: tuple[Tuning | None, Tuning | None]
    others: tuple[tuple[str, Predicted], ...]
    handles: tuple[TargetHandle, ...]
    points: tuple[FilterPoint, ...]
    low_db: float
    high_db: float


def ready_for(session: JobSession, job: Job) -> Live | None:
    """The prepared survey of a job, None if nothing is measured; kept for all windows.

    Raises
    ------
    InputError
        If a recording cannot be used, or the survey does not fit the job.
    """
    survey = session.survey()
    if survey is None:
        return None
    inputs = (*live.prepared_from(job), id(survey))
    plan = plan_for(session, job, survey)
    return session.remembered("live", inputs, lambda: live.prepare(job, survey, plan))


def plan_for(
    session: JobSession, job: Job, survey: ResponseSet, progress: Progress = silent
) -> BassPlan | None:
    """What the job's bass method feeds its subwoofers; computed once for screen and solver.

    Raises
    ------
    InputError
        If the method cannot be had.
    """
    inputs = (*planned_from(job), id(survey))
    return session.remembered("bass plan", inputs, lambda: plan_of(job, survey, progress))


def tuned_job(session: JobSession, job: Job) -> Job | None:
    """The job that an out-of-date tuning was computed from, if it is kept."""
    basis = "" if job.tuning is None else job.tuning.based_on
    return session.remembered(
        "tuned job", (basis,), lambda: tuning_changes.tuned_job(session.folder)
    )


def compute(
    ready: Live,
    job: Job,
    choice: Choice,
    *,
    tuning: Tuning | None = None,
    refits: bool = False,
    since: Job | None = None,
    others: bool = True,
) -> Drawing:
    """What to draw of the chosen channel.

    Parameters
    ----------
    ready
        The prepared survey.
    job
        The job, perhaps with an edit that is still being dragged.
    choice
        What the window looks at.
    tuning
        Shown in place of the job's.
    refits
        Fit the channel's filters anew: its target or limits are ahead of the tuning.
    since
        The job that the tuning was computed for, if levels or crossovers are ahead of it.
    others
        Whether to predict the other channels that edits apply to as well.
    """
    shown = tuning or job.tuning
    if shown is not None and since is not None:
        shown = live.retouched(ready, since, job, shown)
    if shown is not None and refits:
        shown = live.refit(ready, job, shown, choice.channel)
    measured = live.measured(ready, job, choice.channel)
    low_db, high_db = (-25.0, 15.0) if measured is None else drawn_range_db(measured)
    predicted: list[Predicted | None] = [None, None]
    tunings: list[Tuning | None] = [None, None]
    faint: list[tuple[str, Predicted]] = []
    reference = 0.0
    if shown is not None:
        reference = live.reference_db(ready, job, job.tuning or shown)

        def through(tuned: Tuning, channel: str) -> Predicted | None:
            return live.predict(ready, job, tuned, channel, choice.seat, reference)

        for side, name in enumerate(choice.modes):
            if side and name == choice.modes[0]:
                continue
            tuned = shown if name == modes.REFERENCE else modes.tuning_in(job, shown, name)
            tunings[side], predicted[side] = tuned, through(tuned, choice.channel)
        if others:
            group = choice.channels(job) or tuple(channel.id for channel in job.channels)
            lines = ((c, through(shown, c)) for c in group if c != choice.channel)
            faint = [(c, line) for c, line in lines if line is not None]
    return Drawing(
        job=job,
        ready=ready,
        channel=choice.channel,
        tuning=shown,
        measured=measured,
        predicted=(predicted[0], predicted[1]),
        tunings=(tunings[0], tunings[1]),
        others=tuple(faint),
        handles=_handles(job, choice, low_db),
        points=() if shown is None else tuple(filter_points(job, shown, choice.channel)),
        low_db=low_db,
        high_db=high_db,
    )


def _handles(job: Job, choice: Choice, low_db: float) -> tuple[TargetHandle, ...]:
    channels = choice.channels(job)
    if choice.drawn == "levels":
        return tuple(level_handles(job, channels, choice.channel))
    return tuple(target_handles(job, channels, low_db + 2)) if choice.drawn == "target" else ()


def draw(desk: GraphDesk, drawing: Drawing, choice: Choice, label: Callable[[str], str]) -> None:
    """Put a drawing on the desk, all of it."""
    job = drawing.job
    desk.set_name(f"{label(drawing.channel)}: target and tuning")
    level = Axis("level re target at 1 kHz", "dB", drawing.low_db, drawing.high_db)
    desk.set_axes(FREQUENCY, level, FILTERS)
    desk.set_curves(curves(drawing, choice, label))
    desk.set_bands(bands(drawing))
    desk.set_handles([_handle(handle) for handle in drawing.handles])
    desk.set_points([_point(p) for p in drawing.points] if choice.drawn == "filters" else [])
    marks = [Mark(drawing.ready.ready.transition_hz, "transition")]
    crossover_hz = live.crossover_hz(drawing.ready, job, drawing.channel)
    if crossover_hz is not None:
        marks.append(Mark(crossover_hz, "crossover"))
    desk.set_marks(marks)
    follows = job.target_of(drawing.channel).follows
    desk.set_shades([Shade(f.low_hz, f.high_hz, "own response followed") for f in follows])
    desk.set_caption(
        f"{drawing.ready.smoothing}; averages are of power, the main seat counts twice"
    )


def curves(drawing: Drawing, choice: Choice, label: Callable[[str], str]) -> list[Curve]:
    """The curves of a drawing, the faint ones first."""
    shown: list[Curve] = [
        Curve(f"other:{name}", label(name), line.frequency_hz, line.mean_db, colour=6, faint=True)
        for name, line in drawing.others
    ]
    measured = drawing.measured
    if measured is not None:
        f = measured.frequency_hz
        shown += [
            Curve("measured", "measured, average", f, measured.level_db, colour=5, dash=2),
            Curve("target", "target", f, measured.target_db, colour=0, emphasis=True),
        ]
        if drawing.job.target_of(drawing.channel).follows:
            shown.append(Curve("aimed", "aimed for", f, measured.aimed_db, colour=0, dash=1))
    first, second = drawing.predicted
    seat = choice.seat
    name = "" if choice.modes[0] == modes.REFERENCE else f", {choice.modes[0]}"
    if first is not None:
        f = first.frequency_hz
        shown += [
            Curve("mean", f"predicted, average{name}", f, first.mean_db, colour=2, dash=1),
            Curve("seat", f"predicted, {seat}{name}", f, first.seat_db, colour=1, emphasis=True),
        ]
    if second is not None:
        shown.append(
            Curve(
                "second",
                f"{seat}, {choice.modes[1]}",
                second.frequency_hz,
                second.seat_db,
                colour=3,
                dash=4,
                emphasis=True,
            )
        )
    shown += _filter_curves(drawing, choice)
    return shown


def bands(drawing: Drawing) -> list[Band]:
    """The spread over the seats, and what the limits allow filters."""
    shown = []
    first = drawing.predicted[0]
    if first is not None and _has_spread(first):
        shown.append(
            Band("spread over the seats", first.frequency_hz, first.low_db, first.high_db, colour=1)
        )
    limits = live.limits_band(drawing.ready, drawing.job, drawing.channel)
    if limits is not None:
        shown.append(Band("limits of filters", *limits, colour=3, panel=1))
    return shown


def _has_spread(predicted: Predicted) -> bool:
    """Whether more than one seat was measured."""
    return bool((predicted.high_db > predicted.low_db).any())


def _filter_curves(drawing: Drawing, choice: Choice) -> list[Curve]:
    shown = []
    for side, tuning in enumerate(drawing.tunings):
        if tuning is None:
            continue
        ready = drawing.ready
        levels = live.channel_filters_db(ready, drawing.job, tuning, drawing.channel)
        if levels is None:
            continue
        mode = choice.modes[side]
        name = "filters together" if mode == modes.REFERENCE else f"filters, {mode}"
        colour, dash = (3, 4) if side else (4, 0)
        shown.append(
            Curve(f"filters:{side}", name, ready.grid_hz, levels, colour=colour, dash=dash, panel=1)
        )
    return shown


def _handle(handle: TargetHandle) -> Handle:
    low, high = edit_target.LEVEL_RANGE_DB
    return Handle(
        handle.id,
        handle.label,
        handle.frequency_hz,
        handle.level_db,
        free=handle.free,
        colour=0 if handle.id.startswith("point") else 2,
        low_x=handle.low_hz,
        high_x=handle.high_hz,
        low_y=low,
        high_y=high,
    )


def _point(point: FilterPoint) -> Point:
    low, high = edit_tuning.GAIN_RANGE_DB
    return Point(
        point.id,
        point.label,
        point.biquad.frequency_hz,
        point.biquad.gain_db,
        point.biquad.q,
        base_db=point.base_db,
        colour=2 if point.by_hand else 1,
        low_db=low,
        high_db=high,
    )


def spread_sentence(drawing: Drawing) -> str:
    """How much the seats differ, in one line."""
    first = drawing.predicted[0]
    if first is None:
        return ""
    if not _has_spread(first):
        return "one seat is measured"
    transition = f"{drawing.ready.ready.transition_hz:.0f} Hz"
    said = f"seats differ by {first.spread_below_db:.1f} dB below {transition}"
    if first.spread_above_db == first.spread_above_db:
        said += f", {first.spread_above_db:.1f} dB above"
    return said
