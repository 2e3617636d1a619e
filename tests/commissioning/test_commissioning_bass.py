"""The bass from a job to an answer and back: places, arrays, ways compared, the tuning designed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import Cancelled, InputError
from roomwright.commissioning import with_bass
from roomwright.model import LoudspeakerModel, Output, Station, problems
from roomwright.rehearsal import render
from roomwright.store import create_job, encode_wav, open_job
from roomwright.tuning import output_response, tuning_basis
from roomwright.tuning.bass_design import SearchEffort
from roomwright.tuning.bass_ways import (
    array_ways,
    drawn_survey,
    low_case,
    marked_emitters,
)
from roomwright.tuning.bass_ways.marked import drivers_of, marked_simple

FEW = SearchEffort(designed=40, shown=5, others=0)


def at(job, places):
    """The job with its subwoofers at these places."""
    moved = [
        one.model_copy(update={"position_m": tuple(place)})
        for one, place in zip(job.subwoofers, places, strict=True)
    ]
    return job.model_copy(update={"subwoofers": tuple(moved)})


@pytest.fixture(scope="module")
def cinema():
    """The demo's cinema without its array: four subwoofers along the walls, all alike."""
    job = commissioning.demo_job()
    plain = with_bass(job, method="matched", launching=(), absorbing=(), held_back=())
    return at(plain, ((2.7, 0.3, 0.25), (2.7, 6.9, 0.25), (0.3, 3.6, 0.25), (5.1, 3.6, 0.25)))


@pytest.fixture(scope="module")
def arrayed():
    return commissioning.demo_job()


@pytest.fixture(scope="module")
def compared(arrayed):
    return commissioning.compare_bass(arrayed)


@pytest.fixture(scope="module")
def found(cinema):
    return commissioning.search_places(with_bass(cinema, spacing_m=1.2), effort=FEW)


def test_searched_places_beat_those_there_are(found):
    best = found.choices[0]
    assert best.spread_db2 - 0.3 * best.level_per_drive_db < (
        found.now.spread_db2 - 0.3 * found.now.level_per_drive_db
    )
    spreads = [one.spread_db2 for one in found.front]
    levels = [one.level_db for one in found.front]
    assert spreads == sorted(spreads)
    assert levels == sorted(levels)
    assert all(one.free_spread_db2 < one.spread_db2 <= one.moved_db2 for one in found.choices)


def test_places_keep_clear_of_boxes_seats_and_stations(cinema):
    job = commissioning.with_keep_clear(cinema, "screen", (0.5, 0.0), (4.9, 0.8))
    places = np.array(commissioning.candidate_places(job))
    in_box = (places[:, 0] > 0.5) & (places[:, 0] < 4.9) & (places[:, 1] < 0.8)
    assert not in_box.any()
    assert len(places) < len(commissioning.candidate_places(cinema))
    assert commissioning.candidate_places(
        commissioning.without_keep_clear(job, "screen")
    ) == commissioning.candidate_places(cinema)
    ears = np.array([s.position_m for s in job.stations])
    assert np.linalg.norm(places[:, None] - ears, axis=-1).min() >= 0.3


def test_mirrored_places_are_pairs_fed_alike(cinema):
    pairs = commissioning.search_places(with_bass(cinema, spacing_m=1.2, mirrored=True), effort=FEW)
    width = cinema.room.box_size_m[0]
    for choice in pairs.choices:
        for one, two in ((0, 1), (2, 3)):
            (x1, *rest1), (x2, *rest2) = choice.positions_m[one], choice.positions_m[two]
            assert x1 + x2 == pytest.approx(width)
            assert rest1 == rest2
            assert choice.delay_s[one] == choice.delay_s[two]
    with pytest.raises(InputError, match="even number"):
        commissioning.search_places(with_bass(cinema, mirrored=True, count=3))


