"""The whole tuning of a job, designed from its survey."""

from __future__ import annotations

from collections.abc import Mapping

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.measurement import ResponseSet
from roomwright.model import (
    BassWishes,
    Biquad,
    Channel,
    Document,
    Finding,
    Job,
    OutputTuning,
    SubwooferPlaces,
    Tuning,
    digest,
)
from roomwright.tuning.alignment import aligned_bass
from roomwright.tuning.bass import (
    equalised_group,
    group_average,
    group_of,
    levelled_group,
    plan_of,
    started_subwoofers,
)
from roomwright.tuning.bass_ways import BassPlan
from roomwright.tuning.by_hand import changed_by_hand, without_changes
from roomwright.tuning.correction import Correction
from roomwright.tuning.crossovers import Crossovers, bass_crossovers
from roomwright.tuning.delays import delayed_mains, delays_within
from roomwright.tuning.equaliser import fir_taps_allowed, shortfall
from roomwright.tuning.mains import equalised_main, main_average
from roomwright.tuning.meetings import poor_meetings, wanted_sections
from roomwright.tuning.sources import Source, measured_sources, transition_hz
from roomwright.tuning.trims import trimmed_mains, with_more_trim

Outputs = dict[str, OutputTuning]
Findings = tuple[Finding, ...]
MainChannels = tuple[tuple[Channel, tuple[Source, ...]], ...]


def tuning_basis(job: Job) -> str:
    """The digest of everything a tuning is computed from; another digest, another tuning.

    Survey takes, stations, the main seat, loudspeaker data, channels, outputs, the processor's
    capability sheet, targets, crossovers, limits, what is set by hand, and how the bass is to be
    fed. Takes of the proof do not count.
    """
    return digest(
        tuple(take for take in job.takes if take.stage == "survey"),
        job.stations,
        job.seat(job.main_seat),
        job.loudspeaker_models,
        job.loudspeakers,
        job.subwoofers,
        job.channels,
        job.outputs,
        job.processor,
        job.target,
        job.own_targets,
        job.limits,
        job.by_hand,
        *_bass_basis(job),
        # Only if there are any: so the digests of older jobs stay as they were.
        *([job.own_crossovers] if job.own_crossovers else []),
    )


def _bass_basis(job: Job) -> tuple[Document | tuple[Document, ...], ...]:
    """What the feeding of the subwoofers rests on besides; nothing where they play alike.

    So a tuning made before there was a choice stays as good as it was.
    """
    bass = job.bass
    if bass.method == "matched":
        held = BassWishes(held_back=bass.held_back)
        return (held,) if bass.held_back else ()
    elsewhere = {"count": 1, "places": SubwooferPlaces(), "keep_clear": ()}
    return (bass.model_copy(update=elsewhere), job.room, job.seats)


def design(
    job: Job,
    survey: ResponseSet,
    progress: Progress = silent,
    plan: BassPlan | None = None,
) -> tuple[Tuning, tuple[Finding, ...]]:
    """The first whole tuning: filters, trims, delays and bass management, rounded to the processor.

    In this order: each main loudspeaker is equalised to the target; those of all channels are
    delayed to arrive together and trimmed to one level at the main seat; the subwoofers are
    matched among themselves, equalised as one, brought to the level at which they continue the
    target, and aligned with the main channels by search over all stations. Where all-pass sections
    then let main channels and bass add up better, all is done once more with them in place.

    Parameters
    ----------
    job
        Its channels, target, limits and capability sheet.
    survey
        Raw responses of each loudspeaker and subwoofer at the stations, with a common time zero
        if they are timed.
    progress
        Told how far the work is; may raise to stop it.
    plan
        What `plan_of` gave for the job's subwoofers; by default it is computed.

    Returns
    -------
    Tuning, tuple of Finding
        The settings of every output, and all that hit a limit, was left alone or is doubtful.

    Raises
    ------
    InputError
        If the survey has another sampling rate than the job, or none of the job's loudspeakers
        and subwoofers.

    Notes
    -----
    Averages over stations are of power, the main seat's counting twice. Trims are the smallest at
    which no output has a gain above 0 dB at any frequency; main channels are lowered further, by
    10 dB at most, where the subwoofers could not follow otherwise. Common practice, no source.
    """
    # Sections are found without what is changed by hand: that comes on top of what is computed.
    computed = without_changes(job)
    if plan is None and survey.sampling_rate_hz == job.sampling_rate_hz:
        plan = plan_of(computed, survey, part(progress, 0.0, 0.1))
    tuning, findings = _designed(computed, survey, part(progress, 0.1, 0.5), {}, plan)
    progress(0.5, "adding up main channels and bass")
    sections = wanted_sections(computed, tuning, survey)
    if sections or computed != job:
        tuning, findings = _designed(job, survey, part(progress, 0.5, 1.0), sections, plan)
    progress(1.0, "tuned")
    return tuning, findings + poor_meetings(job, tuning, survey)


