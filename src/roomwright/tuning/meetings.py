"""How each main channel of a tuning meets its bass, and the all-pass sections that mend it.

What may be moved, and why. All main channels arrive together at the main seat: where a sound
seems to come from hangs on differences of 0.1 ms (ITU-R BS.1116 allows as much between channels;
from memory), and 0.1 ms turns 80 Hz by 3 degrees only, which mends nothing. So no main channel
gets a delay of its own for the sake of the bass; one delay and polarity of all subwoofers serves
every channel, and the mains wait for the bass where that is late. What is left over is turned by
all-pass sections on the main channels, around the crossover, where they delay nothing that tells
a direction; a left and a right channel share theirs, so that what lies between the two stays
there. Sections on the subwoofers would turn all channels and the LFE alike, which the common delay
does already. They take places that the equaliser would otherwise have, so each must save enough.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement import ResponseSet
from roomwright.model import Biquad, Channel, Finding, Job, OutputTuning, Tuning
from roomwright.tuning.all_passes import WORTH_DB, all_passes, turned_back
from roomwright.tuning.bass import low_bins_hz
from roomwright.tuning.by_hand import without_changes
from roomwright.tuning.chain import bass_gain, output_response
from roomwright.tuning.meeting import Meeting, meeting
from roomwright.tuning.sources import Source, measured_sources, spectra
from roomwright.tuning.summation import best_delay, delayed, later_s, losses_of_delays_db

F = NDArray[np.float64]
C = NDArray[np.complex128]
Sections = tuple[Biquad, ...]

#: Sections that one loudspeaker may have: two turn any phase about a crossover.
_MOST_SECTIONS = 2

#: Delays around the one that loses least, in periods of the crossover, from which sections are
#: looked for too: the best with them need not be the best without.
_STARTS = (-0.5, -0.25, 0.0, 0.25, 0.5)

#: A channel that loses more has its main and its bass a quarter of a period apart on average.
_POOR_DB = -3.0


@dataclass(frozen=True, slots=True)
class ChannelMeeting:
    """The sum of one main channel and its bass around its crossover.

    Losses are in decibels, 0 for a perfect sum: `by_arrival_db` with the subwoofers delayed by
    nothing but their arrival, `by_delay_db` with the best delay of them all and no sections,
    `loss_db` as tuned, all weighed over the stations; `worst_db` at `worst_station`. `least_db` is
    what no delay and no all-pass could undercut, because the stations disagree. `delay_s` is the
    output's.
    """

    channel: str
    crossover_hz: float
    delay_s: float
    sections: Sections
    by_arrival_db: float | None
    by_delay_db: float
    loss_db: float
    worst_station: str
    worst_db: float
    least_db: float


def channel_meetings(job: Job, tuning: Tuning, survey: ResponseSet) -> tuple[ChannelMeeting, ...]:
    """Every main channel that gives its bass to the subwoofers, in the order of the job.

    Parameters
    ----------
    job
        Channels, subwoofers and crossovers.
    tuning
        The settings.
    survey
        Raw responses of each loudspeaker and subwoofer; without a common time zero there is
        nothing to tell, and the result is empty.
    """
    joined = _joined(job, tuning, survey)
    if joined is None:
        return ()
    straight = np.ones(joined.met.frequencies_hz.shape, dtype=np.complex128)
    now = joined.met.loss_db(straight)
    mean = joined.met.losses_db(straight[None])[0]
    plain = joined.met.turned(joined.without_sections)
    alone = best_delay(plain, job.processor.maximum_delay_s, joined.arrival_s)
    without = plain.losses_db(delayed(plain, alone.delay_s, inverted=alone.inverted)[None])[0]
    textbook = None
    if joined.arrival_s is not None:
        turn = delayed(plain, joined.arrival_s, inverted=joined.inverted)
        textbook = plain.losses_db(turn[None])[0]
    least = joined.met.least_loss_db()
    used = joined.weights > 0
    worst = [int(np.argmin(np.where(used, own, np.inf))) for own in now]
    return tuple(
        ChannelMeeting(
            channel=channel.id,
            crossover_hz=float(joined.met.crossover_hz[row]),
            delay_s=joined.outputs[row].delay_s,
            sections=joined.sections[row],
            by_arrival_db=None if textbook is None else float(textbook[row]),
            by_delay_db=float(without[row]),
            loss_db=float(mean[row]),
            worst_station=survey.stations[worst[row]],
            worst_db=float(now[row, worst[row]]),
            least_db=float(least[row]),
        )
        for row, channel in enumerate(joined.channels)
    )


def wanted_sections(job: Job, tuning: Tuning, survey: ResponseSet) -> dict[str, Sections]:
    """All-pass sections for main loudspeakers, by their id; only those that get any.

    They are looked for at several delays of the subwoofers around the tuning's; the delay with
    which all channels lose least with their sections decides. It is not returned: with the
    sections in place it is found again by `align`.
    """
    joined = _joined(job, tuning, survey)
    if joined is None:
        return {}
    groups = _mirrored([channel.id for channel in joined.channels])
    counts = [
        min(_places(job, channel) for channel in (joined.channels[row] for row in rows))
        for rows in groups
    ]
    if not any(counts):
        return {}
    period_s = 1 / float(np.median(joined.met.crossover_hz))
    turns = [delayed(joined.met, n * period_s, inverted=False) for n in _STARTS]
    sketched = [_sections_at(joined, turn, groups, counts, job, refine=False) for turn in turns]
    first = int(np.argmax([score for _, score in sketched]))
    found, score = _sections_at(joined, turns[first], groups, counts, job, refine=True)
    straight = float(losses_of_delays_db(joined.met, np.zeros(1))[0, 0])
    if score <= straight:
        return {}
    return {unit: sections for unit, sections in found.items() if sections}


def _sections_at(
    joined: _Joined,
    turn: C,
    groups: Sequence[list[int]],
    counts: Sequence[int],
    job: Job,
    *,
    refine: bool,
) -> tuple[dict[str, Sections], float]:
    """Sections by loudspeaker with the bass turned by `turn`, and the mean loss with them.

    What every section must save is taken off the loss, or a delay with sections would be as good
    as one without.
    """
    found: dict[str, Sections] = {}
    losses = np.empty(len(joined.channels))
    rate = job.sampling_rate_hz
    for rows, count in zip(groups, counts, strict=True):
        met = joined.met.some(rows).turned(turn[rows])
        sections = all_passes(met, count if refine else min(count, 1), rate, refine=refine)
        losses[rows] = met.losses_db(turned_back(sections, met.frequencies_hz, rate)[None])[0]
        losses[rows] -= WORTH_DB * len(sections)
        for unit in (unit for row in rows for unit in joined.channels[row].loudspeakers):
            found.setdefault(unit, sections)
    return found, float(losses.mean())


def sections_of(job: Job, output: OutputTuning) -> Sections:
    """The all-pass sections at the end of a main loudspeaker's filters, none of them by hand."""
    if output.drives in {subwoofer.id for subwoofer in job.subwoofers}:
        return ()
    computed = output.biquads[len(job.hand(output.drives).biquads) :]
    last = len(computed)
    while last and computed[last - 1].kind == "all_pass":
        last -= 1
    return computed[last:]


