"""The processor: what each output plays, against closed forms in the frequency domain."""

from __future__ import annotations

import numpy as np
import pytest
from rehearsal_cinema import make_job
from scipy import fft

from roomwright._errors import InputError
from roomwright.model import Biquad, Crossover, FirCurve, OutputTuning, OwnLowPass, Tuning
from roomwright.rehearsal import render
from roomwright.signals import cascade_sos, crossover_sos, response
from roomwright.signals.fir import fir_taps

RATE = 48000
N = 1 << 16
IMPULSE = np.zeros(N, np.float32)
IMPULSE[0] = 0.5
GRID = fft.rfftfreq(N, 1 / RATE)
LOW_PASS = Crossover(side="low_pass", frequency_hz=80)
HIGH_PASS = Crossover(side="high_pass", frequency_hz=80)


def tuning(*outputs, **changes):
    return Tuning(outputs=outputs, based_on="0" * 64, **changes)


def spectrum(samples):
    return fft.rfft(samples.astype(float)) / 0.5


def test_without_a_tuning_signals_go_straight_through():
    job = make_job()
    assert list(render(job, "M+030", IMPULSE)) == [1]
    np.testing.assert_array_equal(render(job, "M+030", IMPULSE)[1], IMPULSE)
    lfe = render(job, "LFE1", IMPULSE)
    assert list(lfe) == [3]
    np.testing.assert_allclose(lfe[3], IMPULSE * 10**0.5, rtol=1e-6)
    assert lfe[3].dtype == np.float32


def test_an_output_passes_its_whole_chain():
    """Crossover, biquad, trim, polarity and delay multiply, whatever their order."""
    biquad = Biquad(kind="peaking", frequency_hz=500, gain_db=-6, q=2)
    output = OutputTuning(
        drives="M+030",
        trim_db=-4.5,
        delay_s=0.00275,
        inverted=True,
        crossovers=(HIGH_PASS,),
        biquads=(biquad,),
    )
    played = render(make_job(tuning=tuning(output)), "M+030", IMPULSE)
    expected = (
        -(10 ** (-4.5 / 20))
        * response(crossover_sos(HIGH_PASS, RATE), GRID, RATE)
        * response(cascade_sos([biquad], RATE), GRID, RATE)
        * np.exp(-2j * np.pi * GRID * 0.00275)
    )
    # float32 samples: 24 bits of a peak near 1
    assert np.abs(spectrum(played[1]) - expected).max() < 1e-5


def test_bass_is_redirected_and_sums_flat():
    """Linkwitz-Riley of order 4: low- and high-pass sum to magnitude 1 (Linkwitz 1976)."""
    outputs = (OutputTuning(drives="M-030", crossovers=(HIGH_PASS,)), OutputTuning(drives="SW1"))
    job = make_job(tuning=tuning(*outputs, bass_low_pass=LOW_PASS))
    played = render(job, "M-030", IMPULSE)
    assert sorted(played) == [2, 3]
    np.testing.assert_allclose(np.abs(spectrum(played[2]) + spectrum(played[3])), 1.0, atol=1e-4)
    low = response(crossover_sos(LOW_PASS, RATE), GRID, RATE)
    assert np.abs(spectrum(played[3]) - low).max() < 1e-5


def test_each_channel_is_redirected_through_its_own_low_pass():
    """It sums flat with the high-pass it belongs to; a full-range channel feeds no subwoofer."""
    high = Crossover(side="high_pass", frequency_hz=120, order=8)
    own = (
        OwnLowPass(channels=("M-030",), low_pass=high.other_side),
        OwnLowPass(channels=("M+030",)),
    )
    outputs = (OutputTuning(drives="M-030", crossovers=(high,)), OutputTuning(drives="SW1"))
    job = make_job(tuning=tuning(*outputs, bass_low_pass=LOW_PASS, own_low_passes=own))
    played = render(job, "M-030", IMPULSE)
    np.testing.assert_allclose(np.abs(spectrum(played[2]) + spectrum(played[3])), 1.0, atol=1e-4)
    low = response(crossover_sos(high.other_side, RATE), GRID, RATE)
    assert np.abs(spectrum(played[3]) - low).max() < 1e-5
    assert 3 not in render(job, "M+030", IMPULSE)


def test_the_lfe_channel_has_its_gain_and_no_redirection():
    job = make_job(tuning=tuning(bass_low_pass=LOW_PASS, lfe_gain_db=6.0))
    played = render(job, "LFE1", IMPULSE)
    assert list(played) == [3]
    np.testing.assert_allclose(played[3], IMPULSE * 10 ** (6 / 20), rtol=1e-6)


def test_a_fir_is_played_from_its_curve():
    curve = FirCurve(taps=1024, frequencies_hz=(100, 1000, 8000), level_db=(0, -6, 2))
    job = make_job(tuning=tuning(OutputTuning(drives="M+030", fir=curve)))
    played = render(job, "M+030", IMPULSE)[1]
    np.testing.assert_allclose(played[:1024] / 0.5, fir_taps(curve, RATE), atol=1e-6)
    assert np.abs(played[1024:]).max() < 1e-6


def test_delays_come_in_the_processors_steps():
    output = OutputTuning(drives="M+030", delay_s=0.00123)
    job = make_job(tuning=tuning(output))
    coarse = job.model_copy(
        update={"processor": job.processor.model_copy(update={"delay_step_s": 0.0005})}
    )
    assert np.argmax(render(coarse, "M+030", IMPULSE)[1]) == 48  # 1.0 ms
    fine = job.model_copy(
        update={"processor": job.processor.model_copy(update={"delay_step_s": 1e-6})}
    )
    kept = GRID < 20000
    error = spectrum(render(fine, "M+030", IMPULSE)[1]) - np.exp(-2j * np.pi * GRID * 0.00123)
    assert np.abs(error[kept]).max() < 0.02  # a fraction of a sample rings at half the rate


def test_an_unknown_channel_is_refused():
    with pytest.raises(
        InputError, match=r"no channel M\+110; the channels are M\+030, M-030, LFE1"
    ):
        render(make_job(), "M+110", IMPULSE)