def _designed(
    job: Job,
    survey: ResponseSet,
    progress: Progress,
    sections: Mapping[str, tuple[Biquad, ...]],
    plan: BassPlan | None,
) -> tuple[Tuning, Findings]:
    """The tuning with given all-pass sections of main loudspeakers."""
    if survey.sampling_rate_hz != job.sampling_rate_hz:
        raise InputError(
            f"the survey was made at {survey.sampling_rate_hz} Hz and the job runs at "
            f"{job.sampling_rate_hz} Hz; they must be the same"
        )
    sources, findings = measured_sources(job, survey)
    if not sources:
        raise InputError("the survey holds no response of the job's loudspeakers and subwoofers")
    channels = main_channels(job, sources)
    mains = tuple(source for _, of_channel in channels for source in of_channel)
    subwoofers = tuple(sources[s.id] for s in job.subwoofers if s.id in sources)
    crossovers, found = bass_crossovers(job, channels, subwoofers)
    findings += found + _timing(survey) + _method(job) + _sharing(job, channels, sources)
    outputs = starting_outputs(job, crossovers)
    corrections: dict[str, Correction] = {}
    transition = transition_hz(job, survey, mains)
    findings += (_transition(transition),)

    channel_of = {source.id: channel.id for channel, of in channels for source in of}
    for done, source in enumerate(mains):
        progress(0.7 * done / len(mains), f"equalising {source.id}")
        outputs[source.id], corrections[source.id], found = equalised_main(
            job,
            source,
            main_average(survey, source, transition),
            outputs[source.id],
            job.target_of(channel_of[source.id]),
            crossovers.frequency_hz(channel_of[source.id]),
            transition,
            sections.get(source.id, ()),
        )
        findings += found
    findings += shortfall(corrections, job.limits.maximum_boost_db)
    over_target_db: float | None = None
    if mains:
        progress(0.7, "setting delays and levels")
        if survey.timed:
            outputs, found = delayed_mains(job, survey, outputs, mains)
            findings += found
        outputs, over_target_db, found = trimmed_mains(job, survey, outputs, channels)
        findings += found
    if subwoofers:
        progress(0.75, "tuning the subwoofers")
        outputs, found = _with_bass(
            job, survey, outputs, channels, subwoofers, crossovers, transition, over_target_db, plan
        )
        findings += found
    tuned = {name: outputs[name] for name in outputs if name in sources}
    tuned, found = delays_within(changed_by_hand(job, tuned), job.processor)
    tuning = Tuning(
        outputs=tuple({**_held_down(job, outputs, tuned), **tuned}.values()),
        based_on=tuning_basis(job),
    )
    return crossovers.loaded(tuning), findings + found


