"""All figures of the bass together, in a box whose answers are known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import fft

from roomwright._errors import InputError
from roomwright.acoustics import box_modes, green_uniform
from roomwright.analysis import bass_figures, late_energy_db, mean_spatial_variance_db2

RATE, LENGTH = 1200, 2400
SIZE, T60_S = (4.5, 6.0, 2.7), 0.6


def box_responses(points):
    """Impulse responses (P, n) of a corner source, band-limited to 160 Hz, all modes alike."""
    frequency = fft.rfftfreq(LENGTH, 1 / RATE)
    inside = (frequency > 8) & (frequency < 200)
    spectrum = np.zeros((len(points), frequency.size), complex)
    spectrum[:, inside] = green_uniform(SIZE, [[0.2, 0.2, 0.2]], points, frequency[inside], T60_S)[
        0
    ]
    spectrum *= np.clip((200 - frequency) / 40, 0, 1) * np.clip((frequency - 8) / 8, 0, 1)
    return np.roll(fft.irfft(spectrum, LENGTH), 40, axis=-1)


@pytest.fixture(scope="module")
def responses():
    grid = np.meshgrid([1.2, 2.0, 3.3], [3.1, 4.4], [1.1], indexing="ij")
    return box_responses(np.stack(grid, axis=-1).reshape(-1, 3))


def test_the_parts_are_those_of_the_functions_they_come_from(responses):
    found = bass_figures(responses, RATE, (20.0, 120.0))
    spectrum = np.abs(fft.rfft(responses))
    at = np.geomspace(20, 120, 400)
    level = 20 * np.log10([np.interp(at, fft.rfftfreq(LENGTH, 1 / RATE), row) for row in spectrum])
    plain = float(mean_spatial_variance_db2(level))
    # Averaged over 1/24 octave, so somewhat less than unsmoothed.
    assert 0.7 * plain < found.evenness.mean_spatial_variance_db2 <= 1.02 * plain
    assert found.late_db == pytest.approx(late_energy_db(responses, RATE, (20.0, 120.0)))
    assert found.delay.worst.shape == (6,)
    assert found.delay.deviation_s.shape == (6, found.delay_hz.size)


def test_decays_and_modes_are_those_of_the_box(responses):
    """Every mode decays by 60 dB in the same time; frequencies by c / 2 hypot(n / L)."""
    found = bass_figures(responses, RATE, (20.0, 100.0))
    known = found.decay.t20_s[found.decay.reliable]
    assert known.size
    assert np.median(known) == pytest.approx(T60_S, rel=0.1)
    assert found.modes is not None
    assert found.modes.misfit_db < -20
    strong = found.modes.level_db.max(axis=0) > found.modes.level_db.max() - 15
    true = box_modes(SIZE, 110.0).frequency_hz
    in_band = strong & (found.modes.frequency_hz > 25) & (found.modes.frequency_hz < 95)
    assert in_band.sum() >= 3
    for hertz in found.modes.frequency_hz[in_band]:
        assert np.abs(true - hertz).min() < 0.5


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda x: x[:1], "two or more"),
        (lambda x: x[:, :60], "ends before"),
        (lambda x: np.where(x == x.max(), np.nan, x), "not a"),
    ],
)
def test_what_cannot_be_judged_is_refused(responses, change, says):
    with pytest.raises(InputError, match=says):
        bass_figures(change(responses), RATE, (20.0, 120.0))
    with pytest.raises(InputError, match="no band"):
        bass_figures(responses, RATE, (120.0, 20.0))
