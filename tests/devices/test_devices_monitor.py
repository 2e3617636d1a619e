"""The ring between stream and readers: nothing twice, nothing out of order, losses counted."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from roomwright.devices.monitor import Monitor, Ring


@given(st.lists(st.tuples(st.integers(0, 40), st.booleans()), max_size=40))
def test_reads_give_every_sample_once_or_count_it_as_lost(steps):
    """Samples are numbered, so that order and losses show; the ring holds 64."""
    ring, number = Ring(2, 64), 0
    monitor = Monitor(ring, 48000)
    expected = 0
    for size, reads in steps:
        block = np.arange(number, number + size, dtype=np.float32)
        ring.write(np.stack((block, -block), axis=1))
        number += size
        if reads:
            lost_before = monitor.lost
            samples = monitor.read()
            expected += monitor.lost - lost_before
            wanted = np.arange(expected, number)
            np.testing.assert_array_equal(samples, [wanted, -wanted])
            expected = number
    assert monitor.lost <= max(number - 64, 0)


def test_a_block_longer_than_the_ring_leaves_its_end():
    ring = Ring(1, 8)
    monitor = Monitor(ring, 48000)
    ring.write(np.arange(20, dtype=np.float32)[:, None])
    samples = monitor.read()
    np.testing.assert_array_equal(samples[0], np.arange(12, 20))
    assert monitor.lost == 12


def test_two_readers_do_not_disturb_each_other():
    ring = Ring(1, 100)
    early, late = Monitor(ring, 48000), Monitor(ring, 48000)
    ring.write(np.ones((10, 1), dtype=np.float32))
    assert early.read().shape == (1, 10)
    ring.write(np.ones((5, 1), dtype=np.float32))
    assert early.read().shape == (1, 5)
    assert late.read().shape == (1, 15)
    assert late.read().shape == (1, 0)
