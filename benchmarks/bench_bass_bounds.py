"""Why no bound on the spread of a search is printed: what relaxations of it could say at most.

Whatever a relaxation leaves free, a point found in it limits the bound it can give. Two relaxations
of four subwoofers with gains and delays in development rooms: all candidates at once with any
complex gain at every frequency, and any four of them likewise (the best of 400 sets looked at).
"""

from __future__ import annotations

import argparse

import numpy as np
from bench_bass_rooms import DESIGN_HZ, WEIGHTS
from random_rooms import SPEED_M_S, draw_room

from roomwright.tuning.bass_design import (
    BassField,
    SearchEffort,
    all_sets,
    best_places,
    judged,
    magnitude_gains,
    travelling_wave,
)
from roomwright.tuning.bass_design.screening import every_set

COUNT = 4
SETS = 400


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rooms", type=int, default=4)
    rooms = range(1000, 1000 + parser.parse_args().rooms)
    print("| room | places | points | found | all places, free gains | any four, free gains |")
    print("|---|---|---|---|---|---|")
    for seed in rooms:
        room = draw_room(seed)
        stations = room.stations_m()
        field = room.field(room.candidates_m, stations, DESIGN_HZ)
        target = travelling_wave(stations, DESIGN_HZ, SPEED_M_S)
        search = best_places(
            BassField(DESIGN_HZ, field),
            COUNT,
            target,
            weights=WEIGHTS,
            effort=SearchEffort(designed=120, shown=2, others=10),
        )
        found = min(choice.spread_db2 for choice in (*search.choices, *search.front))
        every = judged(field[None], magnitude_gains(field[None], 1e-4, 60)).spread_db2[0]
        order = np.argsort(every_set(field, target, COUNT))[:SETS]
        own = field[all_sets(len(field), COUNT)[order]]
        four = judged(own, magnitude_gains(own, 1e-3, 20)).spread_db2.min()
        print(
            f"| {seed} | {len(field)} | {len(stations)} | {found:.1f} | {every:.3f} | {four:.2f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
