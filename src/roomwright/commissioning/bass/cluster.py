"""The bass search on the workers of an existing Dask cluster."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.commissioning.bass.places import EFFORT, PlacesFound, search_places
from roomwright.model import Job
from roomwright.tuning.bass_design import Each, SearchEffort

_WAIT_S = 10.0


@contextmanager
def cluster_each(address: str) -> Iterator[Each]:
    """A map over the workers of the cluster whose scheduler is at an address.

    Pass it to `best_places` as `each`; the cluster is left as it was found. Workers need the same
    version of this program as the caller.

    Parameters
    ----------
    address
        Of the scheduler, such as tcp://10.0.0.5:8786.

    Raises
    ------
    InputError
        If the extra "cluster" is not installed, or no scheduler answers.

    Notes
    -----
    What is computed from goes to every worker once for each part of the search, the sets in small
    pieces. A scheduler runs what it is sent: use one that only you can reach.
    """
    try:
        from distributed import Client
    except ImportError as error:
        raise InputError(
            'a cluster needs Dask, which is not installed; install "roomwright[cluster]"'
        ) from error
    try:
        client: Any = Client(  # type: ignore[no-untyped-call]
            address, timeout=_WAIT_S, set_as_default=False
        )
    except (OSError, TimeoutError, ValueError) as error:
        raise InputError(
            f"no Dask scheduler answers at {address}; give the address that it printed when it "
            "was started, such as tcp://10.0.0.5:8786"
        ) from error

    def each(function: Callable[[Any], Any], items: Sequence[Any], /) -> list[Any]:
        (held,) = client.scatter([function], broadcast=True, hash=False)
        futures = client.map(_applied, items, [held] * len(items), pure=False)
        results: list[Any] = client.gather(futures)
        return results

    try:
        yield each
    finally:
        client.close()


def search_places_on(
    address: str | None,
    job: Job,
    progress: Progress = silent,
    *,
    effort: SearchEffort = EFFORT,
) -> PlacesFound:
    """As `search_places`, on the workers of a cluster; in this process without an address.

    Raises
    ------
    InputError
        As `search_places` and `cluster_each` do.
    """
    if address is None:
        return search_places(job, progress, effort=effort)
    with cluster_each(address) as each:
        return search_places(job, progress, effort=effort, each=each)


def _applied(item: Any, function: Callable[[Any], Any]) -> Any:  # noqa: ANN401 (anything a search sends)
    return function(item)
