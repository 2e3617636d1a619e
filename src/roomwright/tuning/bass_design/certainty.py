"""How far a search for places can be trusted: said of the spread itself, not of a cheaper figure.

No useful bound is known on the spread that gains and delays can reach. Relaxations have points that
show how little they can say: with any complex gain at every frequency all candidates together come
to 0.1 dB2 or less, and some four of them to a quarter of what gains and delays find or less
(`benchmarks/bench_bass_bounds.py`), so bounds by freeing either lie below that. What can be known
is what was looked at, and what chance says of the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

Index = NDArray[np.intp]

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Certainty:
    """What is known of the sets that a search did not design.

    `all_designed` says that there are none. `settled` says that no exchange of one subwoofer
    improves the best set, every one of them having been designed. Of `tested` sets drawn at random
    from all, `better` were better than the best that the search had found without them, so that
    with 95 % confidence the share of better sets is at most `better_share`. `sets` counts all.
    """

    sets: int
    all_designed: bool
    settled: bool
    tested: int
    better: int
    better_share: float

    def __str__(self) -> str:
        """The same in words."""
        if self.all_designed:
            return f"All {self.sets} sets of places were designed: there is no better one."
        parts = []
        if self.settled:
            parts.append("No exchange of one subwoofer for another place improves the best set.")
        if self.tested:
            found = f"{self.better} of them were" if self.better else "none of them was"
            parts.append(
                f"{self.tested} of all {self.sets} sets were drawn at random and designed, and "
                f"{found} better: with 95 % confidence {100 * self.better_share:.1f} % of all "
                "sets are better at most."
            )
        parts.append("Whether the best set is the very best of all is not known.")
        return " ".join(parts)


def upper_share(better: int, tested: int) -> float:
    """Largest share of better sets that `better` of `tested` random ones leave likely; 1 if none.

    References
    ----------
    Clopper and Pearson, Biometrika 26, 1934: the exact one-sided limit for a binomial share.
    """
    if better >= tested:
        return 1.0
    return float(scipy.stats.beta.ppf(CONFIDENCE, better + 1, tested - better))


def drawn(sources: int, count: int, number: int, rng: np.random.Generator) -> Index:
    """Sets of `count` of the sources, each set equally likely, with repetition, (number, count)."""
    keys = rng.random((number, sources))
    return np.sort(np.argsort(keys, axis=1)[:, :count], axis=1)
