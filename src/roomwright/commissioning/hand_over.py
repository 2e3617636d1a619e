"""The Handover stage: report, settings and filter files in the job's `outputs/`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from roomwright._progress import Progress, part, silent
from roomwright.commissioning.prove import Proved, judged
from roomwright.store import JobFolder, encode_wav


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
    files += [
        folder.write_output(f"fir/{name}.wav", encode_wav(taps, job.sampling_rate_hz))
        for name, taps in handover.fir_taps_by_output(job).items()
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
    )
    report = folder.write_output("report.pdf", handover.build_report(content))
    return HandedOver((report, *files), proved)
