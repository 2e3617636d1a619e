"""How much of a core the live meter and spectrum take, against filtering the whole at once.

python benchmarks/bench_meter.py
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy import signal

from roomwright.measurement.metering import BandLevels, SoundLevelMeter
from roomwright.signals import band_filter_sos

RATE, SECONDS, UPDATES_A_SECOND = 48000, 20, 20


def seconds_taken(work: Callable[[], None]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def main() -> None:
    noise = 0.1 * np.random.default_rng(0).standard_normal(RATE * SECONDS).astype(np.float32)
    blocks = np.split(noise, SECONDS * UPDATES_A_SECOND)
    meter, spectrum = SoundLevelMeter(RATE), BandLevels(RATE)

    def live() -> None:
        for block in blocks:
            meter.follow(block)
            spectrum.follow(block)
            meter.show()
            spectrum.levels_db()
            spectrum.peaks_db()

    filters = [band_filter_sos(float(mid), 3, RATE) for mid in spectrum.mid_hz]
    powers = np.zeros(len(filters))

    def plain() -> None:
        for band, sos in enumerate(filters):
            powers[band] = np.sum(signal.sosfilt(sos, noise) ** 2)

    ours, theirs = seconds_taken(live), seconds_taken(plain)
    difference = spectrum.equivalent_db() - 10 * np.log10(2 * powers / noise.size)
    assert np.abs(difference).max() < 1e-6, difference
    print(f"{SECONDS} s at {RATE} Hz, {UPDATES_A_SECOND} updates a second, processor time:")
    print(
        f"  level and {spectrum.mid_hz.size} third octaves: {100 * ours / SECONDS:.1f} % of a core"
    )
    print(
        f"  the bands of the whole at once: {100 * theirs / SECONDS:.1f} %; {ours / theirs:.2f} x"
    )


if __name__ == "__main__":
    main()
