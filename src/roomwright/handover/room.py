"""The room: its drawing, its surfaces, how it decays and how quiet it is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.handover import svg
from roomwright.handover.blocks import Beside, Block, Facts, Figure, Section, Table
from roomwright.handover.levels import Material
from roomwright.handover.origin import Stage, stage_words
from roomwright.handover.plots import Area, Curve, Plot, draw
from roomwright.handover.room_drawings import plan, section
from roomwright.handover.summary import final_verdicts
from roomwright.handover.svg import Drawing, Stroke
from roomwright.handover.wording import count, number
from roomwright.model import OCTAVE_BANDS_HZ, Job
from roomwright.proof import Verdict, band_name, transition_hz
from roomwright.signals import midbands, nominal_label, power_db
from roomwright.standards.ebu3276 import mean_reverberation_s, tolerance_s
from roomwright.standards.nc import EDITION, NC_OCTAVES_HZ, noise_criterion_levels_db

F = NDArray[np.float64]

_WIDTH_PT = 482.0
_HALF_PT = 0.49 * _WIDTH_PT


def room(material: Material) -> Section:
    """Drawings, facts, surfaces, reverberation and background noise."""
    job = material.job
    blocks: list[Block] = [
        *_drawings(job, Facts(tuple(_facts(material)), columns=1)),
        _surfaces(job),
        *_decay_and_noise(material),
    ]
    return Section("The room", tuple(blocks))


def _drawings(job: Job, facts: Facts) -> tuple[Block, ...]:
    """Plan, section and facts: side by side, or one above the other in a wide room."""
    x_min, y_min, x_max, y_max = job.room.polygon.bounds
    is_wide = (x_max - x_min) > 1.2 * (y_max - y_min)
    unplaced = sum(station.position_m is None for station in job.stations)
    above = (
        "Plan, to scale, from the positions in the job. Blue cabinets point where they are aimed; "
        "open ones hang above; orange squares are subwoofers; the main seat is in bold; red "
        "crosses are microphone stations."
    )
    if unplaced:
        above += (
            f" The places of {count(unplaced, 'station')} were not written down; "
            f"{'it is' if unplaced == 1 else 'they are'} not drawn."
        )
    beside = (
        "Section from the left, the front wall on the left, from the same positions; units that "
        "hide each other share a label."
    )
    drawn = Figure((section(job, _HALF_PT, 190.0),), beside)
    if is_wide:
        return (Figure((plan(job, _WIDTH_PT, 330.0),), above), Beside((drawn,), (facts,)))
    return (Beside((Figure((plan(job, _HALF_PT, 330.0),), above),), (drawn, facts)),)


def _facts(material: Material) -> list[tuple[str, str]]:
    job = material.job
    x_min, y_min, x_max, y_max = job.room.polygon.bounds
    size = f"{x_max - x_min:.2f} × {y_max - y_min:.2f} × {job.room.height_m:.2f} m"
    mean_s = next(
        (v.value for v in final_verdicts(material) if v.criterion == "reverberation_mean"), None
    )
    transition = transition_hz(job, mean_s)
    read_from = "the surfaces" if mean_s is None else "the measured decay"
    return [
        ("Width, length, height", size if job.room.box_size_m else f"{size} (extent)"),
        ("Floor, volume", f"{job.room.floor_area_m2:.1f} m², {job.room.volume_m3:.1f} m³"),
        ("Transition frequency", f"{transition:.0f} Hz, from {read_from}"),
        ("Seats", f"{len(job.seats)} in {count(len({s.row for s in job.seats}), 'row')}"),
        ("Air", f"{job.room.temperature_c:g} °C, {job.room.humidity_percent:g} % humidity"),
        ("Noise designed for", f"NC {job.room.noise_criterion:g}"),
    ]


def _surfaces(job: Job) -> Table:
    head = ("Surface", "Material", "Area, m²", *(nominal_label(f, 1) for f in OCTAVE_BANDS_HZ))
    rows = tuple(
        (
            name,
            surface.material,
            f"{area:.1f}",
            *(f"{coefficient:.2f}" for coefficient in surface.absorption),
        )
        for name, surface, area in job.room.surfaces_with_areas()
    )
    return Table(
        head=head,
        rows=rows,
        widths=(0, 1, 0, *(0,) * 8),
        align="llr" + "r" * 8,
        caption="Surfaces and their absorption coefficients by octave, hertz, as stated in the "
        "job; wall 1 stands between the first two corners of the outline.",
    )


def _decay_and_noise(material: Material) -> tuple[Block, ...]:
    decay, noise = _reverberation(material), _noise(material)
    drawings = tuple(drawing for drawing in (decay, noise) if drawing is not None)
    if not drawings:
        return ()
    captions = []
    if decay is not None:
        mask = next(v for v in final_verdicts(material) if v.criterion == "reverberation_mask")
        captions.append(
            "Reverberation: the shaded band is what EBU Tech 3276 (from memory) allows about the "
            "measured mean; the dashed line is the mean it names for this volume. Computed from "
            f"{mask.computed_from} ({stage_words(material, _decay_stage(material))})."
        )
    if noise is not None:
        captions.append(
            "Background noise: octave levels of the loudest station, against the curves of "
            f"{EDITION}. Computed from "
            f"{count(_noise_stations(material), 'recording')} without a signal."
        )
    return (Figure(drawings, " ".join(captions), columns=2),)


def _decay_stage(material: Material) -> Stage:
    return "proof" if material.content.verdicts_measured else "survey"


def _by_band(verdict: Verdict) -> tuple[F, F]:
    """Third-octave midbands and the values a verdict names for them."""
    values = dict(verdict.detail)
    mids = midbands(3, 31.5, 8000.0)
    named = [(mid, values.get(band_name(mid))) for mid in mids]
    known = [(mid, value) for mid, value in named if value is not None]
    return np.array([mid for mid, _ in known]), np.array([value for _, value in known])


def _reverberation(material: Material) -> Drawing | None:
    by_criterion = {verdict.criterion: verdict for verdict in final_verdicts(material)}
    mask, mean = by_criterion.get("reverberation_mask"), by_criterion.get("reverberation_mean")
    if mask is None or mean is None or mean.value is None:
        return None
    mids, times = _by_band(mask)
    if mids.size < 2:
        return None
    mask_hz = midbands(3, 63.0, 8000.0)
    lower, upper = tolerance_s(mask_hz)
    nominal = mean_reverberation_s(material.job.room.volume_m3)
    highest = max(float(times.max()), float(np.nanmax(upper)) + mean.value)
    plot = Plot(
        title="Reverberation time",
        y_label="time, s",
        curves=(
            Curve(
                np.array([200.0, 4000.0]),
                np.full(2, nominal),
                Stroke(svg.GREY, 1.0, "4 2"),
            ),
            Curve(mids, times, Stroke(svg.BLUE, 1.5)),
        ),
        range_hz=(28.0, 9000.0),
        range_y=(0.0, min(np.ceil(highest * 5 + 0.2) / 5, 3.0)),
        width_pt=_HALF_PT,
        height_pt=165.0,
        areas=(Area(mask_hz, lower + mean.value, upper + mean.value),),
        at_octaves=True,
    )
    return draw(plot, f"Reverberation time by third octave; its mean is {number(mean.value, 2)} s.")


def _noise_set(material: Material) -> F | None:
    responses = material.content.survey
    if responses is None or not np.isfinite(responses.background_db).any():
        return None
    return responses.background_db


def _noise_stations(material: Material) -> int:
    levels = _noise_set(material)
    return 0 if levels is None else int(np.isfinite(levels).any(axis=1).sum())


def _noise(material: Material) -> Drawing | None:
    levels = _noise_set(material)
    survey = material.content.survey
    if levels is None or survey is None:
        return None
    known = levels[np.isfinite(levels).any(axis=1)]
    loudest = known[np.argmax(np.nansum(10.0 ** (known / 10.0), axis=1))]
    octaves = np.array(NC_OCTAVES_HZ)
    wanted = material.job.room.noise_criterion
    curves = [
        Curve(octaves, noise_criterion_levels_db(nc), Stroke(svg.GREY, 0.6), f"NC {nc}")
        for nc in (15, 25, 35)
        if abs(nc - wanted) >= 2.5
    ]
    designed = noise_criterion_levels_db(wanted)
    curves.append(Curve(octaves, designed, Stroke(svg.BLACK, 1.1, "4 2"), f"NC {wanted:g}, design"))
    curves.append(Curve(survey.octave_hz, loudest, Stroke(svg.BLUE, 1.5), "measured"))
    plot = Plot(
        title="Background noise",
        y_label="octave level, dB",
        curves=tuple(curves),
        range_hz=(14.0, 9000.0),
        range_y=(0.0, 90.0),
        width_pt=_HALF_PT,
        height_pt=165.0,
        at_octaves=True,
    )
    total = float(power_db(np.nansum(10.0 ** (loudest / 10.0))))
    return draw(plot, f"Background noise by octave, {number(total, 0)} dB in all.")