def test_a_chosen_place_is_taken_over_and_gives_what_was_said(cinema, found):
    choice = found.choices[0]
    moved = commissioning.use_places(cinema, choice)
    assert {one.position_m for one in moved.subwoofers} == set(choice.positions_m)
    assert [one.id for one in moved.subwoofers] == [one.id for one in cinema.subwoofers]
    assert not problems(moved)
    levels = commissioning.place_levels(cinema, choice)
    spread = float(np.mean(np.var(levels.level_db, axis=0)))
    assert spread == pytest.approx(choice.spread_db2, abs=1e-6)
    again = commissioning.search_places(with_bass(moved, spacing_m=1.2), effort=FEW)
    # Where they stand now they are what the choice said.
    assert again.now.spread_db2 == pytest.approx(choice.spread_db2, rel=0.02)


def test_a_search_can_be_cancelled_and_more_subwoofers_be_placed(cinema):
    def stop(fraction, doing):
        raise Cancelled

    with pytest.raises(Cancelled):
        commissioning.search_places(cinema, stop)
    five = commissioning.search_places(
        with_bass(cinema, count=5, spacing_m=1.8), effort=SearchEffort(10, 2, 0)
    )
    grown = commissioning.use_places(cinema, five.choices[0])
    assert len(grown.subwoofers) == 5
    assert grown.subwoofers[-1].id in {output.drives for output in grown.outputs}


def test_symmetry_that_makes_processing_useless_is_said(cinema):
    """Four corners about centred seats: equal gains are the best, as in Welti's room."""
    size = (6.1, 7.32, 2.74)
    hard = cinema.room.floor.model_copy(update={"absorption": (0.2,) * 8})
    room = commissioning.box_room(size).model_copy(
        update={"walls": (hard,) * 4, "floor": hard, "ceiling": hard}
    )
    ears = [(size[0] / 2 + x, size[1] / 2 + y, 1.2) for y in (-0.6, 0.6) for x in (-0.6, 0.6)]
    stations = tuple(Station(id=f"P{n}", position_m=place) for n, place in enumerate(ears))
    corners = [(x, y, 0.3) for y in (0.3, size[1] - 0.3) for x in (0.3, size[0] - 0.3)]
    job = at(cinema.model_copy(update={"room": room, "stations": stations}), corners)
    result = commissioning.search_places(
        with_bass(job, spacing_m=3.0), effort=SearchEffort(20, 5, 0)
    )
    assert "mirror each other about the seats" in result.now.remark


def test_an_array_is_proposed_placed_and_marked(cinema):
    proposal = commissioning.propose_array(cinema, highest_hz=100.0)
    assert (proposal.across, proposal.up) == (2, 1)
    # c over the spacing of 2.7 m, and half the height: the first mode that survives.
    speed = 331.3 * np.sqrt(1 + cinema.room.temperature_c / 273.15)
    assert proposal.plane_up_to_hz == pytest.approx(speed / 2.8, rel=0.005)
    assert proposal.delay_s == pytest.approx(7.2 / speed, rel=0.005)
    job = commissioning.use_array(cinema, proposal)
    assert not problems(job)
    assert job.bass.launching == ("SW1", "SW2")
    assert job.bass.absorbing == ("SW3", "SW4")
    blocked = commissioning.with_keep_clear(cinema, "door", (1.0, 6.5), (2.0, 7.2))
    assert commissioning.propose_array(blocked, highest_hz=100.0).blocked == ("door",)


def test_the_ways_are_compared_at_stations_no_design_saw(compared):
    assert compared.origin == "drawing"
    assert compared.judged_at == ("S-R1-4", "S-R2-3", "G2")
    assert not set(compared.judged_at) & set(compared.designed_at)
    names = [way.name for way in compared.ways]
    assert names[0] == "alike"
    assert {"gain and delay", "biquads", "FIR", "simple array", "array filters"} <= set(names)
    assert names[-1] == "free"
    assert [way.name for way in compared.ways if way.used] == ["mixture"]


def test_more_means_give_less_spread_where_they_were_designed(compared):
    """All alike, gain and delay, and the bound without limits, at the stations of the design."""
    spread = {way.name: way.designed_spread_db2 for way in compared.ways}
    assert spread["free"] < spread["biquads"] < spread["gain and delay"] < spread["alike"]