def _with_bass(
    job: Job,
    survey: ResponseSet,
    outputs: Outputs,
    channels: MainChannels,
    subwoofers: tuple[Source, ...],
    crossovers: Crossovers,
    transition: float,
    mains_over_target_db: float | None,
    plan: BassPlan | None,
) -> tuple[Outputs, Findings]:
    """The outputs with the subwoofers tuned and set against the main channels."""
    group = group_of(job, survey, subwoofers)
    bass, findings = started_subwoofers(job, survey, group, plan)
    average = group_average(survey, group, bass, transition)
    bass, correction, found = equalised_group(job, survey, group, bass, transition, average, bass)
    findings += found + shortfall({"subwoofers": correction}, job.limits.maximum_boost_db)
    bass, lowering_db, found = levelled_group(job, survey, group, bass, mains_over_target_db)
    findings += found
    mains = tuple(source.id for _, of_channel in channels for source in of_channel)
    outputs = {**outputs, **bass}
    for name in mains:
        outputs[name] = with_more_trim(outputs[name], -lowering_db)
    if not survey.timed or not mains:
        return outputs, findings
    outputs, found = aligned_bass(job, survey, outputs, channels, group, crossovers.low_passes)
    return outputs, findings + found


def main_channels(job: Job, sources: Mapping[str, Source]) -> MainChannels:
    """The main channels with their measured loudspeakers; a shared one counts for its first."""
    taken: set[str] = set()
    channels = []
    for channel in job.channels:
        if channel.role == "lfe":
            continue
        own = tuple(sources[u] for u in channel.loudspeakers if u in sources and u not in taken)
        taken.update(source.id for source in own)
        if own:
            channels.append((channel, own))
    return tuple(channels)


def starting_outputs(job: Job, crossovers: Crossovers) -> Outputs:
    """Every unit's output as a wire, main loudspeakers with the high-pass of their channel."""
    return {
        **{
            s.id: OutputTuning(drives=s.id, crossovers=crossovers.high_passes_of(job, s.id))
            for s in job.loudspeakers
        },
        **{s.id: OutputTuning(drives=s.id) for s in job.subwoofers},
    }


def _held_down(job: Job, outputs: Outputs, tuned: Outputs) -> Outputs:
    """The outputs, those that were not measured with the lowest trim of their kind."""
    subwoofers = {subwoofer.id for subwoofer in job.subwoofers}
    lowest = {
        kind: min([o.trim_db for name, o in tuned.items() if (name in subwoofers) == kind] or [0.0])
        for kind in (True, False)
    }
    return {
        name: output.model_copy(update={"trim_db": lowest[name in subwoofers]})
        for name, output in outputs.items()
    }


def _sharing(job: Job, channels: MainChannels, sources: Mapping[str, Source]) -> Findings:
    own = {channel.id for channel, _ in channels}
    return tuple(
        Finding(
            severity="doubt",
            where=channel.id,
            text="plays only through loudspeakers that belong to other channels, and keeps their "
            "level and delay",
        )
        for channel in job.channels
        if channel.role != "lfe"
        and channel.id not in own
        and any(unit in sources for unit in channel.loudspeakers)
    )


def _transition(frequency_hz: float) -> Finding:
    text = f"single modes stand out below {frequency_hz:.0f} Hz; only there are narrow filters used"
    return Finding(severity="note", where="room", text=text)


def _method(job: Job) -> Findings:
    if job.limits.method == "biquads":
        return ()
    if not fir_taps_allowed(job):
        text = "the processor has too few FIR taps; biquads are used instead"
        return (Finding(severity="doubt", where="equalisation", text=text),)
    text = "the subwoofers keep biquads: a FIR resolves too little of the bass"
    return (Finding(severity="note", where="equalisation", text=text),)


def _timing(survey: ResponseSet) -> Findings:
    if survey.timed:
        return ()
    text = (
        "the responses have no common time zero; delays and the subwoofers' polarity are not "
        "computed"
    )
    return (Finding(severity="doubt", where="survey", text=text),)
