"""A sound server for this folder, private to its worker, and rooms that are plugged into it."""

from __future__ import annotations

import numpy as np
import pytest
from sound_server import SoundServer, why_not


@pytest.fixture(scope="session")
def sound_server(tmp_path_factory):
    """A running JACK server; the tests that need it are skipped where it cannot be installed."""
    reason = why_not()
    if reason:
        pytest.skip(reason)
    server = SoundServer(tmp_path_factory.mktemp("sound"))
    yield server
    server.close()


@pytest.fixture(scope="session")
def wire(sound_server):
    """Sixteen outputs of which each reaches the two inputs unchanged, scaled for the second."""
    responses = np.zeros((16, 2, 1))
    responses[:, 0] = 1.0
    responses[:, 1, 0] = 2.0 ** -np.arange(16)
    return sound_server.room("wire", responses)
