"""The whole demo job: seconds of each stage, peak memory; target 60 s and 1.5 GB on two cores."""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

from roomwright import commissioning, store


def main() -> None:
    """Run the stages one after the other and print what each took."""
    with tempfile.TemporaryDirectory() as base:
        started = last = time.perf_counter()

        def lap(stage: str) -> None:
            nonlocal last
            now = time.perf_counter()
            print(f"{stage:10s} {now - last:6.1f} s")
            last = now

        with store.create_job(Path(base) / "demo", commissioning.demo_job()) as folder:
            commissioning.rehearse(folder)
            lap("rehearse")
            commissioning.tune(folder)
            lap("tune")
            proved = commissioning.prove(folder)
            lap("prove")
            commissioning.hand_over(folder, proved=proved)
            lap("handover")
        per_unit = 1024**2 if sys.platform == "darwin" else 1024
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / per_unit
        print(f"{'whole':10s} {last - started:6.1f} s, peak memory {peak_mb:.0f} MB")


if __name__ == "__main__":
    main()
