import numpy as np
import pytest

from roomwright.analysis import clarity
from roomwright.signals import midbands

RATE = 48000


def decaying(reverberation_s, n=96000):
    return np.exp(-3 * np.log(10) * np.arange(n) / RATE / reverberation_s)


@pytest.mark.parametrize(
    ("reverberation_s", "c50_db", "c80_db", "d50", "centre_ms"),
    [
        (0.25, 11.717, 19.147, 0.93690, 18.096),
        (0.30, 9.542, 15.890, 0.90000, 21.715),
        (0.40, 6.650, 11.717, 0.82217, 28.953),
        (1.00, -0.021, 3.053, 0.49881, 72.382),
    ],
)
def test_exact_exponential_decays(reverberation_s, c50_db, c80_db, d50, centre_ms):
    """ISO 3382-1:2009 measures of p^2 ~ exp(-13.8 t / T), in closed form."""
    found = clarity(decaying(reverberation_s), RATE)
    # 1 % of the ratio of energies is 0.043 dB.
    assert found.c50_db == pytest.approx(c50_db, abs=0.043)
    assert found.c80_db == pytest.approx(c80_db, abs=0.043)
    assert found.d50 == pytest.approx(d50, rel=0.01)
    assert 1e3 * found.centre_time_s == pytest.approx(centre_ms, rel=0.01)


def test_the_arrival_is_the_start():
    late = np.zeros(96000)
    late[2400:] = decaying(0.4)[:-2400]
    found, plain = clarity(late, RATE), clarity(decaying(0.4), RATE)
    assert found.c50_db == pytest.approx(plain.c50_db, abs=0.01)
    assert found.centre_time_s == pytest.approx(plain.centre_time_s, abs=1e-4)


def test_noise_is_not_taken_for_late_energy():
    rng = np.random.default_rng(1)
    response = decaying(0.4) * rng.standard_normal((8, 96000))
    noisy = response + 0.003 * rng.standard_normal(response.shape)
    # Without subtraction the noise, 50 dB down, would pull C80 from 11.7 to about 10.8 dB.
    clean, found = clarity(response, RATE).c80_db, clarity(noisy, RATE).c80_db
    assert np.abs(found - clean).max() < 0.2


def test_a_band_of_a_decay():
    """The same closed form in an octave: early energy includes what the filter sends ahead."""
    rng = np.random.default_rng(2)
    response = decaying(0.4) * rng.standard_normal((40, 96000))
    found = clarity(response, RATE, float(midbands(1, 1000, 1000)[0]), 1)
    # C50 of noise decays spreads by 0.9 dB; the mean of 40 by 0.15.
    assert found.c50_db.shape == (40,)
    assert found.c50_db.mean() == pytest.approx(6.650, abs=0.4)


def test_silence_has_none():
    assert np.isnan(clarity(np.zeros(4800), RATE).d50)
