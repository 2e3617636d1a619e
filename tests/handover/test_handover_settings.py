"""Settings and filter files say exactly what the tuning holds."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pytest
from handover_samples import tuned_job

from roomwright._errors import InputError
from roomwright.handover import biquads_csv, fir_taps_by_output, settings_csv, settings_json
from roomwright.model import Biquad, Crossover, OutputTuning, OwnLowPass
from roomwright.signals import response
from roomwright.tuning import latency, output_response


def rows_of(text):
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.DictReader(io.StringIO("\n".join(lines))))


def test_settings_have_one_row_for_each_output(job):
    rows = rows_of(settings_csv(job))
    tuned = {output.drives: output for output in job.tuning.outputs}
    assert [int(row["output"]) for row in rows] == [output.number for output in job.outputs]
    for row in rows:
        output = tuned[row["drives"]]
        assert float(row["trim_db"]) == pytest.approx(output.trim_db, abs=1e-4)
        assert float(row["delay_ms"]) == pytest.approx(1e3 * output.delay_s, abs=1e-6)
        assert row["polarity"] == ("inverted" if output.inverted else "normal")
        assert int(row["biquads"]) == len(output.biquads)


def test_settings_name_a_channel_in_three_ways(job):
    by_unit = {row["drives"]: row for row in rows_of(settings_csv(job))}
    assert by_unit["M+030"]["label_bs2051"] == "M+030"
    assert by_unit["M+030"]["label_iec62574"] == "FL"
    assert by_unit["M+030"]["english"] == "left"
    assert by_unit["SW1"]["english"] == "subwoofer"
    assert "80 Hz, Linkwitz-Riley, 24 dB/octave" in by_unit["M+030"]["crossover"]


def test_an_output_without_settings_is_said_to_be_untuned(job):
    fewer = job.tuning.model_copy(update={"outputs": job.tuning.outputs[1:]})
    rows = rows_of(settings_csv(job.model_copy(update={"tuning": fewer})))
    assert [row["tuned"] for row in rows] == ["no"] + ["yes"] * (len(rows) - 1)


def test_written_coefficients_filter_as_the_tuning_does(job):
    """The sections of biquads.csv, put in series, are the output's response without trim."""
    frequency = np.geomspace(20, 20000, 50)
    rows = rows_of(biquads_csv(job))
    for number, tuned in enumerate(job.tuning.outputs, start=1):
        sos = [
            [
                *(float(row[name]) for name in ("b0", "b1", "b2")),
                1.0,
                float(row["a1"]),
                float(row["a2"]),
            ]
            for row in rows
            if row["output"] == str(number)
        ]
        plain = OutputTuning(
            drives=tuned.drives, crossovers=tuned.crossovers, biquads=tuned.biquads
        )
        expected = output_response(plain, frequency, job.sampling_rate_hz)
        # Coefficients are written with all their digits.
        np.testing.assert_allclose(
            response(sos, frequency, job.sampling_rate_hz), expected, rtol=1e-9
        )


def test_the_redirected_bass_has_its_filter_too(job):
    rows = [row for row in rows_of(biquads_csv(job)) if row["output"] == ""]
    assert [row["kind"] for row in rows] == ["low_pass"] * 2
    assert {float(row["frequency_hz"]) for row in rows} == {80.0}


def test_the_convention_and_the_rate_stand_on_top(job):
    first = biquads_csv(job).splitlines()[0]
    assert "48000 Hz" in first
    assert "(1 + a1/z + a2/z^2)" in first


def test_json_holds_the_whole_tuning(job):
    written = json.loads(settings_json(job))
    again = [
        OutputTuning(
            drives=output["drives"],
            trim_db=output["trim_db"],
            delay_s=output["delay_ms"] / 1e3,
            inverted=output["inverted"],
            crossovers=output["crossovers"],
            biquads=output["biquads"],
        )
        for output in written["outputs"]
    ]
    assert [o.model_dump(exclude={"delay_s"}) for o in again] == [
        o.model_dump(exclude={"delay_s"}) for o in job.tuning.outputs
    ]
    # Delays are written to a nanosecond.
    np.testing.assert_allclose(
        [o.delay_s for o in again], [o.delay_s for o in job.tuning.outputs], atol=1e-9
    )
    (redirected,) = written["bass_management"]["redirected"]
    assert redirected["channels"] == [c.id for c in job.channels if c.role != "lfe"]
    assert Crossover(**redirected["low_pass"]) == job.tuning.bass_low_pass