def test_the_array_leaves_nothing_behind(compared):
    """Simulated 2 + 2 at half height: as in the table of single-row arrays, decay at the limit."""
    array, alike = compared.way("array filters"), compared.way("alike")
    assert array.spread_db2 < 0.5
    assert alike.spread_db2 > 10.0
    for quick, slow in zip(array.decay, alike.decay, strict=True):
        if 40.0 < quick.frequency_hz < 75.0 and slow.median_s > 3 * slow.readable_s:
            assert quick.median_s < 0.5 * slow.median_s
    assert array.quiet_ahead
    assert array.latency_s == pytest.approx(0.02)


def test_marks_that_make_no_array_are_said(arrayed):
    names = [one.id for one in arrayed.subwoofers]
    one_wall = at(arrayed, [(0.7 + 1.3 * n, 0.15, 1.4) for n in range(4)])
    before = at(arrayed, [(1.35, 0.15, 1.4), (4.05, 0.15, 1.4), (1.35, 3.0, 1.4), (4.05, 3.0, 1.4)])
    for job, sentence in (
        (with_bass(arrayed, launching=("SW1",), absorbing=("SW3",)), "SW2, SW4 neither launches"),
        (with_bass(arrayed, launching=tuple(names), absorbing=()), "marked as absorbing"),
        (with_bass(arrayed, launching=(), absorbing=()), "0 subwoofers are marked"),
        (one_wall, "all subwoofers of the array stand on the front wall"),
        (before, "8 of 8 seats stand behind the absorbing subwoofers"),
    ):
        with pytest.raises(InputError, match=sentence):
            marked_emitters(job, names)
    with pytest.raises(InputError, match="SW4 of the array was not measured"):
        marked_emitters(arrayed, names[:3])
    swapped = with_bass(arrayed, launching=("SW3", "SW4"), absorbing=("SW1", "SW2"))
    assert marked_emitters(swapped, names).direction == -1


def test_what_cannot_be_had_is_a_finding_and_the_rest_is_compared(arrayed):
    result = commissioning.compare_bass(with_bass(arrayed, launching=("SW1",)))
    assert "neither launches nor absorbs" in " ".join(one.text for one in result.findings)
    assert result.way("simple array") is None
    assert result.way("gain and delay") is not None


def test_responses_without_a_time_reference_are_refused(arrayed):
    survey = replace(drawn_survey(arrayed), timed=False)
    with pytest.raises(InputError, match="no common time reference"):
        commissioning.compare_bass(arrayed, survey)
    broken = drawn_survey(arrayed)
    samples = np.array(broken.samples)
    samples[0, 0, 100] = np.nan
    with pytest.raises(InputError, match="the responses of the subwoofers"):
        commissioning.compare_bass(arrayed, replace(broken, samples=samples))
    samples = np.array(broken.samples)
    samples[1] = samples[0]
    with pytest.raises(InputError, match="cannot be told apart"):
        array_ways(low_case(arrayed, replace(broken, samples=samples)))


def test_a_coarse_grid_reduces_the_band_and_says_so(arrayed):
    sparse = tuple(s for s in arrayed.stations if not s.id.startswith("G"))
    job = with_bass(arrayed.model_copy(update={"stations": sparse}), held_back=("S-R1-4",))
    ways = array_ways(low_case(job, drawn_survey(job)))
    assert "add stations between them" in " ".join(one.text for one in ways.findings)
    assert ways.design.band.high_hz < 90.0


