"""The bass search on two workers: the same result as here, and plain words where there are none."""

from __future__ import annotations

import sys

import pytest
from bass_rooms import CinemaRoom

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.commissioning.bass.cluster import cluster_each
from roomwright.tuning.bass_design import (
    BassField,
    SearchEffort,
    best_places,
    travelling_wave,
)

FREQUENCY = CinemaRoom.frequency[::6]


@pytest.fixture(scope="module")
def address():
    """Two worker processes of a thread each on this machine, with no web page."""
    distributed = pytest.importorskip("distributed")
    import dask

    settings = {"distributed.worker.daemon": True, "distributed.admin.tick.limit": "60s"}
    with (
        dask.config.set(settings),
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            dashboard_address=None,
            silence_logs=50,
            host="127.0.0.1",
        ) as cluster,
    ):
        yield cluster.scheduler_address


def test_two_workers_find_what_one_process_finds(address):
    """The same sets with the same settings: the parts are the same, wherever they are done."""
    places = CinemaRoom.perimeter(3, 4)
    field = BassField(FREQUENCY, CinemaRoom.field(places, FREQUENCY))
    target = travelling_wave(CinemaRoom.seats, FREQUENCY, 343.0)
    effort = SearchEffort(designed=60, shown=2, others=5)
    alone = best_places(field, 3, target, effort=effort)
    used = []
    with cluster_each(address) as each:

        def watched(function, items, /):
            used.append(len(items))
            return each(function, items)

        there = best_places(field, 3, target, effort=effort, each=watched)
    assert max(used) >= 2  # parts at once
    assert [c.sources for c in there.choices] == [c.sources for c in alone.choices]
    for one, other in zip(there.choices, alone.choices, strict=True):
        assert one.score == pytest.approx(other.score, rel=1e-9)
        assert one.settings.delay_s == pytest.approx(other.settings.delay_s, abs=1e-12)
    assert there.certainty == alone.certainty


def test_both_workers_work(address):
    def process(item: int) -> int:
        """The process that does it, after long enough for the other to take its share."""
        import os
        import time

        time.sleep(0.05)
        return os.getpid()

    with cluster_each(address) as each:
        assert len(set(each(process, range(20)))) == 2


def test_an_address_where_nothing_listens(monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("roomwright.commissioning.bass.cluster._WAIT_S", 0.5)
    with pytest.raises(InputError, match="no Dask scheduler answers"), cluster_each("127.0.0.1:9"):
        pass


def test_without_the_extra(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(InputError, match="roomwright\\[cluster\\]"),
        cluster_each("127.0.0.1:8786"),
    ):
        pass


def test_places_of_a_job_are_searched_on_the_workers_as_here(address):
    job = commissioning.with_bass(commissioning.demo_job(), count=2, spacing_m=3.0)
    effort = SearchEffort(designed=20, shown=2, others=0)
    alone = commissioning.search_places_on(None, job, effort=effort)
    there = commissioning.search_places_on(address, job, effort=effort)
    assert [one.positions_m for one in there.choices] == [one.positions_m for one in alone.choices]
    assert there.certainty == alone.certainty