def poor_meetings(job: Job, tuning: Tuning, survey: ResponseSet) -> tuple[Finding, ...]:
    """What is said of the channels' sums around their crossovers, and which remain poor."""
    met = channel_meetings(job, tuning, survey)
    if not met:
        return ()
    mean = float(np.mean([one.loss_db for one in met]))
    before = float(np.mean([one.by_delay_db for one in met]))
    turned = sum(bool(one.sections) for one in met)
    findings = []
    if turned:
        text = (
            f"{turned} of {len(met)} have all-pass sections around the crossover; they lose "
            f"{-mean:.1f} dB of the sum there on average, without the sections {-before:.1f} dB"
        )
        findings.append(Finding(severity="note", where="main channels", text=text))
    for one in met:
        if one.loss_db < _POOR_DB:
            text = (
                f"loses {-one.loss_db:.1f} dB of the sum with the subwoofers around "
                f"{one.crossover_hz:.0f} Hz, "
            )
            if without_changes(job) != job:
                text += "with what is changed by hand"
            else:
                text += (
                    "and no delay or all-pass that stays inaudible holds it: "
                    f"{-one.least_db:.1f} dB are the seats' own disagreement, the rest is too "
                    "uneven in phase; another crossover or subwoofer place may help"
                )
            findings.append(Finding(severity="doubt", where=one.channel, text=text))
    return tuple(findings)


