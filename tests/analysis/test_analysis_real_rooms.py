"""Measured responses of real rooms, against two independent libraries where they agree.

pyrato 1.1 and acoustic-toolbox 0.2 filter, truncate and fit in their own ways; where their
answers differ, ours must lie between them or be marked as not reliable. 5 % beyond either is
allowed: the just noticeable difference of reverberation time (ISO 3382-1 Table A.1).
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import soundfile

from roomwright.analysis import arrival_s, clarity, decay_times, energy_decay_curve
from roomwright.signals import midbands

NOTICEABLE = 0.05
OCTAVES = midbands(1, 125, 8000)


def by_pyrato(samples, rate):
    """T20 and T30 per octave, shape (2, octaves)."""
    pyfar, pyrato = pytest.importorskip("pyfar"), pytest.importorskip("pyrato")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        bands = pyfar.dsp.filter.fractional_octave_bands(
            pyfar.Signal(samples, rate), 1, frequency_range=(125, 8000)
        )
        times = []
        for band in range(OCTAVES.size):
            curve = pyrato.edc.energy_decay_curve_chu_lundeby(bands[band, 0])
            times.append(
                [
                    np.squeeze(pyrato.parameters.reverberation_time_linear_regression(curve, name))
                    for name in ("T20", "T30")
                ]
            )
    return np.array(times, dtype=float).T


def by_acoustic_toolbox(file):
    """T20 and T30 per octave, shape (2, octaves)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        room = pytest.importorskip("acoustic_toolbox.room")
        bands = np.array([125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0])
        return np.array([room.t60_impulse(str(file), bands, name) for name in ("t20", "t30")])


@pytest.mark.parametrize(
    ("name", "fewest_reliable"), [("living_room_1.wav", 0), ("ir_sportscentre_omni.wav", 6)]
)
def test_decay_lies_between_two_libraries_or_is_marked(measured_rooms, name, fewest_reliable):
    """A living room with double slopes (44.1 kHz, DC offset) and a sports hall (96 kHz)."""
    samples, rate = soundfile.read(measured_rooms / name)
    ours = decay_times(samples, rate, OCTAVES, 1)
    theirs = np.array(
        [by_pyrato(samples - samples.mean(), rate), by_acoustic_toolbox(measured_rooms / name)]
    )
    low = theirs.min(axis=0) * (1 - NOTICEABLE)
    high = theirs.max(axis=0) * (1 + NOTICEABLE)
    times = np.array([ours.t20_s, ours.t30_s])
    between = ((low <= times) & (times <= high)).all(axis=0)
    assert (between | ~ours.reliable).all()
    assert (ours.reliable & between).sum() >= fewest_reliable


def test_where_the_libraries_disagree_the_reading_is_marked(measured_rooms):
    """The living room at 250 Hz: T20 0.15 s and T30 0.30 s within one library."""
    samples, rate = soundfile.read(measured_rooms / "living_room_1.wav")
    t20, t30 = by_acoustic_toolbox(measured_rooms / "living_room_1.wav")
    ours = decay_times(samples, rate, OCTAVES, 1)
    bent = np.abs(t30 / t20 - 1) > 0.25
    assert bent.any()
    assert not ours.reliable[bent].any()
    # The late part is still read alike.
    assert np.abs(ours.t30_s / t30 - 1)[bent].max() < 0.15


def test_an_offset_is_no_reverberation(measured_rooms):
    """A plain broadband T20 of the living room reads 6 s for its DC offset and rumble."""
    samples, rate = soundfile.read(measured_rooms / "living_room_1.wav")
    energy = np.cumsum((samples**2)[::-1])[::-1]
    level = 10 * np.log10(energy / energy[0])
    inside = (level <= -5) & (level >= -25)
    naive = -60 / np.polyfit(np.arange(samples.size)[inside] / rate, level[inside], 1)[0]
    assert naive > 4.0
    curve = energy_decay_curve(samples, rate)
    # Broad band the response stands less than 35 dB above its noise: no T20 is to be had.
    assert curve is None or curve.range_db < 35.0
    with_offset = decay_times(samples, rate, OCTAVES, 1)
    without = decay_times(samples - samples.mean(), rate, OCTAVES, 1)
    assert with_offset.t20_s == pytest.approx(without.t20_s, rel=0.01)
    assert np.nanmax(with_offset.t20_s) < 0.5


@pytest.mark.open_data
def test_a_real_reference_room_is_plausible(reference_room):
    """32 loudspeakers of ITU-R BS.2051 at two ears in a real ITU-R BS.1116 room.

    Its README says: aligned in arrival at the centre, a head in the way above 1 kHz. So both
    ears together hear every loudspeaker at nearly the same moment, the nearer ear first, by no
    more than a head's width; the room is as short as BS.1116 asks.
    """
    files = sorted(reference_room.glob("*.wav"))
    assert len(files) == 32
    read = [soundfile.read(file, always_2d=True) for file in files]
    rate = read[0][1]
    responses = np.stack([samples.T for samples, _ in read])
    azimuth = np.array([int(file.stem[1:]) for file in files])
    arrivals = arrival_s(responses, rate)
    assert np.isfinite(arrivals).all()
    # Two ears 15 cm apart: 0.44 ms through, at most about 0.8 ms around the head.
    lead_ms = 1e3 * (arrivals[:, 1] - arrivals[:, 0])
    assert np.abs(lead_ms).max() < 0.9
    aside = (np.abs(azimuth) >= 30) & (np.abs(azimuth) <= 135)
    assert (np.sign(lead_ms[aside]) == np.sign(azimuth[aside])).all()
    assert np.abs(lead_ms[(azimuth == 0) | (azimuth == 180)]).max() < 0.1
    assert np.ptp(arrivals.mean(axis=1)) < 0.5e-3
    # The nearer ear hears clearer than the farther one, and both very clearly.
    c50 = clarity(responses, rate).c50_db
    near_left = azimuth[aside] > 0
    nearer = np.where(near_left, c50[aside, 0], c50[aside, 1])
    farther = np.where(near_left, c50[aside, 1], c50[aside, 0])
    assert (nearer > farther).all()
    assert c50.min() > 10.0
    # Reverberation from 0.1 to 0.4 s in each octave, mean over loudspeakers and ears.
    mids = midbands(1, 250, 4000)
    late = np.nanmean(decay_times(responses, rate, mids, 1).t30_s, axis=(0, 1))
    assert (late > 0.1).all()
    assert (late < 0.4).all()
    assert np.ptp(late) < 0.1
