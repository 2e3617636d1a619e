"""EBU Tech 3276 and ITU-R BS.1116 from memory, ISO 3382 by a public library's account."""

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.standards import bs1116, decay, ebu3276, iso3382, reference_levels


@pytest.mark.parametrize(
    ("volume", "seconds"), [(50, 0.198), (64.8, 0.216), (100, 0.250), (150, 0.286), (200, 0.315)]
)
def test_mean_reverberation(volume, seconds):
    assert ebu3276.mean_reverberation_s(volume) == pytest.approx(seconds, abs=5e-4)  # 3 digits


def test_reverberation_tolerance():
    lower, upper = ebu3276.tolerance_s([31.5, 63, 200, 1000, 4000, 8000, 16000])
    nan = np.nan
    assert lower == pytest.approx([nan, -0.05, -0.05, -0.05, -0.05, -0.1, nan], nan_ok=True)
    assert upper == pytest.approx([nan, 0.3, 0.05, 0.05, 0.05, 0.05, nan], nan_ok=True)


def test_reverberation_tolerance_is_straight_over_log_frequency():
    _, upper = ebu3276.tolerance_s([63, np.sqrt(63 * 200), 200])
    assert upper[1] == pytest.approx((upper[0] + upper[2]) / 2)


@pytest.mark.parametrize("mask", [ebu3276.tolerance_s, bs1116.response_tolerance_db])
def test_masks_bear_any_frequency(mask):
    lower, upper = mask([0.0, 1e6])
    assert np.isnan([lower, upper]).all()


@pytest.mark.parametrize("size", [(6, 4, 2.7), (6.5, 4.5, 2.7)])
def test_good_proportions(size):
    assert ebu3276.proportion_faults(*size) == ()


@pytest.mark.parametrize(
    ("size", "said"),
    [
        ((5, 4.8, 2.4), "length to height is 2.08"),
        ((9, 4, 2.5), "the length is 3.60 times the height"),
        ((6, 4, 2), "width to height is 2.00, within 5 %"),
    ],
)
def test_bad_proportions(size, said):
    assert any(said in fault for fault in ebu3276.proportion_faults(*size))


def test_room_without_height_is_refused():
    with pytest.raises(InputError, match="height"):
        ebu3276.proportion_faults(6, 4, 0)
    with pytest.raises(InputError, match="volume"):
        ebu3276.mean_reverberation_s(-1)


def test_response_tolerance():
    lower, upper = bs1116.response_tolerance_db([40, 50, 2000, 4000, 16000, 20000])
    nan = np.nan
    assert lower == pytest.approx([nan, -3, -3, -4.5, -7.5, nan], nan_ok=True)
    assert upper == pytest.approx([nan, 3, 3, 3, 3, nan], nan_ok=True)


def test_exact_midbands_count_by_their_nominal_frequency():
    # 50 Hz is exactly 50.119, 16 kHz 15849, 63 Hz 63.096, 8 kHz 7943, 31.5 Hz 31.623, 250 251.19.
    assert np.isfinite(bs1116.response_tolerance_db([50.119, 15849.0])).all()
    assert np.isfinite(ebu3276.tolerance_s([63.096, 7943.3])).all()
    assert np.isfinite(decay.decay_limit_s([31.623, 251.19])).all()


@pytest.mark.parametrize(("count", "level"), [(1, 85.0), (2, 81.99), (5, 78.01), (10, 75.0)])
def test_listening_level_adds_up_to_85(count, level):
    assert bs1116.listening_level_dba(count) == pytest.approx(level, abs=0.005)


def test_no_loudspeaker_has_no_listening_level():
    with pytest.raises(InputError, match="number of loudspeakers"):
        bs1116.listening_level_dba(0)


def test_decay_line():
    # The line as it is usually quoted: 0.9, 0.46, 0.29, 0.23, 0.115 s.
    limits = decay.decay_limit_s([20, 32, 63, 100, 125, 250, 400])
    nan = np.nan
    assert limits == pytest.approx(
        [nan, 0.9, 0.457, 0.288, 0.2304, 0.1152, nan], abs=5e-4, nan_ok=True
    )


def test_decay_line_passes_no_later_than_twice_the_published_threshold():
    for hertz, seconds in {**decay.ARTIFICIAL_STIMULI_S, **decay.MUSIC_S}.items():
        assert 0.5 < decay.decay_limit_s(hertz) / seconds < 2


def test_evaluation_ranges_extrapolate_to_60_db():
    spans = {r.name: r.start_db - r.stop_db for r in (iso3382.EDT, iso3382.T20, iso3382.T30)}
    assert spans == {"EDT": 10, "T20": 20, "T30": 30}
    # ISO 3382: the noise lies 10 dB below the end of the range, 15 dB for EDT.
    assert all(r.needed_range_db >= 10 - r.stop_db for r in (iso3382.T20, iso3382.T30))


def test_cinema_peaks():
    # 85 dB and 20 dB of head-room; the LFE channel 10 dB more.
    assert reference_levels.CINEMA_PEAK_DB == 105
    assert reference_levels.LFE_PEAK_DB == 115