@dataclass(frozen=True, slots=True, eq=False)
class _Joined:
    """The N channels that meet their bass as tuned.

    `without_sections` (N, F) turns the bass as taking the sections away would; `arrival_s` is the
    delay with which the bass would then arrive with the mains, None if that cannot be told.
    """

    met: Meeting
    channels: tuple[Channel, ...]
    outputs: tuple[OutputTuning, ...]
    sections: tuple[Sections, ...]
    without_sections: C
    weights: F
    arrival_s: float | None
    inverted: bool


def _joined(job: Job, tuning: Tuning, survey: ResponseSet) -> _Joined | None:
    sources, _ = measured_sources(job, survey)
    settings = {output.drives: output for output in tuning.outputs}
    subwoofers = [sources[s.id] for s in job.subwoofers if s.id in sources]
    if not survey.timed or not subwoofers:
        return None
    below, frequencies = _sum(job, survey, settings, subwoofers)
    mains, bass, channels, crossovers = [], [], [], []
    for channel in job.channels:
        own = [sources[unit] for unit in channel.loudspeakers if unit in sources]
        gain = bass_gain(channel, tuning, frequencies, survey.sampling_rate_hz)
        at_hz = _crossover_hz(settings, own)
        if channel.role == "lfe" or gain is None or at_hz is None:
            continue
        mains.append(_sum(job, survey, settings, own)[0])
        bass.append(gain * below)
        channels.append(channel)
        crossovers.append(at_hz)
    if not channels:
        return None
    weights = np.stack([source.weights for source in subwoofers]).min(axis=0)
    used = weights > 0
    played, heard, at = np.stack(mains), np.stack(bass), np.array(crossovers)
    outputs = tuple(_output(settings, channel.loudspeakers[0]) for channel in channels)
    sections = tuple(sections_of(job, output) for output in outputs)
    met = meeting(played, heard, frequencies, weights, at)
    rate = job.sampling_rate_hz
    # A section does not change a level: its conjugate takes it away.
    plain = played * np.stack([turned_back(s, frequencies, rate) for s in sections])[:, None]
    rows = zip(sections, met.frequencies_hz, strict=True)
    return _Joined(
        met,
        tuple(channels),
        outputs,
        sections,
        np.conj(np.stack([turned_back(s, f, rate) for s, f in rows])),
        weights,
        later_s(plain[:, used], heard[:, used], frequencies, at) if used.any() else None,
        _output(settings, subwoofers[0].id).inverted,
    )


def _sum(
    job: Job,
    survey: ResponseSet,
    settings: Mapping[str, OutputTuning],
    sources: Sequence[Source],
) -> tuple[C, F]:
    """Low spectra (P, B) of sources together through their settings, and frequencies (B,)."""
    total = []
    for source in sources:
        frequencies, own = spectra(survey, source, low_bins_hz(job))
        output = _output(settings, source.id)
        total.append(output_response(output, frequencies, survey.sampling_rate_hz) * own)
    return np.asarray(np.sum(total, axis=0)), frequencies


def _output(settings: Mapping[str, OutputTuning], unit: str) -> OutputTuning:
    return settings.get(unit, OutputTuning(drives=unit))


def _crossover_hz(settings: Mapping[str, OutputTuning], sources: Sequence[Source]) -> float | None:
    """Where the first loudspeaker of a channel has its high-pass; None if it has none."""
    crossovers = _output(settings, sources[0].id).crossovers if sources else ()
    return next((c.frequency_hz for c in crossovers if c.side == "high_pass"), None)


def _places(job: Job, channel: Channel) -> int:
    """Sections that every loudspeaker of a channel has a place for."""
    allowed = min(job.limits.biquads_per_output, job.processor.biquads_per_output)
    hands = [job.hand(unit) for unit in channel.loudspeakers]
    if any(hand.no_more_biquads for hand in hands):
        return 0
    taken = max((len(hand.biquads) for hand in hands), default=0)
    return max(min(_MOST_SECTIONS, allowed - taken), 0)


def _mirrored(names: Sequence[str]) -> list[list[int]]:
    """Rows of channels, a left one and its right one together (ITU-R BS.2051 labels)."""
    groups: dict[str, list[int]] = {}
    for row, name in enumerate(names):
        groups.setdefault(name[:1] + name[1:].lstrip("+-"), []).append(row)
    return list(groups.values())
