"""Random streams that depend on what they are for, never on the order of calls.

Every random number of the rehearsal room comes from a stream of its own, named by the job's
seed, a purpose, and whatever the number belongs to: a unit, a place, the content of a call and
how many such calls were made at that place before. The same seed therefore gives the same
samples, also when calls are made in another order.
"""

from __future__ import annotations

import hashlib

import numpy as np

#: What a stream may be named by; floats are written out in full.
Key = str | int | float | tuple[float, ...]


def stream(seed: int, purpose: str, *keys: Key) -> np.random.Generator:
    """The random stream of one purpose.

    Parameters
    ----------
    seed
        `RehearsalSetup.seed`.
    purpose
        What the numbers are for.
    keys
        What they belong to.
    """
    name = repr((int(seed), purpose, keys))
    digest = hashlib.blake2b(name.encode(), digest_size=16).digest()
    return np.random.Generator(np.random.SFC64(int.from_bytes(digest, "little")))
