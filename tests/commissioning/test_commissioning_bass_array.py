"""What the proposal of an array says of the seats close to it."""

from __future__ import annotations

import numpy as np

from roomwright import commissioning
from roomwright.tuning.arrays import NEAR_FIELD_HARMLESS, proposed_array


def test_a_proposal_says_when_a_seat_hears_single_subwoofers():
    """A wide room with seats at the back wall: two across are heard singly, four are not."""
    seats = [(x, 6.4, 1.2) for x in (1.4, 2.7, 4.0)]
    few, many = (
        proposed_array((5.4, 7.0, 2.7), np.full(6, 0.03), 100.0, robust=robust, seats_m=seats)
        for robust in (False, True)
    )
    assert few.near_field > NEAR_FIELD_HARMLESS > 0.0
    assert many.near_field < 0.5 * few.near_field
    room = commissioning.box_room((5.4, 7.2, 2.8))
    job = commissioning.new_job("wide", layout="5.1", room=room, rows=2, seats_per_row=4)
    said = commissioning.propose_array(job, highest_hz=100.0).says
    assert "at 100 Hz the seat nearest to them hears single ones" in said
    assert "single" not in commissioning.propose_array(job, highest_hz=100.0, robust=True).says
