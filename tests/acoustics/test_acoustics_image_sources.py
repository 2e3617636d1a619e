from __future__ import annotations

import numpy as np
import pyroomacoustics as pra
import pytest

from roomwright._errors import InputError
from roomwright.acoustics import green_walls, images, reflection_gain

SIZE = (6.0, 4.0, 2.7)
SOURCE = (1.0, 2.0, 1.2)
RECEIVER = (4.0, 2.0, 1.2)
C = 343.0

PLANES = ["x=0", "x=Lx", "y=0", "y=Ly", "floor", "ceiling"]
POSITIONS = [
    (SOURCE, RECEIVER),
    ((0.4, 0.5, 0.3), (3.1, 2.7, 1.15)),
    ((5.7, 3.6, 2.4), (0.3, 0.2, 1.7)),
    ((2.9, 0.1, 1.9), (3.3, 1.4, 1.1)),
]


@pytest.mark.parametrize(
    ("plane", "distance", "delay_ms", "level_db"),
    [
        ("floor", 3.842, 2.454, -2.15),
        ("ceiling", 4.243, 3.623, -3.01),
        ("x=0", 5.000, 5.831, -4.44),
        ("y=0", 5.000, 5.831, -4.44),
        ("y=Ly", 5.000, 5.831, -4.44),
        ("x=Lx", 7.000, 11.662, -7.36),
    ],
)
def test_first_reflections_match_the_worked_example(plane, distance, delay_ms, level_db):
    """6 x 4 x 2.7 m, source (1, 2, 1.2), receiver (4, 2, 1.2), c 343: geometry worked by hand."""
    paths = images(SIZE, SOURCE, RECEIVER, 8.0)
    once = np.zeros(6)
    once[PLANES.index(plane)] = 1
    (found,) = np.flatnonzero(np.all(paths.hits == once, axis=1))
    direct = paths.distance_m[0]
    assert paths.distance_m[found] == pytest.approx(distance, abs=5.1e-4)
    delay = 1000 * (paths.distance_m[found] - direct) / C
    assert delay == pytest.approx(delay_ms, abs=5.1e-4)
    level = 20 * np.log10(direct / paths.distance_m[found])
    assert level == pytest.approx(level_db, abs=5.1e-3)


def test_direct_sound_comes_first():
    """3.000 m, 8.746 ms; it comes from ahead (-x) and left toward +x."""
    paths = images(SIZE, SOURCE, RECEIVER, 30.0)
    assert paths.distance_m[0] == 3.0
    assert 1000 * paths.distance_m[0] / C == pytest.approx(8.746, abs=5.1e-4)
    assert paths.hits[0].sum() == 0
    assert paths.direction[0] == pytest.approx([-1, 0, 0])
    assert paths.departure[0] == pytest.approx([1, 0, 0])
    assert np.all(np.diff(paths.distance_m) >= 0)
    assert paths.distance_m[-1] <= 30.0


