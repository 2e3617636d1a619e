"""Box with uniform damping. The check set is a room of 6 x 4.5 x 2.7 m with T60 = 0.4 s."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.acoustics import green_uniform, images

SIZE = (6.0, 4.5, 2.7)
VOLUME = 6.0 * 4.5 * 2.7
SOURCE = (0.35, 0.45, 0.25)
RECEIVER = (4.05, 2.35, 1.25)
C = 343.0
T60 = 0.4

# Three modes exactly: (1,0,0), (0,1,0), (0,0,1), and (1,1,0).
MODE_X, MODE_Y, MODE_Z = (C / (2.0 * length) for length in SIZE)
FREQUENCY = np.array(
    [20, MODE_X, 31.5, MODE_Y, 40, np.hypot(MODE_X, MODE_Y), 50, 63, MODE_Z, 80, 100, 120]
)

# Closed form, image sources and finite differences agreed on these: dB re free field at 1 m, deg.
LEVEL_DB = [
    7.8451, 10.5891, 4.8906, -3.9629, -5.4064, -18.1113,
    -9.8164, -4.0158, -5.3647, 8.8823, -1.0684, -0.0305,
]  # fmt: skip
PHASE_DEG = [
    -179.309, 105.525, 60.969, 56.572, 41.165, -118.962,
    170.283, -2.761, -7.446, -24.307, -169.737, 37.985,
]  # fmt: skip


def db(ratio):
    return 20.0 * np.log10(np.abs(ratio))


def pair(frequency=FREQUENCY, time=T60, **options):
    return (
        4 * np.pi * green_uniform(SIZE, [SOURCE], [RECEIVER], frequency, time, C, **options)[0, 0]
    )


def test_field_matches_the_check_set():
    """To the digits printed: 0.001 dB and 0.01 degrees."""
    field = pair()
    assert db(field) == pytest.approx(LEVEL_DB, abs=1e-3)
    assert np.angle(field, deg=True) == pytest.approx(PHASE_DEG, abs=1e-2)


def test_the_three_axes_agree():
    """Three different series for one number; a tail of 1e-12 leaves 1e-9 dB even in a dip."""
    x, y, z = (pair(axis=axis, tolerance=1e-13) for axis in range(3))
    assert db(y / x) == pytest.approx(0.0, abs=1e-9)
    assert db(z / x) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("time", "radius", "tolerance_db"), [(0.2, 200.0, 1e-4), (0.4, 150.0, 0.34)]
)
def test_field_is_that_of_image_sources(time, radius, tolerance_db):
    """Allen and Berkley, 1979, with the same complex wavenumber and rigid walls.

    The images left out are down by exp(-decay radius / c) and grow in number as the square of
    the radius: 1e-5 dB for 400 m at 0.4 s, hence also for 200 m at 0.2 s; 0.34 dB for 150 m.
    """
    distance = images(SIZE, SOURCE, RECEIVER, radius).distance_m
    wavenumber = (2 * np.pi * FREQUENCY - 3j * np.log(10.0) / time) / C
    summed = np.array([np.sum(np.exp(-1j * k * distance) / distance) for k in wavenumber])
    assert db(pair(time=time) / summed) == pytest.approx(0.0, abs=tolerance_db)


def test_field_is_the_limit_of_the_mode_sum():
    """Morse and Ingard, chapter 9: the plain triple sum, cut at 3.2 kHz, errs by 0.016 dB."""
    index = [np.arange(int(2 * 3200.0 / C * length) + 1) for length in SIZE]
    squared = [(n * np.pi / length) ** 2 for n, length in zip(index, SIZE, strict=True)]
    shape = [
        np.cos(n * np.pi * a / length) * np.cos(n * np.pi * b / length) * np.where(n == 0, 1.0, 2.0)
        for n, length, a, b in zip(index, SIZE, SOURCE, RECEIVER, strict=True)
    ]
    total = squared[0][:, None, None] + squared[1][:, None] + squared[2]
    product = shape[0][:, None, None] * shape[1][:, None] * shape[2]
    kept = total < (2 * np.pi * 3200.0 / C) ** 2
    total, product = total[kept], product[kept]
    wavenumber = (2 * np.pi * FREQUENCY - 3j * np.log(10.0) / T60) / C
    summed = [np.sum(product / (total - k**2)) / VOLUME for k in wavenumber]
    assert db(pair() / (4 * np.pi * np.array(summed))) == pytest.approx(0.0, abs=0.02)


def test_source_and_receiver_can_be_exchanged():
    """Reciprocity, to rounding."""
    rng = np.random.default_rng(1)
    here, there = rng.uniform(0.1, np.array(SIZE) - 0.1, (2, 8, 3))
    field = green_uniform(SIZE, here, there, FREQUENCY, T60)
    back = green_uniform(SIZE, there, here, FREQUENCY, T60)
    assert np.abs(field - back.swapaxes(0, 1)).max() < 1e-12 * np.abs(field).max()


def test_many_points_are_as_single_ones():
    """Each pair alone, with points on walls, in corners and level with one another."""
    sources = [(0.0, 0.0, 0.0), (6.0, 2.25, 0.0), (3.0, 0.15, 1.2)]
    receivers = [(3.0, 2.25, 1.2), (0.5, 0.0, 1.2), (3.0, 4.5, 2.7), (5.9, 2.25, 0.1)]
    together = green_uniform(SIZE, sources, receivers, FREQUENCY, T60)
    assert together.shape == (3, 4, 12)
    for i, source in enumerate(sources):
        for j, receiver in enumerate(receivers):
            alone = green_uniform(SIZE, source, receiver, FREQUENCY, T60)[0, 0]
            assert together[i, j] == pytest.approx(alone, rel=1e-4)


def test_axes_of_the_room_can_be_renamed():
    order = [1, 2, 0]
    field = 4 * np.pi * green_uniform(
        tuple(np.array(SIZE)[order]),
        [np.array(SOURCE)[order]],
        [np.array(RECEIVER)[order]],
        FREQUENCY,
        T60,
    )[0, 0]  # fmt: skip
    assert db(field / pair()) == pytest.approx(0.0, abs=1e-4)


def test_close_points_lose_little_of_their_near_field():
    """0.1 m apart, level with one another on no axis: against image sources, T60 0.1 s.

    Evanescent waves decaying faster than 140 per metre are left out: exp(-140 x 0.06) = 2e-4.
    """
    source, receiver = (3.0, 2.25, 1.35), (3.06, 2.31, 1.41)
    distance = images(SIZE, source, receiver, 100.0).distance_m
    frequency = np.array([60.0, 200.0])
    wavenumber = (2 * np.pi * frequency - 3j * np.log(10.0) / 0.1) / C
    summed = [np.sum(np.exp(-1j * k * distance) / (4 * np.pi * distance)) for k in wavenumber]
    field = green_uniform(SIZE, source, receiver, frequency, 0.1, C)[0, 0]
    assert np.abs(field / summed - 1).max() < 3e-4


# The five usual mistakes of a modal sum, each of which one of the tests below would catch.


@pytest.mark.parametrize(
    ("index", "norm"), [((1, 0, 0), 1 / 2), ((1, 1, 0), 1 / 4), ((1, 1, 1), 1 / 8)]
)
def test_norm_of_each_kind_of_mode(index, norm):
    """At resonance, corner to corner: |G| = c^2 / (V norm 2 decay omega).

    With T60 = 40 s one mode stands 30 dB above the others; without its norm it would be 6, 12
    or 18 dB low.
    """
    frequency = C / 2 * np.linalg.norm(np.array(index) / SIZE)
    decay = 3 * np.log(10.0) / 40.0
    expected = C**2 / (VOLUME * norm * 2 * decay * 2 * np.pi * frequency)
    field = green_uniform(SIZE, (0, 0, 0), SIZE, [frequency], 40.0)[0, 0, 0]
    assert db(field / expected) == pytest.approx(0.0, abs=0.5)


def test_uniform_pressure_below_the_first_mode():
    """The mode (0, 0, 0): G = -c^2 / (V omega^2), at 1 Hz within (1 / 28.6)^2 of the others."""
    field = green_uniform(SIZE, (0, 0, 0), (3.0, 2.25, 1.35), [1.0], 100.0)[0, 0, 0]
    expected = -((C / (2 * np.pi)) ** 2) / VOLUME
    assert field / expected == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("index", [(1, 0, 0), (1, 1, 1)])
def test_every_mode_has_the_same_bandwidth(index):
    """Half-power bandwidth 2.2 / T60 at any frequency: constant T60, not constant Q.

    It would be 4.4 / T60 with the decay constant of energy in place of that of amplitude.
    """
    frequency = C / 2 * np.linalg.norm(np.array(index) / SIZE)
    half = np.log(10.0) * 3.0 / (2 * np.pi * 40.0)
    assert 2 * half == pytest.approx(2.2 / 40.0, rel=1e-3)
    at = [frequency - half, frequency, frequency + half]
    level = db(green_uniform(SIZE, (0, 0, 0), SIZE, at, 40.0)[0, 0])
    assert level - level[1] == pytest.approx([-3.01, 0.0, -3.01], abs=0.15)


def test_sound_arrives_after_it_left():
    """With exp(+j omega t) the response is causal: with the other sign it would come first."""
    rate, count = 1024, 2048
    frequency = np.arange(1, count // 2) * rate / count
    taper = np.cos(0.5 * np.pi * frequency / frequency[-1]) ** 2 * (2j * np.pi * frequency) ** 2
    spectrum = np.concatenate([[0.0], pair(frequency) * taper, [0.0]])
    response = np.fft.irfft(spectrum)
    arrival = int(np.linalg.norm(np.subtract(SOURCE, RECEIVER)) / C * rate)
    before = np.concatenate([response[: arrival - 3], response[count // 2 :]])
    assert np.sum(before**2) < 1e-4 * np.sum(response**2)


def test_source_only_gives_power():
    """Im G < 0 close to the source at every frequency: it never draws power from the room."""
    frequency = np.linspace(15.0, 200.0, 75)
    field = green_uniform(SIZE, (0.3, 0.3, 0.3), (0.3, 0.36, 0.38), frequency, T60)[0, 0]
    assert np.all(field.imag < 0)


def test_bad_input_is_refused():
    with pytest.raises(InputError, match="source 1 at"):
        green_uniform(SIZE, [SOURCE, (7.0, 1.0, 1.0)], [RECEIVER], [50.0], T60)
    with pytest.raises(InputError, match="receiver 0"):
        green_uniform(SIZE, [SOURCE], [(1.0, -0.1, 1.0)], [50.0], T60)
    with pytest.raises(InputError, match="apart"):
        green_uniform(SIZE, [SOURCE], [SOURCE], [50.0], T60)
    with pytest.raises(InputError, match="frequency_hz"):
        green_uniform(SIZE, [SOURCE], [RECEIVER], [0.0], T60)
    with pytest.raises(InputError, match="reverberation_time_s"):
        green_uniform(SIZE, [SOURCE], [RECEIVER], [50.0], 0.0)
    with pytest.raises(InputError, match="axis"):
        green_uniform(SIZE, [SOURCE], [RECEIVER], [50.0], T60, axis=3)
    with pytest.raises(InputError, match=r"must be \(n, 3\)"):
        green_uniform(SIZE, [(1.0, 1.0)], [RECEIVER], [50.0], T60)
