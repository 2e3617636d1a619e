"""A job on responses measured in a real room: index, import, tuning, proof, report.

    python examples/measured_room.py RESPONSES JOB

RESPONSES is a folder of impulse responses as WAV files that are named by their ITU-R BS.2051
labels, such as `M+030.wav`, each with one WAV channel for each ear of a dummy head. JOB is the
folder to make.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

from roomwright import commissioning, store

# A station named like a seat stands for it: here the left ear.
STATIONS = ("R1-1", "right-ear")


def main(responses: Path, job_path: Path) -> None:
    """Run the job and say what came of it."""
    labels = sorted(path.stem for path in responses.glob("*.wav"))
    # The size of the room is not known: what depends on its volume is to be doubted.
    job = commissioning.new_job(
        "Listening room",
        layout=",".join(labels),
        room=commissioning.box_room((5.6, 6.4, 3.2)),
        rows=1,
        seats_per_row=1,
    )
    with store.create_job(job_path, job) as folder:
        index = folder.path / "index.csv"
        with index.open("w", newline="", encoding="utf-8") as file:
            rows = csv.writer(file)
            rows.writerow(("file", "wav_channel", "channel", "station", "kind"))
            for label in labels:
                for wav_channel, station in enumerate(STATIONS, start=1):
                    wav = (responses / f"{label}.wav").resolve()
                    rows.writerow((wav, wav_channel, label, station, "response"))
        # These responses share one start, so arrivals can be compared and delays computed.
        commissioning.import_recordings(folder, index, common_start=True)
        commissioning.tune(folder)
        proved = commissioning.prove(folder)
        for verdict in proved.verdicts_predicted:
            words = {True: "met", False: "not met", None: "not judged"}[verdict.passed]
            print(f"{verdict.title}: {words}. {verdict.reason}")
        print(commissioning.hand_over(folder, proved=proved).files[0])


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
