"""Room responses: both halves against each other and against closed forms."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from rehearsal_cinema import box_room
from scipy import fft, signal

from roomwright._errors import InputError
from roomwright.acoustics import attenuation_db_per_m, room_reverberation_s
from roomwright.model import Surface
from roomwright.rehearsal.box import EARLY_S, FADE_S, box_of
from roomwright.rehearsal.room import Emitter, early_half, low_half, room_responses
from roomwright.rehearsal.weights import octave_weights
from roomwright.signals import band_filter_sos

RATE = 48000.0
THIRDS = (-1, 0, 1)


def pairs(count: int, seed: int = 0):
    """Sources 0.3 m or more from every wall, receivers where seats are."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        source = tuple(rng.uniform([0.3, 0.3, 0.3], [4.9, 6.1, 2.4]))
        receiver = tuple(rng.uniform([1.0, 3.0, 1.0], [4.2, 5.8, 1.4]))
        if np.linalg.norm(np.subtract(source, receiver)) > 0.5:
            yield Emitter(f"S{number}", source, (2.6, 4.0, 1.2), "omni"), receiver


def both_halves(box, emitter, receiver):
    """Frequency, low half, image sources, whole response, each half over all frequencies."""
    frequency = fft.rfftfreq(box.length, 1 / RATE)
    low = low_half(replace(box, low_weights=np.ones_like(box.low_weights)), [emitter], receiver)[0]
    grid = fft.rfftfreq(box.early_length, 1 / RATE)
    flat = octave_weights(grid, box.octaves_hz).astype(np.float32)
    early, _, _ = early_half(replace(box, early_weights=flat), emitter, receiver)
    early = np.concatenate(
        [early[box.lead :], np.zeros(box.length - early.size), early[: box.lead]]
    )
    whole = room_responses(box, [emitter], receiver, 1)[0].astype(float)
    return frequency, fft.rfft(low), fft.rfft(early), fft.rfft(whole)


def third_octave_db(above, below, frequency, centre):
    """Level of one spectrum over another in the three third octaves round the crossover."""
    levels = []
    for third in THIRDS:
        low, high = centre * 2 ** ((third - 0.5) / 3), centre * 2 ** ((third + 0.5) / 3)
        band = (frequency >= low) & (frequency < high)
        energy = [np.sum(np.abs(spectrum[band]) ** 2) for spectrum in (above, below)]
        levels.append(10 * np.log10(energy[0] / energy[1]))
    return levels


def decibels(energy):
    return 10 * np.log10(energy)


def test_halves_agree_in_level_and_phase_where_walls_absorb_strongly():
    """Image sources reflect plane waves, the exact field spherical ones: the difference shrinks
    with distance over wavelength. Over the crossover octave of 12 pairs, alpha = 0.9."""
    box = box_of(box_room(0.9), RATE)
    ratios = []
    for emitter, receiver in pairs(12):
        frequency, low, early, _ = both_halves(box, emitter, receiver)
        octave = np.abs(np.log2(np.maximum(frequency, 1) / box.crossover_hz)) < 0.45
        ratios.append(early[octave] / low[octave])
    level = 20 * np.log10(np.abs(ratios))
    phase = np.degrees(np.angle(ratios))
    assert np.median(np.abs(level)) < 0.6
    assert level.std() < 1.2
    assert np.median(np.abs(phase)) < 4.0
    assert np.abs(np.median(level)) < 0.3
    assert np.abs(np.median(phase)) < 1.5  # no common delay: 1 degree is 0.02 ms here


@pytest.mark.parametrize(("absorption", "spread_db"), [(0.5, 0.6), (0.3, 0.8), (0.2, 1.0)])
def test_the_sum_has_no_notch_at_the_crossover(absorption, spread_db):
    """Third-octave levels of the whole against those of the exact field alone."""
    box = box_of(box_room(absorption), RATE)
    differences = []
    for emitter, receiver in pairs(8):
        frequency, low, _, whole = both_halves(box, emitter, receiver)
        differences.append(third_octave_db(whole, low, frequency, box.crossover_hz))
    # a power loss of unrelated halves would be 3 dB, of opposed ones without limit
    assert np.abs(np.mean(differences, axis=0)).max() < 0.5
    assert np.std(differences) < spread_db


@pytest.mark.parametrize("absorption", [0.15, 0.5, 0.9])
def test_nothing_sounds_before_the_direct_sound(absorption):
    """Apart from the band-limited pulse, whose own half length is 0.7 ms."""
    box = box_of(box_room(absorption), RATE)
    for emitter, receiver in pairs(5):
        response = room_responses(box, [emitter], receiver, 1)[0].astype(float)
        direct_s = np.linalg.norm(np.subtract(emitter.position_m, receiver)) / box.speed_m_s
        before = response[: int((direct_s - 0.001) * RATE)]
        assert np.sum(before**2) < 1e-6 * np.sum(response**2)


def test_the_direct_sound_is_the_free_field():
    """1 / r at r / c, less the air: ISO 9613-1. Between direct sound and first reflection."""
    box = box_of(box_room(0.5, height_m=5.4), RATE)
    emitter, receiver = Emitter("S", (2.6, 2.6, 2.7), (2.6, 4.0, 2.7), "omni"), (2.6, 4.0, 2.7)
    response = room_responses(box, [emitter], receiver, 1)[0].astype(float)
    direct = round(1.4 / box.speed_m_s * RATE)
    n = 512
    spectrum = np.abs(fft.rfft(response[direct - 60 : direct + 60] * signal.windows.tukey(120), n))
    at = fft.rfftfreq(n, 1 / RATE)
    kept = (at > 1500) & (at < 18000)
    air_db = attenuation_db_per_m(at[kept], 21.0, 45.0) * 1.4
    np.testing.assert_allclose(20 * np.log10(spectrum[kept] * 1.4), -air_db, atol=0.15)


