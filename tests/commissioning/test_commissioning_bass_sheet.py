"""The comparison in words, the way asked for, pressure before and after, further stations."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import commissioning
from roomwright._errors import Cancelled, InputError
from roomwright.commissioning import with_bass
from roomwright.commissioning.bass import stations as bass_stations
from roomwright.commissioning.bass.compare import compared_from, is_asked_for, use_way
from roomwright.commissioning.bass.pressure import bass_maps
from roomwright.commissioning.bass.sheet import comparison_sheet, drives_say, origin_says
from roomwright.commissioning.room_view import pressure_map
from roomwright.commissioning.tuning import live
from roomwright.model import Station
from roomwright.tuning import plan_of, prepared
from roomwright.tuning.bass_ways import drawn_survey


@pytest.fixture(scope="module")
def job():
    return commissioning.demo_job()


@pytest.fixture(scope="module")
def survey(job):
    return drawn_survey(job)


@pytest.fixture(scope="module")
def compared(job, survey):
    return commissioning.compare_bass(job, survey, origin="drawing")


def test_the_sheet_has_every_way_and_says_what_exceeds_its_line(compared):
    rows = {row.title: row.cells for row in comparison_sheet(compared)}
    names = [way.name for way in compared.ways]
    assert all(len(cells) == len(names) for cells in rows.values())
    for way, cell in zip(compared.ways, rows["longest decay"], strict=True):
        over = [b for b in way.decay if b.limit_s is not None and b.worst_s > b.limit_s]
        assert cell.tone == (("doubt" if over else "good") if way.decay else "")
        if over:
            worst = max(over, key=lambda band: band.worst_s / band.limit_s)
            assert f"{worst.frequency_hz:.0f} Hz" in cell.text
    assert rows["each output takes"][names.index("gain and delay")].text == "gain, delay"
    assert rows["each output takes"][names.index("free")].text == "no processor"
    assert origin_says(compared).startswith("Computed from the drawing, 20 to 100 Hz")
    assert drives_say(compared, compared.ways[0]) == "SW1 +0.0, SW2 +0.0, SW3 +0.0, SW4 +0.0"


def test_one_way_is_asked_for_and_any_but_the_bound_can_be(job, compared):
    for way in compared.ways:
        if way.name in {"free", "simple array"}:
            continue
        asked = use_way(job, way)
        assert [w.name for w in compared.ways if is_asked_for(asked, compared, w)] == [way.name]
        assert compared_from(asked) == compared_from(job)
    with pytest.raises(InputError, match="a bound that no processor reaches"):
        use_way(job, compared.way("free"))
    assert compared_from(with_bass(job, band_hz=(20, 80))) != compared_from(job)


def test_pressure_is_that_of_the_figures_and_evened_by_the_array(job, compared):
    mixture = compared.way("mixture")
    maps = bass_maps(job, compared, mixture, 60.0)
    assert maps.after.spread_db < 0.2 * maps.before.spread_db
    levels = np.array([level for _, level in maps.after.seats])
    # 0 dB is the power mean of the seats.
    assert np.mean(10 ** (levels / 10)) == pytest.approx(1.0)
    at = compared.frequency_hz.index(maps.frequency_hz)
    stations = dict(zip(compared.judged_at, mixture.level_over_frequency_db, strict=True))
    figures = {name: row[at] for name, row in stations.items()}
    seats = {f"S-{name}": level for name, level in maps.after.seats}
    both = [name for name in figures if name in seats]
    # The seats' stations stand at the ears; filtered responses are cut after a second.
    assert figures[both[0]] - figures[both[1]] == pytest.approx(
        seats[both[0]] - seats[both[1]], abs=0.2
    )
    alike = pressure_map(job, compared.subwoofers, 60.0)
    doubled = pressure_map(job, compared.subwoofers, 60.0, gains=[2.0] * 4)
    np.testing.assert_allclose(doubled.levels_db - alike.levels_db, 20 * np.log10(2), atol=1e-9)


def test_a_plan_computed_once_serves_preparing_and_survives_other_edits(job, survey):
    plan = plan_of(job, survey)
    with_plan = prepared(job, survey, plan)
    assert with_plan.matched == prepared(job, survey).matched
    assert plan_of(with_bass(job, method="matched"), survey) is None
    trimmed = job.model_copy(update={"name": "Another name"})
    assert live.prepared_from(trimmed) == live.prepared_from(job)
    assert live.prepared_from(with_bass(job, method="array")) != live.prepared_from(job)
    marked = with_bass(job, spacing_m=0.4, count=7)
    assert live.prepared_from(marked) == live.prepared_from(job)


def test_further_stations_lower_what_is_uncertain_at_the_seats(job):
    few = job.model_copy(update={"stations": job.stations[:2]})
    found = bass_stations.suggest_stations(few, 3)
    assert len(found.places_m) == 3
    assert np.all(np.diff(found.left) < 0)
    full = bass_stations.suggest_stations(job, 1)
    assert full.left[0] < found.left[-1] < found.left[0]
    # Measuring there must bring what was promised: the same model, the stations added.
    added = bass_stations.with_stations_at(few, found.places_m)
    assert [station.id for station in added.stations[2:]] == ["G1", "G2", "G3"]
    again = bass_stations.suggest_stations(added, 1)
    assert again.left[0] == pytest.approx(found.left[-1], rel=0.2)
    assert "3 further stations lower" in found.says


def test_further_stations_in_a_crooked_room_take_waves_from_everywhere(job):
    outline = ((0.0, 0.0), (5.4, 0.0), (5.4, 7.2), (0.4, 7.2))
    crooked = job.model_copy(
        update={
            "room": job.room.model_copy(update={"outline_m": outline}),
            "stations": job.stations[:1],
        }
    )
    found = bass_stations.suggest_stations(crooked, 2)
    assert found.left[2] < found.left[1] < found.left[0] < 1


def test_stations_are_held_back_one_by_one_and_their_grid_is_told(job):
    assert bass_stations.held_back_names(job) == ("S-R1-4", "S-R2-3", "G2")
    other = bass_stations.with_held_back(job, "G2", held=False)
    assert other.bass.held_back == ("S-R1-4", "S-R2-3")
    back = bass_stations.with_held_back(other, "G2", held=True)
    assert back.bass.held_back == job.bass.held_back
    two = [Station(id="A", position_m=(1, 3, 1)), Station(id="B", position_m=(3, 3, 1.25))]
    apart = job.model_copy(update={"stations": (*two,)})
    says = bass_stations.stations_say(apart, lambda value: f"{value:.2f} m")
    assert says[0] == "2 stations at heights 1.00 m, 1.25 m."
    # 2.02 m apart: a third of the wavelength at 344 / (3 * 2.016) = 57 Hz.
    assert "within 2.02 m" in says[1]
    assert "57 Hz, too far for the band up to 100 Hz" in says[1]


def test_what_cannot_be_suggested_is_said(job):
    def stop(_fraction, _doing):
        raise Cancelled("stopped")

    with pytest.raises(InputError, match="place the subwoofers first"):
        bass_stations.suggest_stations(job.model_copy(update={"subwoofers": ()}), 1)
    with pytest.raises(InputError, match="one further station at least"):
        bass_stations.suggest_stations(job, 0)
    with pytest.raises(InputError, match="no station X9"):
        bass_stations.with_held_back(job, "X9", held=True)
    with pytest.raises(Cancelled):
        bass_stations.suggest_stations(job, 1, stop)
