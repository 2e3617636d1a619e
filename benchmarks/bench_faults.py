"""The fault table: how often each planted fault is named, and how often a healthy room is accused.

    python benchmarks/bench_faults.py                  # 50 rooms that no detector was tuned on
    python benchmarks/bench_faults.py --rooms 10 --first 0     # the development rooms
    python benchmarks/bench_faults.py --healthy 150 --jobs 2 --keep rooms.jsonl

Every room is drawn from its own seed (`tests/fault_rooms.py` states the distributions) and is
surveyed once healthy and once with each fault; with `--healthy` more rooms are surveyed healthy
only. A fault is named rightly if the first and gravest diagnosis is of its kind and names its
units and its take, and no others. With `--keep` what was judged is kept in a file, a line for each
room, and a run that was stopped goes on where it was. Seeds below 8500 and from 9000 on were
used to develop the detectors, or judged before the last change; what is in `docs/faults.md` was
judged on seeds from 8500 on, and from 8600 on with `--own-bands`.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from fault_rooms import cases, drawn_job, judged_case, named_rightly, surveyed

from roomwright.measurement import response_from_take
from roomwright.measurement.quality import judge_take
from roomwright.model import Sweep
from roomwright.rehearsal import RehearsalRoom
from roomwright.signals import excitation

JUDGED_FROM = 8500


@dataclass(frozen=True)
class Outcome:
    """What became of one case in one room; `first` is the first diagnosis or 'none'.

    `others` are the kinds named besides, `takes` how many takes the survey has.
    """

    seed: int
    case: str
    wanted: str
    first: str
    rightly: bool
    others: tuple[str, ...]
    takes: int


def outcomes(seed: int, *, healthy_only: bool, own_bands: bool = False) -> list[Outcome]:
    """Judge every case in a room, or the healthy one alone."""
    job, healthy = surveyed(seed, own_bands=own_bands)
    rows = []
    for case in cases(job, seed):
        if healthy_only and case.fault is not None:
            continue
        found = judged_case(job, healthy, case, own_bands=own_bands)
        first = found[0].kind if found else "none"
        others = tuple(diagnosis.kind for diagnosis in found[1:])
        rightly = named_rightly(case, found)
        rows.append(Outcome(seed, case.name, case.kind, first, rightly, others, len(healthy)))
    return rows


def judged_rooms(
    seeds: range, healthy_seeds: range, jobs: int, keep: Path | None, *, own_bands: bool
) -> Iterator[list[Outcome]]:
    """All cases of `seeds` and the healthy ones of the others, what was kept first."""
    done: dict[int, list[Outcome]] = {}
    lines = keep.read_text().splitlines() if keep is not None and keep.exists() else []
    for line in lines:
        rows = [Outcome(**(row | {"others": tuple(row["others"])})) for row in json.loads(line)]
        if rows[0].seed not in done or len(rows) > 1:
            done[rows[0].seed] = rows
    wanted = [(seed, False) for seed in seeds]
    wanted += [(seed, True) for seed in healthy_seeds if seed not in seeds]
    for seed, alone in wanted:
        if seed in done and (alone or len(done[seed]) > 1):
            yield done[seed][:1] if alone else done[seed]
    left = [(s, alone) for s, alone in wanted if s not in done or not (alone or len(done[s]) > 1)]
    with ProcessPoolExecutor(jobs) as pool:
        pending = [
            pool.submit(outcomes, seed, healthy_only=alone, own_bands=own_bands)
            for seed, alone in left
        ]
        for future in pending:
            rows = future.result()
            if keep is not None:
                with keep.open("a") as file:
                    file.write(json.dumps([asdict(row) for row in rows]) + "\n")
            yield rows


def print_table(rows: list[Outcome]) -> None:
    """The confusion table, and the two figures that count."""
    print(f"{'planted':26s} {'rooms':>5s} {'rightly':>8s} {'more':>5s}  named first otherwise")
    for name in dict.fromkeys(row.case for row in rows):
        own = [row for row in rows if row.case == name]
        right = sum(row.rightly for row in own)
        wrong = Counter(row.first for row in own if not row.rightly)
        others = sum(bool(row.others) for row in own)
        said = ", ".join(f"{kind} {count}" for kind, count in wrong.most_common())
        print(
            f"{name:26s} {len(own):5d} {100 * right / len(own):7.1f}% {others:5d}  {said}".rstrip()
        )
    planted = [row for row in rows if row.wanted != "none"]
    healthy = [row for row in rows if row.wanted == "none"]
    if planted:
        right = sum(row.rightly for row in planted)
        print(f"named rightly: {100 * right / len(planted):.2f} % of {len(planted)} (aim 98 %)")
    if healthy:
        false = sum(not row.rightly for row in healthy)
        takes = sum(row.takes for row in healthy)
        print(
            f"false alarms: {100 * false / len(healthy):.2f} % of {len(healthy)} healthy surveys "
            f"of {takes} takes (aim 1 %)"
        )
    print("'more' counts surveys in which something else was named besides.")


def speed() -> None:
    """Judging a 5 s sweep with its response, against measuring the response alone."""
    job = drawn_job(0)
    sweep = Sweep(level_dbfs=-12.0)
    room = RehearsalRoom(job)
    room.place_microphone(job.stations[0].position_m)
    recording = room.play_and_record({1: excitation(sweep, 48000)})
    arguments = (recording.microphone, recording.reference, sweep, 48000)

    def best(run: Callable[[], object]) -> float:
        times = []
        for _ in range(6):
            start = time.perf_counter()
            run()
            times.append(time.perf_counter() - start)
        return float(np.min(times[1:]))

    judged = best(lambda: judge_take(*arguments, band_hz=(60.0, 20000.0), sensitivity_pa=20.0))
    plain = best(lambda: response_from_take(*arguments, sensitivity_pa=20.0))
    print(
        f"a 5 s sweep: judged with its response in {1e3 * judged:.0f} ms (aim 300 ms), "
        f"{judged / plain:.1f} times the response alone ({1e3 * plain:.0f} ms)"
    )


def main() -> None:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rooms", type=int, default=50, help="how many rooms")
    parser.add_argument("--healthy", type=int, default=0, help="how many rooms, healthy or not")
    parser.add_argument("--first", type=int, default=JUDGED_FROM, help="seed of the first room")
    parser.add_argument("--jobs", type=int, default=1, help="how many processes")
    parser.add_argument("--keep", type=Path, help="file that keeps what was judged")
    parser.add_argument(
        "--own-bands", action="store_true", help="sweeps within each unit's declared band"
    )
    parser.add_argument("--speed", action="store_true", help="only the time for a take")
    options = parser.parse_args()
    speed()
    if options.speed:
        return
    start = time.perf_counter()
    rows: list[Outcome] = []
    seeds = range(options.first, options.first + options.rooms)
    healthy = range(options.first, options.first + options.healthy)
    judged = judged_rooms(seeds, healthy, options.jobs, options.keep, own_bands=options.own_bands)
    for room in judged:
        rows += room
        for row in room:
            if not row.rightly:
                print(f"room {row.seed}: {row.case} was called {row.first}", file=sys.stderr)
    print_table(rows)
    print(f"judged in {time.perf_counter() - start:.0f} s with {options.jobs} processes.")


if __name__ == "__main__":
    main()
