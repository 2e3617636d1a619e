"""How each main channel and its bass add up around the crossover, and sound and picture."""

from __future__ import annotations

import numpy as np

from roomwright.handover.blocks import Section, Table, Text
from roomwright.handover.levels import Material
from roomwright.handover.origin import stage_words
from roomwright.handover.wording import biquad, number
from roomwright.model import Job
from roomwright.standards import bt1359, labels
from roomwright.tuning import ChannelMeeting, channel_meetings, latency

_OPENING = (
    "Around the crossover a main loudspeaker and the subwoofers play the same notes. Where the two "
    "are not in step at a seat, part of their sum is lost; none is lost at 0 dB, 3 dB where they "
    "are a quarter of a period apart."
)

_HEARD = {
    "undetectable": "within what viewers do not notice",
    "detectable": "enough to be noticed, and within what is accepted",
    "unacceptable": "more than is accepted",
}


def mains_and_bass(material: Material) -> Section | None:
    """Table of the sums around the crossovers; None without a tuning or a timed survey."""
    job, survey = material.job, material.content.survey
    if job.tuning is None or survey is None:
        return None
    met = channel_meetings(job, job.tuning, survey)
    if not met:
        return None
    opening = Text(f"{_OPENING} {_in_words(met)}")
    return Section("Main channels and bass", (opening, _table(material, met)))


def sound_and_picture(job: Job) -> str:
    """By how much the sound comes after the picture, and what that means; empty if unknown."""
    late = None if job.tuning is None else latency(job, job.tuning)
    if late is None:
        return ""
    total = f"{number(1e3 * late.sound_after_picture_s, 1)} ms"
    early, after = (f"{abs(1e3 * limit):.0f} ms" for limit in bt1359.DETECTABLE_S)
    waiting = ""
    if late.waiting_s > 0:
        waiting = (
            f" All main channels wait {number(1e3 * late.waiting_s, 1)} ms for the bass, which is "
            "contained in it."
        )
    return (
        f"Sound and picture: the main channels are heard at the main seat {total} after their "
        f"signal enters the processor, {number(1e3 * late.settings_s, 1)} ms of it by the settings "
        f"and the rest on the way through the air; converters and players come on top.{waiting} "
        f"That is {_HEARD[bt1359.timing(late.sound_after_picture_s)]} ({early} before to {after} "
        "after the picture, for the whole way from the maker; ITU-R BT.1359-1, from memory). "
        f"Delaying the picture by {total} brings the two together; where the display is slower "
        "than that, the sound is what must wait."
    )


def _in_words(met: tuple[ChannelMeeting, ...]) -> str:
    lost = float(np.mean([one.loss_db for one in met]))
    alone = float(np.mean([one.by_delay_db for one in met]))
    words = f"On average over channels and seats {number(-lost, 1)} dB are lost"
    if any(one.sections for one in met):
        words += f"; with the best delay alone it would be {number(-alone, 1)} dB"
    return f"{words}."


def _table(material: Material, met: tuple[ChannelMeeting, ...]) -> Table:
    rows = tuple(
        (
            one.channel,
            labels.english(one.channel),
            f"{one.crossover_hz:.0f}",
            number(1e3 * one.delay_s, 2),
            "; ".join(biquad(section).removeprefix("all-pass ") for section in one.sections)
            or "none",
            number(one.by_arrival_db, 1),
            number(one.by_delay_db, 1),
            number(one.loss_db, 1),
            f"{number(one.worst_db, 1)} at {one.worst_station}",
            number(one.least_db, 1),
        )
        for one in met
    )
    return Table(
        head=(
            "Channel",
            "Name",
            "At, Hz",
            "Delay, ms",
            "All-pass",
            "By arrival",
            "By delay",
            "As tuned",
            "Worst seat",
            "Least",
        ),
        rows=rows,
        widths=(0, 1, 0, 0, 0, 0, 0, 0, 0, 0),
        align="llrrlrrrlr",
        caption="Loss, dB, of the sum of each main channel and the subwoofers, from half to twice "
        "the crossover: mean over frequency of 20 lg(|M + S| / (|M| + |S|)), each frequency "
        "weighted by 2|M||S| / (|M|² + |S|²), where the two are within 10 dB of each other; over "
        "the stations as the tuning weighs them. By arrival: subwoofers delayed so that both "
        "arrive together. By delay: with the one delay and polarity that lose least. As tuned: "
        "with the all-pass filters, which left and right channels share. Least: what no delay and "
        "no all-pass could undercut, because the seats disagree. Computed from the survey "
        f"({stage_words(material, 'survey')}) and the settings.",
    )