@pytest.mark.parametrize("absorption", [0.2, 0.4])
def test_energy_decays_without_a_step_into_the_tail(absorption):
    """Mean energy of 12 pairs in steps of the fade's 20 ms round the change-over, 500 Hz to
    4 kHz: no step differs from the decay either side of it by more than 1.2 dB (the mean of 12
    pairs x 3 octaves x 20 ms of noise is known to some 0.3 dB)."""
    room = box_room(absorption)
    box = box_of(room, RATE)
    mids = [707.9, 1412.5, 2818.4]
    levels = []
    for emitter, receiver in pairs(12):
        response = room_responses(box, [emitter], receiver, 1)[0].astype(float)
        direct_s = np.linalg.norm(np.subtract(emitter.position_m, receiver)) / box.speed_m_s
        start = round((direct_s + EARLY_S - 2 * FADE_S) * RATE)
        step = round(FADE_S * RATE)
        for mid in mids:
            filtered = signal.sosfiltfilt(band_filter_sos(mid, 1, RATE), response)
            blocks = filtered[start : start + 5 * step].reshape(5, step)
            levels.append(decibels(np.sum(blocks**2, axis=1)))
    steps = np.diff(np.mean(levels, axis=0))
    expected = -60 * FADE_S / room_reverberation_s(room, [1412.5])[0]
    np.testing.assert_allclose(steps, expected, atol=1.2)


def test_the_tail_decays_as_eyring_says():
    room = box_room(0.25)
    box = box_of(room, RATE)
    curves = []
    for emitter, receiver in pairs(6):
        response = room_responses(box, [emitter], receiver, 1)[0].astype(float)
        filtered = signal.sosfiltfilt(band_filter_sos(1000.0, 1, RATE), response)
        curves.append(np.cumsum(filtered[::-1] ** 2)[::-1])
    curve = decibels(np.mean(curves, axis=0))
    time = np.arange(curve.size) / RATE
    kept = (time > 0.13) & (time < 0.3)
    slope = np.polyfit(time[kept], curve[kept], 1)[0]
    # six Gaussian tails in one octave: some 5 % of statistical spread
    assert -60 / slope == pytest.approx(room_reverberation_s(room, [1000.0])[0], rel=0.1)


def test_a_loudspeaker_turned_aside_is_quieter_above_and_alike_below():
    """Piston and box of `directivity_gain`; the exact field below knows no direction."""
    box = box_of(box_room(0.6), RATE)
    spot, receiver = (2.6, 1.0, 1.3), (2.6, 4.0, 1.3)
    toward = Emitter("S", spot, receiver, "medium")
    aside = Emitter("S", spot, (5.2, 1.0, 1.3), "medium")
    spectra = np.abs(fft.rfft(room_responses(box, [toward, aside], receiver, 1).astype(float)))
    frequency = fft.rfftfreq(box.length, 1 / RATE)
    below, above = frequency < 0.7 * box.crossover_hz, (frequency > 4000) & (frequency < 12000)
    energy = np.array([np.sum(spectra[:, band] ** 2, axis=1) for band in (below, above)])
    assert decibels(energy[0, 0] / energy[0, 1]) == pytest.approx(0.0, abs=0.2)
    assert decibels(energy[1, 0] / energy[1, 1]) > 4.0


def test_exchanging_source_and_receiver_changes_nothing_but_the_tail():
    """Reciprocity, for sources that radiate evenly; before the tail begins."""
    box = box_of(box_room(0.3), RATE)
    one, other = (1.1, 2.3, 0.9), (3.7, 4.9, 1.6)
    there = room_responses(box, [Emitter("S", one, one, "omni")], other, 1)[0]
    back = room_responses(box, [Emitter("S", other, other, "omni")], one, 1)[0]
    np.testing.assert_allclose(there[:3500], back[:3500], atol=1e-4 * np.abs(there).max())


def test_the_seed_fixes_the_tail_and_sources_do_not_disturb_each_other():
    box = box_of(box_room(0.3), RATE)
    (one, receiver), (two, _) = list(pairs(2))
    together = room_responses(box, [one, two], receiver, 5)
    alone = room_responses(box, [two], receiver, 5)
    np.testing.assert_allclose(together[1], alone[0], atol=1e-6)
    other = room_responses(box, [two], receiver, 6)
    assert np.abs(alone - other).max() > 1e-3


@pytest.mark.parametrize("absorption", [0.0, 1.0])
def test_the_hardest_and_the_deadest_room_are_finite(absorption):
    box = box_of(box_room(absorption), 16000.0)
    emitter, receiver = next(pairs(1))
    assert np.isfinite(room_responses(box, [emitter], receiver, 1)).all()


def test_a_room_as_large_as_a_hall_is_simulated():
    box = box_of(box_room(0.9, outline_m=((0, 0), (30, 0), (30, 60), (0, 60))), 8000.0)
    spot, receiver = (1.0, 1.0, 1.0), (29.0, 59.0, 2.0)
    response = room_responses(box, [Emitter("S", spot, spot, "omni")], receiver, 1)[0]
    direct_s = np.linalg.norm(np.subtract(spot, receiver)) / box.speed_m_s
    assert np.argmax(np.abs(response)) / 8000.0 == pytest.approx(direct_s, abs=0.01)


def test_only_boxes_are_simulated():
    surface = Surface(material="test", absorption=(0.3,) * 8)
    outline = ((0, 0), (5, 0), (5, 3), (2, 3), (2, 6), (0, 6))
    with pytest.raises(InputError, match="box rooms only"):
        box_of(box_room(outline_m=outline, walls=(surface,) * 6), RATE)
