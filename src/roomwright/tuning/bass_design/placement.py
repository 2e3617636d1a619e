"""Where N subwoofers should stand among M places, each set judged with its best settings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce
from math import comb

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright._progress import Progress, part, silent
from roomwright.tuning.bass_design.certainty import Certainty, drawn, upper_share
from roomwright.tuning.bass_design.choice import Choice, chosen, pareto
from roomwright.tuning.bass_design.designs import Designs, Each, Problem, here
from roomwright.tuning.bass_design.exchange import Exchanged, exchanged
from roomwright.tuning.bass_design.field import BassField
from roomwright.tuning.bass_design.gain_delay import STARTED, THOROUGH, GainDelayLimits, Settings
from roomwright.tuning.bass_design.judging import Weights
from roomwright.tuning.bass_design.nested import all_sets
from roomwright.tuning.bass_design.screening import every_set
from roomwright.tuning.bass_design.sensitivity import Variants
from roomwright.tuning.bass_design.swaps import swaps
from roomwright.tuning.bass_design.symmetry import symmetries

F = NDArray[np.float64]
C = NDArray[np.complex128]
Index = NDArray[np.intp]

#: Up to here every set is looked at: 4 of 60, or 5 of 30 or so.
_MOST_SETS = 500_000

#: Share of the sets that is designed first, by the cheap figure; then so many neighbours of so
#: many of the best, again and again.
_FIRST, _NEIGHBOURS, _PARENTS = 0.3, 100, 6

#: Sets designed at once, between two reports of progress.
_AT_ONCE = 100

#: How often the best set may be replaced by a neighbour in the end.
_MOST_TURNS = 20


@dataclass(frozen=True, slots=True)
class SearchEffort:
    """How long to look: sets designed at first, sets shown, and random ones to test the result."""

    designed: int = 1000
    shown: int = 20
    others: int = 100


@dataclass(frozen=True, slots=True)
class PlacementSearch:
    """What a search found.

    `choices` are the best by score, `front` those of which none is better in both spread and
    level, by rising spread, `known` the sets asked for in any case. Of `sets` in all, `looked_at`
    were judged by the cheap figure and `designed` with their best gains and delays; images of
    each other count once there. `certainty` says how far the best can be trusted to be the best.
    `gap` is known where not every set was looked at. It is of the cheap figure alone, and says
    nothing of the spread: the share by which its least misfit exceeds a bound no set can beat.
    """

    choices: tuple[Choice, ...]
    front: tuple[Choice, ...]
    known: tuple[Choice, ...]
    weights: Weights
    sets: int
    looked_at: int
    designed: int
    certainty: Certainty
    gap: float | None


def best_places(
    field: BassField,
    count: int,
    target: C,
    *,
    weights: Weights | None = None,
    limits: GainDelayLimits | None = None,
    variants: Variants | None = None,
    known: Sequence[Sequence[int]] = (),
    effort: SearchEffort | None = None,
    each: Each = here,
    progress: Progress = silent,
) -> PlacementSearch:
    """Sets of `count` of the sources that are best with gain, delay and polarity set for each.

    Every set is looked at by a cheap figure (or, where there are too many, those that exchanging
    one source at a time leads to). The best by that figure are designed; then, again and again,
    the neighbours of the best designed. All is deterministic.

    Parameters
    ----------
    field
        Every candidate at every point.
    count
        Subwoofers to place.
    target
        (P, F), a pressure whose phase the sources can be expected to make, for the cheap figure:
        see `travelling_wave`.
    weights
        What level is worth against spread.
    limits
        What may be set of each subwoofer.
    variants
        The field with sources moved and in other air, for the sensitivity of the choices.
    known
        Sets to design in any case: where subwoofers stand now, textbook places.
    effort
        How long to look.
    each
        Who designs: by default this process; or a `map` over the workers of a cluster.
    progress
        Told what is being done; it may raise `Cancelled`.

    Returns
    -------
    PlacementSearch
        Choices and front hold one of each set of mirror images.

    Raises
    ------
    InputError
        If there are fewer sources than wanted, a known set is none, or the target does not fit.
    """
    if not 1 <= count <= field.sources:
        raise InputError(
            f"{count} subwoofers cannot be placed on {field.sources} places; "
            "allow more places or fewer subwoofers"
        )
    if target.shape != field.response.shape[1:]:
        raise InputError(
            f"the target has shape {target.shape}; the field asks for {field.response.shape[1:]}"
        )
    given = _given(known, count, field.sources)
    weights, effort = weights or Weights(), effort or SearchEffort()
    found = symmetries(field.response)
    problem = Problem(field, target, limits or GainDelayLimits(), weights, found, each)
    looked = _looked_at(problem, count, part(progress, 0.0, 0.2))
    first = problem.without_twins(given)
    sets = np.concatenate([first, looked.sets[np.argsort(looked.figure, kind="stable")]])
    sets = problem.without_twins(sets)
    designs = _designed(problem, sets, len(first), effort.designed, part(progress, 0.2, 0.7))
    every = looked.gap is None and len(designs.sets) == len(sets)
    settled = every or _settle(problem, designs, part(progress, 0.7, 0.8))
    known_of = _tested(problem, designs, 0 if every else effort.others, settled=settled)

    order = np.argsort(problem.scores(designs), kind="stable")
    on_front = pareto(designs.spread_db2, designs.level_db)
    wanted = designs.sets[np.union1d(order[: 2 * effort.shown], on_front)]
    shown = chosen(
        problem,
        np.concatenate([given, wanted]),
        variants or Variants(),
        part(progress, 0.8, 1.0),
    )
    best = shown[len(given) :]
    spread, level = (np.array([getattr(c, n) for c in best]) for n in ("spread_db2", "level_db"))
    return PlacementSearch(
        choices=tuple(sorted(best, key=lambda choice: choice.score)[: effort.shown]),
        front=tuple(best[place] for place in pareto(spread, level)),
        known=shown[: len(given)],
        weights=weights,
        sets=comb(field.sources, count),
        looked_at=len(looked.figure),
        designed=len(designs.sets),
        certainty=replace(known_of, all_designed=every),
        gap=looked.gap,
    )


def _given(known: Sequence[Sequence[int]], count: int, sources: int) -> Index:
    """The sets to design in any case, (n, count), rising."""
    for one in known:
        if len(set(one)) != count or not all(0 <= source < sources for source in one):
            raise InputError(
                f"{tuple(one)} is no set of {count} different sources of {sources} "
                f"(0 to {sources - 1})"
            )
    return np.sort(np.array(known, dtype=np.intp).reshape(-1, count), axis=1)


def _looked_at(problem: Problem, count: int, progress: Progress) -> Exchanged:
    """Every set with its cheap figure, or those that exchanging leads to."""
    progress(0.0, "looking at all sets of places")
    field = problem.field
    if comb(field.sources, count) > _MOST_SETS:
        return exchanged(field.response, problem.target, count, progress)
    figure = every_set(field.response, problem.target, count)
    return Exchanged(all_sets(field.sources, count), figure, None)


def _designed(problem: Problem, sets: Index, given: int, most: int, progress: Progress) -> Designs:
    """Designs of the first sets, those `given` thoroughly, then of the neighbours of the best."""
    first = sets[: max(round(_FIRST * most), given, 1)]
    progress(0.0, "designing gains and delays")
    thorough = max(given, 1)
    designs = problem.design(first[:thorough], effort=THOROUGH)
    for at in range(thorough, len(first), _AT_ONCE):
        designs.join(problem.design(first[at : at + _AT_ONCE]))
        progress(min(len(designs.sets) / most, 1.0), "designing gains and delays")
    expanded: set[int] = set()
    while len(designs.sets) < most and sets.shape[1] < problem.field.sources:
        ranked = np.argsort(problem.scores(designs), kind="stable").tolist()
        parents = [place for place in ranked if place not in expanded][:_PARENTS]
        if not parents:
            break
        expanded.update(parents)
        near, start = _near(problem, designs, parents, min(_NEIGHBOURS, most - len(designs.sets)))
        if len(near):
            designs.join(problem.design(near, start, STARTED))
        progress(len(designs.sets) / most, "designing gains and delays")
    return designs


def _near(
    problem: Problem, designs: Designs, parents: list[int], most: int | None
) -> tuple[Index, Settings]:
    """The most promising neighbours of some designs not designed yet; all if `most` is None."""
    found = [
        swaps(
            problem.field.response,
            problem.field.frequencies_hz,
            designs.sets[place],
            designs.settings.of(place),
            problem.limits,
            problem.weights.level,
        )
        for place in parents
    ]
    sets = np.concatenate([one[0] for one in found])
    start = reduce(Settings.and_of, (one[1] for one in found))
    order = np.argsort(np.concatenate([one[2] for one in found]), kind="stable")
    # The cheapest of twins comes first.
    codes, place = np.unique(problem.codes(sets[order]), return_index=True)
    new = np.array([code not in designs.known for code in codes.tolist()], dtype=bool)
    best = order[np.sort(place[new])[:most]]
    return sets[best], start.of(best)


def _settle(problem: Problem, designs: Designs, progress: Progress) -> bool:
    """Design all neighbours of the best set until it is better than all; whether it came to that.

    The neighbours join the designs.
    """
    for turn in range(_MOST_TURNS):
        progress(turn / _MOST_TURNS, "exchanging single subwoofers of the best set")
        best = int(np.argmin(problem.scores(designs)))
        score = float(problem.scores(designs)[best])
        near, start = _near(problem, designs, [best], None)
        if not len(near):
            return True
        found = problem.design(near, start, STARTED)
        designs.join(found)
        if problem.scores(found).min() >= score:
            return True
    return False


def _tested(problem: Problem, designs: Designs, number: int, *, settled: bool) -> Certainty:
    """Design sets drawn at random from all; those not designed yet join the designs."""
    count, sources = designs.sets.shape[1], problem.field.sources
    best = float(problem.scores(designs).min())
    sets = drawn(sources, count, number, np.random.default_rng(0))
    codes, place, times = np.unique(problem.codes(sets), return_index=True, return_counts=True)
    new = np.array([code not in designs.known for code in codes.tolist()], dtype=bool)
    better = 0
    if new.any():
        found = problem.design(sets[place[new]])
        better = int(np.sum(times[new] * (problem.scores(found) < best)))
        designs.join(found)
    return Certainty(
        sets=comb(sources, count),
        all_designed=False,
        settled=settled,
        tested=number,
        better=better,
        better_share=upper_share(better, number),
    )