@pytest.mark.parametrize(("source", "receiver"), POSITIONS)
def test_each_path_ends_at_the_receiver(source, receiver):
    """A ray sent along `departure` and folded at the walls, by a rule of its own.

    It must arrive at the receiver after `distance_m`, having crossed each plane `hits` times.
    """
    paths = images(SIZE, source, receiver, 25.0)
    size = np.array(SIZE)
    unfolded = source + paths.departure * paths.distance_m[:, None]
    cell = np.floor(unfolded / size)
    folded = unfolded - cell * size
    folded = np.where(cell % 2 == 0, folded, size - folded)
    assert folded == pytest.approx(np.tile(receiver, (len(folded), 1)), abs=1e-9)
    total = paths.hits[:, 0::2] + paths.hits[:, 1::2]
    assert np.array_equal(total, np.abs(cell))
    # The first plane met is the one the ray left toward.
    first = np.where(paths.departure < 0, paths.hits[:, 0::2], paths.hits[:, 1::2])
    assert np.array_equal(first, (total + 1) // 2)


def test_directions_are_unit_vectors_and_agree_with_the_angles():
    paths = images(SIZE, *POSITIONS[1], 25.0)
    assert np.linalg.norm(paths.direction, axis=1) == pytest.approx(1.0, abs=1e-12)
    assert np.abs(paths.direction) == pytest.approx(paths.cosines, abs=1e-15)
    assert np.abs(paths.departure) == pytest.approx(paths.cosines, abs=1e-15)


@pytest.mark.parametrize(("source", "receiver"), POSITIONS)
def test_source_and_receiver_can_be_exchanged(source, receiver):
    """Reciprocity: the same lengths and gains, departures become arrivals."""
    walls = np.array([[0.02], [0.5], [0.1], [0.3], [0.05], [0.2]])
    there, back = images(SIZE, source, receiver, 20.0), images(SIZE, receiver, source, 20.0)
    both = []
    for paths, way in ((there, there.direction), (back, back.departure)):
        table = np.column_stack([paths.distance_m, reflection_gain(paths, walls), way])
        both.append(table[np.lexsort(np.round(table, 9).T)])
    assert both[0] == pytest.approx(both[1], abs=1e-9)


def test_number_of_paths_fills_the_sphere():
    """Kuttruff, section 4.1: 4 pi r^3 / (3 V) images within r, edges of order r^2."""
    found = images(SIZE, *POSITIONS[1], 100.0).distance_m.size
    assert found == pytest.approx(4 * np.pi * 100.0**3 / 3 / np.prod(SIZE), rel=0.01)


def test_reflection_gain_by_hand():
    """(cos - beta) / (cos + beta): floor at cos 0.6247, then the corner, then a dead wall."""
    paths = images(SIZE, SOURCE, RECEIVER, 8.0)
    walls = np.zeros((6, 2))
    walls[4] = [0.1, 1.0]
    gain = reflection_gain(paths, walls)
    (floor,) = np.flatnonzero(np.all(paths.hits == [0, 0, 0, 0, 1, 0], axis=1))
    cosine = 2.4 / np.hypot(3.0, 2.4)
    assert gain[floor] == pytest.approx([(cosine - b) / (cosine + b) for b in (0.1, 1.0)])
    assert gain[0] == pytest.approx(1.0)
    without = paths.hits[:, 4] == 0
    assert gain[without] == pytest.approx(1.0)


def test_rigid_wall_reflects_fully_even_when_grazed():
    """Source on the floor, receiver on the floor: cos = 0 at a rigid plane."""
    paths = images(SIZE, (1.0, 2.0, 0.0), (4.0, 2.0, 0.0), 20.0)
    assert reflection_gain(paths, np.zeros((6, 1))) == pytest.approx(1.0)
    assert np.count_nonzero(paths.distance_m == 3.0) == 2


def test_images_approach_the_exact_field_of_lossy_walls():
    """Plane-wave reflection of spherical waves errs by the order of 1 / (k R).

    Against the exact field between walls of beta 0.3, in units of the direct sound: about 0.15
    below 125 Hz, 0.03 in the octave up to 1 kHz.
    """
    source, receiver = (1.5, 1.2, 1.0), (4.2, 2.9, 1.6)
    frequency = np.geomspace(62.5, 1000.0, 40)
    walls = np.full((6, 40), 0.3)
    paths = images(SIZE, source, receiver, 60.0)
    gain = reflection_gain(paths, walls[:, :1])[:, 0] / (4 * np.pi * paths.distance_m)
    phase = np.exp(-2j * np.pi * frequency[:, None] / C * paths.distance_m)
    exact = green_walls(SIZE, source, receiver, frequency, walls, C)[0, 0]
    error = np.abs(phase @ gain - exact) * 4 * np.pi * paths.distance_m[0]
    assert error[30:].mean() < 0.05
    assert error[30:].mean() < 0.4 * error[:10].mean()


RATE = 16000
REFLECTION = np.array([0.9, 0.8, 0.85, 0.7, 0.6, 0.75])


def band_limited(response_or_spectrum, length):
    """Keep 160 Hz to 5.6 kHz, with cosine edges, of a signal or its one-sided spectrum."""
    spectrum = np.asarray(response_or_spectrum)
    if not np.iscomplexobj(spectrum):
        spectrum = np.fft.rfft(spectrum, length)
    edge = np.linspace(0.0, 0.5, spectrum.size)  # of the sampling rate
    low = np.clip((edge - 0.01) / 0.01, 0.0, 1.0)
    high = np.clip((0.35 - edge) / 0.05, 0.0, 1.0)
    return np.fft.irfft(spectrum * np.sin(np.pi / 2 * low * high) ** 2, length)


def ours(source, receiver, length, max_distance, max_order=10**6):
    """Impulse response with a constant reflection factor per wall, as both libraries use."""
    paths = images(SIZE, source, receiver, max_distance)
    kept = paths.hits.sum(axis=1) <= max_order
    distance, hits = paths.distance_m[kept], paths.hits[kept]
    gain = np.prod(REFLECTION**hits, axis=1) / (4 * np.pi * distance)
    frequency = np.fft.rfftfreq(length, 1 / RATE)
    spectrum = np.zeros(frequency.size, dtype=complex)
    for d, a in zip(distance, gain, strict=True):
        spectrum += a * np.exp(-2j * np.pi * frequency * d / C)
    return band_limited(spectrum, length)


@pytest.mark.parametrize(("source", "receiver"), POSITIONS)
def test_impulse_response_agrees_with_pyroomacoustics(source, receiver, monkeypatch):
    """All reflections up to order 6; its responses carry 40 samples of filter delay
    and leave out 4 pi.

    Its 81-tap interpolator ripples by about 1e-3 in the band compared.
    """
    length = 4096
    names = ("west", "east", "south", "north", "floor", "ceiling")
    walls = {name: pra.Material(1.0 - r**2) for name, r in zip(names, REFLECTION, strict=True)}
    monkeypatch.setitem(pra.parameters._constants, "rir_hpf_enable", False)
    room = pra.ShoeBox(SIZE, fs=RATE, materials=walls, max_order=6, air_absorption=False)
    room.set_sound_speed(C)
    room.add_source(source)
    room.add_microphone(receiver)
    room.compute_rir()
    theirs = band_limited(room.rir[0][0][40:] / (4 * np.pi), length)
    mine = ours(source, receiver, length, 60.0, max_order=6)
    assert np.abs(mine - theirs).max() < 2e-3 * np.abs(mine).max()


@pytest.mark.parametrize(("source", "receiver"), POSITIONS)
def test_impulse_response_agrees_with_rir_generator(source, receiver):
    """All reflections in the first 60 ms; its responses have no filter delay.

    Its interpolator is flat in the band compared: 1e-6 was seen.
    """
    rir_generator = pytest.importorskip("rir_generator", reason="no wheel for this platform")
    count = int(0.1 * RATE)
    response = rir_generator.generate(
        c=C,
        fs=RATE,
        s=source,
        r=[receiver],
        L=SIZE,
        beta=REFLECTION,
        nsample=count,
        hp_filter=False,
    )[:, 0]
    early = slice(0, int(0.06 * RATE))
    theirs = band_limited(response, 4096)[early]
    mine = ours(source, receiver, 4096, C * count / RATE)[early]
    assert np.abs(mine - theirs).max() < 1e-5 * np.abs(mine).max()


def test_bad_points_are_refused():
    with pytest.raises(InputError, match="source 0"):
        images(SIZE, (7.0, 1.0, 1.0), RECEIVER, 10.0)
    with pytest.raises(InputError, match="apart"):
        images(SIZE, SOURCE, SOURCE, 10.0)
    with pytest.raises(InputError, match="apart"):
        images(SIZE, SOURCE, RECEIVER, 2.0)
    with pytest.raises(InputError, match="admittance"):
        reflection_gain(images(SIZE, SOURCE, RECEIVER, 5.0), np.zeros((5, 1)))
