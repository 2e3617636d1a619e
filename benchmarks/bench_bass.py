"""All of the bass in one command: every speed and figure beside its limit or aim.

Runs bench_placement, bench_arrays, bench_box_field and bench_bass_rooms, whose options it takes,
one after the other, and sums them up. Over half an hour on two cores; less with --rooms 5
--array-rooms 5.
"""

from __future__ import annotations

import argparse
import os

import bench_arrays
import bench_bass_rooms
import bench_box_field
import bench_placement

#: At most, or at least where the figure should be large.
AT_MOST = {
    "spread at unity gain, s": 1.0,
    "gain and delay of the best 1000 sets, s": 15.0,
    "most memory, MB": 1000.0,
    "filters by bin, s": 0.3,
    "filters with every term, s": 10.0,
    "field, even damping, s": 0.5,
    "field, absorbing walls, s": 0.5,
    "a subwoofer dragged, ms": 50.0,
}
MET = {True: "met", False: "not met", None: ""}
AT_LEAST = {
    "best complex gains, times as fast": 50.0,
    "4 searched: half the corners' spread, no 3 dB less, % of rooms": 90.0,
    "array, ideal places, as chosen: below 0.2 dB2, % of rooms": 100.0,
    "array, ideal places, filters: decay at the limit, % of rooms": 100.0,
    "array, ideal places, as chosen, suited rooms: below 0.2 dB2, % of rooms": 100.0,
    "array, ideal places, filters, suited rooms: decay at the limit, % of rooms": 100.0,
    "array, as many as needed, as chosen: below 0.2 dB2, % of rooms": 100.0,
    "array, as many as needed, filters: decay at the limit, % of rooms": 100.0,
    "array, off by up to 0.3 m, filters: below 1 dB2, % of rooms": 100.0,
    "array, off by up to 0.3 m, as many as needed, filters: below 1 dB2, % of rooms": 100.0,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    bench_bass_rooms.add_options(parser)
    options = parser.parse_args()
    busy = os.getloadavg()[0]
    # The placement first: its memory is that of the process.
    figures = bench_placement.main()
    figures |= bench_arrays.main()
    figures |= bench_box_field.main()
    figures |= bench_bass_rooms.run(options)
    print(f"\n{os.cpu_count()} cores; {busy:.1f} processes at the start (0 if idle)")
    print("\n| figure | measured | limit or aim | |")
    print("|---|---|---|---|")
    for name, value in figures.items():
        if name in AT_MOST:
            limit, met = f"at most {AT_MOST[name]:g}", value <= AT_MOST[name]
        elif name in AT_LEAST:
            limit, met = f"at least {AT_LEAST[name]:g}", value >= AT_LEAST[name]
        else:
            limit, met = "none", None
        print(f"| {name} | {value:.3g} | {limit} | {MET[met]} |")


if __name__ == "__main__":
    main()