def test_wishes_are_checked(cinema):
    for changes, sentence in (
        ({"band_hz": (100.0, 50.0)}, "must rise"),
        ({"method": "louder"}, "bass method"),
        ({"launching": ("SW1",), "absorbing": ("SW1",)}, "both launch and absorb"),
        ({"no_such": 1}, "no_such"),
    ):
        with pytest.raises(InputError, match=sentence):
            with_bass(cinema, **changes)
    with pytest.raises(InputError, match="no subwoofer SW9"):
        commissioning.mark_array(cinema, ("SW9",), ())
    with pytest.raises(InputError, match="two corners"):
        commissioning.parse_box("door:1,2")
    main = next(s.id for s in cinema.stations if s.seat == cinema.main_seat)
    assert any(
        "cannot be held back" in text for text in problems(with_bass(cinema, held_back=(main,)))
    )


def test_the_choice_of_a_search_is_kept_with_the_job(tmp_path, cinema, found):
    with create_job(tmp_path / "cinema", with_bass(cinema, spacing_m=1.2)) as folder:
        with pytest.raises(InputError, match="search first"):
            commissioning.kept_choice(folder, 1)
        commissioning.keep_places(folder, found)
        assert commissioning.kept_places(folder) == found
        assert commissioning.kept_choice(folder, 2) == found.choices[1]
        with pytest.raises(InputError, match="no choice 99"):
            commissioning.kept_choice(folder, 99)
        folder.save(with_bass(folder.job, spacing_m=1.3))
        assert commissioning.kept_places(folder) is None


def subwoofers_only(job):
    """The job with its subwoofers and LFE channel alone."""
    lfe = tuple(channel for channel in job.channels if channel.role == "lfe")
    names = [subwoofer.id for subwoofer in job.subwoofers]
    return job.model_copy(
        update={
            "loudspeakers": (),
            "channels": lfe,
            "outputs": tuple(Output(number=n, drives=name) for n, name in enumerate(names, 1)),
        }
    )


