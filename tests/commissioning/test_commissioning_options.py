"""FIR instead of biquads, another crossover, a calibrated microphone."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import InputError
from roomwright.analysis import smoothed_level_db
from roomwright.store import create_job, encode_wav, open_job, read_wav


@pytest.fixture(scope="module")
def surveyed(tmp_path_factory, quick_job):
    path = tmp_path_factory.mktemp("options") / "cinema"
    with create_job(path, quick_job) as folder:
        commissioning.rehearse(folder)
    return path


def test_fir_filters_are_computed_proved_and_handed_over_as_wav(surveyed):
    with open_job(surveyed, write=True) as folder:
        limits = commissioning.tuning_limits(folder.job, method="fir")
        tuned = commissioning.tune(folder, limits=limits)
        proved = commissioning.prove(folder)
        files = commissioning.hand_over(folder, proved=proved).files
    assert tuned.job.limits.method == "fir"
    with_fir = [output for output in tuned.tuning.outputs if output.fir is not None]
    wavs = [file for file in files if file.suffix == ".wav"]
    assert with_fir
    assert len(wavs) == len(with_fir)
    taps, rate = read_wav(wavs[0])
    assert rate == 48000
    assert taps.shape == (1, with_fir[0].fir.taps)
    verdicts = {verdict.criterion: verdict for verdict in proved.verdicts_measured}
    assert verdicts["level_match"].passed
    assert verdicts["arrival_match"].passed


def test_another_crossover_is_used_and_kept(surveyed):
    with open_job(surveyed, write=True) as folder:
        limits = commissioning.tuning_limits(folder.job, method="biquads", crossover_hz=100.0)
        commissioning.tune(folder, limits=limits)
    with open_job(surveyed) as folder:
        job = folder.job
    assert job.limits.crossover_hz == 100.0
    assert job.tuning.bass_low_pass.frequency_hz == 100.0
    mains = {unit.id for unit in job.loudspeakers}
    high_passes = [o.crossovers[0].frequency_hz for o in job.tuning.outputs if o.drives in mains]
    assert set(high_passes) == {100.0}


def test_crossovers_of_single_channels_are_predicted_as_they_are_measured(surveyed):
    """As for the whole job: third octaves agree within 0.5 dB for nine in ten values, 2 dB for all.

    Prediction sums spectra, the rehearsal's processor filters samples; each channel's bass goes
    through its own low-pass in both.
    """
    with open_job(surveyed, write=True) as folder:
        asked = commissioning.with_crossovers(folder.job, ("80", "M+000=140", "M+030=full"))
        commissioning.tune(folder, limits=asked.limits, own_crossovers=asked.own_crossovers)
        proved = commissioning.prove(folder)
        files = commissioning.hand_over(folder, proved=proved).files
        job = folder.job
    assert job.tuning.low_pass_of("M+000").frequency_hz == 140.0
    assert job.tuning.low_pass_of("M+030") is None
    assert job.tuning.low_pass_of("M-030").frequency_hz == 80.0
    bands = 1000 * 2.0 ** (np.arange(-14, 12) / 3)
    rate = proved.predicted.sampling_rate_hz
    predicted = smoothed_level_db(proved.predicted.samples, rate, bands, 3)
    measured = smoothed_level_db(proved.measured.samples, rate, bands, 3)
    main = [i for i, source in enumerate(proved.predicted.sources) if source != "LFE1"]
    # Below its declared band a loudspeaker is not measured, nor what it adds to a sum there; half
    # an octave above, its sweep has faded in.
    lowest_hz = [job.model_of(job.unit(proved.predicted.sources[row])).low_hz for row in main]
    heard = bands > 2.0**0.5 * np.array(lowest_hz)[:, None]
    heard |= (np.array(main) != proved.predicted.sources.index("M+030"))[:, None] & (bands < 40.0)
    difference = np.abs(predicted - measured)[main].swapaxes(1, 2)[heard]
    assert np.quantile(difference, 0.9) < 0.5
    assert difference.max() < 2.0
    assert files[0].read_bytes().startswith(b"%PDF")


def test_a_calibrated_microphone_gives_absolute_levels(tmp_path, write_index, quick_job):
    samples = np.zeros(24000, np.float32)
    samples[480] = 0.5
    (tmp_path / "ir.wav").write_bytes(encode_wav(samples, 48000))
    rows = [(20 * 2**octave, 0.0) for octave in range(9)] + [(10000, 0.0), (20000, 3.0)]
    text = "".join(f"{frequency} {level}\n" for frequency, level in rows)
    (tmp_path / "mic.txt").write_text(f"* made up\n{text}")
    index = write_index([("ir.wav", 1, "M+030", "S-R1-1", "response")])
    with create_job(tmp_path / "cinema", quick_job) as folder:
        surveyed = commissioning.import_recordings(
            folder, index, calibration=tmp_path / "mic.txt", full_scale_db=120.0
        )
        kept = folder.path / "microphones" / surveyed.job.microphone.calibration_file
        assert kept.read_text() == (tmp_path / "mic.txt").read_text()
    responses = surveyed.responses
    assert responses.absolute
    level = np.abs(responses.spectra()[0, 0])
    f = responses.frequencies_hz()
    # 120 dB SPL of a sine is a peak of 28.3 Pa; half of full scale is half of that.
    at_1k = level[np.argmin(np.abs(f - 1000))]
    assert at_1k == pytest.approx(0.5 * 2**0.5 * 20.0, rel=0.01)
    # The microphone reads 3 dB too much at 20 kHz, so the response is 3 dB lower there.
    at_20k = level[np.argmin(np.abs(f - 20000))]
    assert 20 * np.log10(at_20k / at_1k) == pytest.approx(-3.0, abs=0.1)


BAD_CALIBRATIONS = {
    "unsorted": "20 0\n1000 0\n100 0\n20000 0\n",
    "duplicate": "20 0\n100 0\n100 1\n20000 0\n",
    "decimal commas": "20,0;0,1\n1000,0;0,2\n20000,0;0,3\n",
    "empty": "",
    "no numbers": "frequency level\nlow high\n",
    "missing value": "20 0\n100\n20000 0\n",
}


@pytest.mark.parametrize("case", BAD_CALIBRATIONS)
def test_a_bad_calibration_file_is_one_sentence_and_the_job_stays(
    tmp_path, write_index, quick_job, case
):
    (tmp_path / "ir.wav").write_bytes(encode_wav(np.ones(24000, np.float32) * 0.1, 48000))
    file = tmp_path / "mic.txt"
    file.write_text(BAD_CALIBRATIONS[case])
    index = write_index([("ir.wav", 1, "M+030", "S-R1-1", "response")])
    with create_job(tmp_path / "cinema", quick_job) as folder:
        with pytest.raises(InputError, match=r"mic\.txt") as caught:
            commissioning.import_recordings(folder, index, calibration=file)
        assert "\n" not in str(caught.value)
        assert folder.job == quick_job
