"""The Handover stage: report, settings and filter files in the job's `outputs/`."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.commissioning.bass.compare import compare_bass
from roomwright.commissioning.prove import Proved, judged
from roomwright.model import Handover, Job, digest
from roomwright.store import JobFolder, encode_wav

if TYPE_CHECKING:
    from roomwright.handover import BassWay


@dataclass(frozen=True, slots=True)
class HandedOver:
    """The files written, the report first."""

    files: tuple[Path, ...]
    proved: Proved


def hand_over(
    folder: JobFolder, progress: Progress = silent, *, proved: Proved | None = None
) -> HandedOver:
    """Write the report and everything the processor needs; earlier files are replaced.

    Parameters
    ----------
    folder
        A job folder open for writing.
    progress
        Told how far it is; may raise `Cancelled`.
    proved
        What `prove` returned, to save judging again.

    Raises
    ------
    InputError
        If there is no tuning, it is out of date, or a file cannot be written.
    """
    from roomwright import handover

    if proved is None:
        proved = judged(folder, part(progress, 0.0, 0.5))
    progress(0.5, "writing the settings")
    job = proved.job
    files = [
        folder.write_output("settings.csv", handover.settings_csv(job)),
        folder.write_output("settings.json", handover.settings_json(job)),
        folder.write_output("biquads.csv", handover.biquads_csv(job)),
    ]
    for left in ("fir", "modes"):
        folder.discard_outputs(left)
    files += [
        folder.write_output(f"fir/{name}.wav", encode_wav(taps, job.sampling_rate_hz))
        for name, taps in handover.fir_taps_by_output(job).items()
    ]
    files += [
        folder.write_output(f"fir/{name}.csv", handover.taps_csv(taps, job.sampling_rate_hz))
        for name, taps in handover.fir_taps_by_output(job).items()
    ]
    for mode in job.modes:
        inside, changed = handover.mode_folder(job, mode), handover.job_in_mode(job, mode)
        files += [
            folder.write_output(f"{inside}/settings.csv", handover.settings_csv(changed)),
            folder.write_output(f"{inside}/biquads.csv", handover.biquads_csv(changed)),
        ]
    progress(0.6, "typesetting the report")
    content = handover.Content(
        job=job,
        survey=proved.survey,
        predicted=proved.predicted,
        measured=proved.measured,
        verdicts_predicted=proved.verdicts_predicted,
        verdicts_measured=proved.verdicts_measured,
        findings=proved.findings,
        made_on=datetime.now().astimezone().date().isoformat(),
        bass_ways=_bass_ways(proved, part(progress, 0.6, 0.8)),
    )
    report = folder.write_output("report.pdf", handover.build_report(content))
    folder.save(folder.job.model_copy(update={"handover": Handover(made_of=handover_basis(job))}))
    return HandedOver((report, *files), proved)


def _bass_ways(proved: Proved, progress: Progress) -> tuple[BassWay, ...]:
    """The ways to feed the subwoofers compared; none where they play alike, or it cannot be."""
    from roomwright import handover

    job = proved.job
    if job.bass.method == "matched" or proved.survey is None:
        return ()
    try:
        compared = compare_bass(job, proved.survey, progress)
    except InputError:
        return ()
    held = not set(compared.judged_at) & set(compared.designed_at)
    return tuple(
        handover.BassWay(
            name=way.name,
            used=way.used,
            spread_db2=way.spread_db2,
            designed_spread_db2=way.designed_spread_db2,
            level_db=way.level_db,
            drive_db=max(way.drive_db),
            decay=tuple(
                (
                    band.frequency_hz,
                    band.median_s,
                    band.worst_s,
                    band.readable_s,
                    math.nan if band.limit_s is None else band.limit_s,
                )
                for band in way.decay
            ),
            ahead_db=way.ahead_db,
            gain_off_db2=way.gain_off_db2,
            air_off_db2=way.air_off_db2,
            latency_s=way.latency_s,
            judged_at=compared.judged_at,
            held_back=held,
        )
        for way in compared.ways
    )


def handover_basis(job: Job) -> str:
    """Digest of everything that report and files are made of."""
    return digest(job.model_copy(update={"handover": None}))


def handed_files(folder: JobFolder) -> tuple[Path, ...]:
    """The files in the job's `outputs/`, the report first."""
    outputs = folder.path / "outputs"
    files = sorted(path for path in outputs.rglob("*") if path.is_file())
    return tuple(sorted(files, key=lambda path: path.name != "report.pdf"))


#: What is shown of `settings.csv`: column and heading.
_SHOWN: Final = {
    "output": "output",
    "drives": "drives",
    "english": "which is",
    "connection": "leaves as",
    "output_name": "named",
    "trim_db": "trim, dB",
    "delay_ms": "delay, ms",
    "polarity": "polarity",
    "crossover": "crossover",
    "biquads": "biquads",
    "fir_taps": "FIR taps",
}


def settings_table(job: Job) -> tuple[tuple[str, ...], ...]:
    """The settings of every output as they are handed over: headings, then the rows.

    Raises
    ------
    InputError
        If there is no tuning.
    """
    from roomwright import handover

    rows = csv.DictReader(io.StringIO(handover.settings_csv(job)))
    shown = [tuple(_shown(name, row[name]) for name in _SHOWN) for row in rows]
    return (tuple(_SHOWN.values()), *shown)


def _shown(column: str, text: str) -> str:
    return f"{float(text):.2f}" if column == "delay_ms" else text