@pytest.fixture(scope="module")
def measured_alone(tmp_path_factory, arrayed):
    """A job that knows its responses and stations, and of the room no more than a box around it."""
    job = subwoofers_only(arrayed)
    truth = drawn_survey(job)
    path = tmp_path_factory.mktemp("measured")
    rows = ["file,wav_channel,channel,station,kind"]
    for n, source in enumerate(truth.sources):
        for p, station in enumerate(truth.stations):
            name = f"{source}-{station}.wav"
            (path / name).write_bytes(encode_wav(truth.samples[n, p], truth.sampling_rate_hz))
            rows.append(f"{name},1,{source},{station},response")
    (path / "index.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    # The drawing is wrong by far: harder walls, another height. Only the responses are right.
    bare = job.room.floor.model_copy(update={"absorption": (0.02,) * 8})
    room = job.room.model_copy(
        update={"walls": (bare,) * 4, "floor": bare, "ceiling": bare, "height_m": 3.4}
    )
    with create_job(path / "cinema", job.model_copy(update={"room": room})) as folder:
        commissioning.import_recordings(folder, path / "index.csv", common_start=True)
        designed = commissioning.design_bass(folder)
        survey, origin = commissioning.bass_responses(folder)
        compared = commissioning.compare_bass(folder.job, survey, origin=origin)
        proved = commissioning.prove(folder)
        handed = commissioning.hand_over(folder, proved=proved)
    return path / "cinema", designed, compared, proved, handed


def test_the_bass_is_designed_from_measured_responses_alone(measured_alone, compared):
    _, designed, from_survey, proved, _ = measured_alone
    assert from_survey.origin == "survey"
    for name in ("alike", "gain and delay", "mixture"):
        own, drawn = from_survey.way(name), compared.way(name)
        # The same responses, but for the beginning of an import: the same answer.
        assert own.spread_db2 == pytest.approx(drawn.spread_db2, rel=0.1, abs=0.15)
    assert from_survey.way("mixture").spread_db2 < 0.5
    assert all(one.fir is not None for one in designed.tuning.outputs)
    found = {one.criterion: one for one in proved.verdicts_predicted}
    assert found["bass_held_back"].passed
    assert found["bass_held_back"].value < 1.0


def test_filters_of_the_bass_survive_saving_and_are_handed_over(measured_alone):
    path, designed, _, _, handed = measured_alone
    with open_job(path) as folder:
        assert folder.job.tuning == designed.tuning
    names = {file.name for file in handed.files}
    assert {"output-01-SW1.wav", "output-01-SW1.csv", "output-04-SW4.wav"} <= names
    text = next(f for f in handed.files if f.name == "output-01-SW1.csv").read_text("utf-8")
    taps = np.array([float(line) for line in text.splitlines()[2:]])
    assert taps.size == designed.tuning.outputs[0].fir.taps
    assert taps.size <= folder.job.processor.fir_taps_per_output


def test_the_processor_plays_what_was_predicted(measured_alone):
    """The rehearsed processor filters samples, the prediction multiplies spectra."""
    _, designed, *_ = measured_alone
    job, rate = designed.job, designed.job.sampling_rate_hz
    pulse = np.zeros(rate, dtype=np.float32)
    pulse[0] = 1.0
    played = render(job, job.channels[0].id, pulse)
    frequency = np.arange(20.0, 121.0)
    for output in designed.tuning.outputs:
        number = next(one.number for one in job.outputs if one.drives == output.drives)
        heard = np.fft.rfft(played[number].astype(np.float64))[20:121]
        wanted = output_response(output, frequency, rate) * 10 ** (designed.tuning.lfe_gain_db / 20)
        # Samples are float32, and biquads at 20 Hz ring on a little beyond the second.
        assert np.abs(heard - wanted).max() < 1e-3 * np.abs(wanted).max()


def test_a_weaker_subwoofer_is_asked_for_less(arrayed):
    """Its data sheet lets it play 9 dB less loud, so filters may not lean on it."""
    weak = LoudspeakerModel(
        **{**arrayed.loudspeaker_models[-1].model_dump(), "name": "weak", "maximum_level_db": 109.0}
    )
    first = arrayed.subwoofers[0].model_copy(update={"model": "weak"})
    job = arrayed.model_copy(
        update={
            "loudspeaker_models": (*arrayed.loudspeaker_models, weak),
            "subwoofers": (first, *arrayed.subwoofers[1:]),
        }
    )
    assert arrayed.subwoofers[1].model == arrayed.loudspeaker_models[-1].name
    reserve = drivers_of(job, ["SW1", "SW2", "SW3", "SW4"]).reserve_db
    assert reserve == pytest.approx([6.0, 15.0, 15.0, 15.0])


def test_an_array_in_a_room_that_is_no_box_is_designed_from_its_responses(arrayed):
    """A corner is cut off the drawing: gains come from the responses, not from the walls."""
    outline = ((0.0, 0.0), (5.4, 0.0), (5.4, 6.4), (4.6, 7.2), (0.0, 7.2))
    walls = (*arrayed.room.walls, arrayed.room.walls[0])
    room = arrayed.room.model_copy(update={"outline_m": outline, "walls": walls})
    crooked = arrayed.model_copy(update={"room": room})
    with pytest.raises(InputError, match="measure the subwoofers"):
        drawn_survey(crooked)
    with pytest.raises(InputError, match="by hand"):
        commissioning.propose_array(crooked)
    case = low_case(crooked, drawn_survey(arrayed))
    found = marked_simple(case, marked_emitters(crooked, case.names))
    true = marked_simple(
        low_case(arrayed, drawn_survey(arrayed)), marked_emitters(arrayed, case.names)
    )
    # What the responses say is within a step or two of what the walls they were computed with say.
    assert found.gain.min() == pytest.approx(true.gain.min(), abs=0.11)


def test_wishes_for_places_leave_a_tuning_as_good_as_it_was(cinema):
    """Only what the subwoofers are fed by rests on them."""
    before = tuning_basis(cinema)
    assert tuning_basis(with_bass(cinema, count=6, spacing_m=1.0)) == before
    even = with_bass(cinema, method="even_seats")
    assert tuning_basis(even) != before
    assert tuning_basis(with_bass(even, count=6)) == tuning_basis(even)
    assert tuning_basis(with_bass(even, means="fir")) != tuning_basis(even)