def test_channels_with_crossovers_of_their_own_are_told_apart_in_every_file(job):
    """Each file says by itself which low-pass is whose; none is left to be guessed."""
    own = (
        OwnLowPass(
            channels=("M+000",), low_pass=Crossover(side="low_pass", frequency_hz=120, order=8)
        ),
        OwnLowPass(channels=("M+030", "M-030")),
    )
    several = job.model_copy(
        update={"tuning": job.tuning.model_copy(update={"own_low_passes": own})}
    )
    written = json.loads(settings_json(several))["bass_management"]["redirected"]
    low_passes = {
        channel: entry["low_pass"] and entry["low_pass"]["frequency_hz"]
        for entry in written
        for channel in entry["channels"]
    }
    mains = [c.id for c in job.channels if c.role != "lfe"]
    assert low_passes == {
        **dict.fromkeys(mains, 80.0),
        "M+000": 120.0,
        "M+030": None,
        "M-030": None,
    }
    by_unit = {row["drives"]: row["redirected_bass"] for row in rows_of(settings_csv(several))}
    assert by_unit["M+000"] == "low-pass 120 Hz, Linkwitz-Riley, 48 dB/octave"
    assert by_unit["M+030"] == "none: keeps its bass"
    assert by_unit["SW1"] == ""
    filters = [r for r in rows_of(biquads_csv(several)) if r["part"] == "redirected bass"]
    others = " ".join(name for name in mains if low_passes[name] == 80.0)
    assert {(r["drives"], r["frequency_hz"]) for r in filters} == {
        ("bass management of M+000", "120.0"),
        (f"bass management of {others}", "80.0"),
    }
    # Order 8 has four sections, order 4 two.
    assert len(filters) == 6


def test_the_sections_that_align_a_main_with_the_bass_are_told_apart(job):
    all_pass = Biquad(kind="all_pass", frequency_hz=90.0)
    outputs = tuple(
        o.model_copy(update={"biquads": (*o.biquads, all_pass)}) if o.drives == "M+030" else o
        for o in job.tuning.outputs
    )
    tuned = job.model_copy(update={"tuning": job.tuning.model_copy(update={"outputs": outputs})})
    rows = [row for row in rows_of(biquads_csv(tuned)) if row["drives"] == "M+030"]
    parts = [row["part"] for row in rows]
    assert parts == ["crossover"] * 2 + ["equaliser"] * 3 + ["alignment with the bass"]


def test_the_delay_of_the_picture_stands_in_the_settings(job):
    written = json.loads(settings_json(job))["sound_and_picture"]
    late = latency(job, job.tuning)
    assert written["sound_after_picture_ms"] == pytest.approx(
        1e3 * late.sound_after_picture_s, abs=1e-3
    )
    assert written["of_that_by_settings_ms"] <= written["sound_after_picture_ms"]


def test_fir_taps_carry_the_name_of_their_output(job):
    assert fir_taps_by_output(job) == {}
    with_fir = tuned_job(fir=True)
    taps = fir_taps_by_output(with_fir)
    assert list(taps)[:3] == ["output-01-M+030", "output-02-M-030", "output-03-M+000"]
    assert len(taps) == len(with_fir.outputs)
    first = taps["output-01-M+030"]
    assert first.dtype == np.float32
    assert first.shape == (512,)
    # The curve asks for 0 dB from 1 kHz up.
    assert abs(np.fft.rfft(first)[200]) == pytest.approx(1.0, abs=0.01)
    files = [output["fir"]["file"] for output in json.loads(settings_json(with_fir))["outputs"]]
    assert files == [f"fir/{name}.wav" for name in taps]


@pytest.mark.parametrize("write", [settings_csv, settings_json, biquads_csv, fir_taps_by_output])
def test_without_a_tuning_there_is_nothing_to_hand_over(job, write):
    with pytest.raises(InputError, match="no tuning"):
        write(job.model_copy(update={"tuning": None}))
