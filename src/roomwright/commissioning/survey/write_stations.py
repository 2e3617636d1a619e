"""The plan of the stations on paper: drawn to scale, as SVG and PDF."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

from roomwright.commissioning.lengths import Units, format_length
from roomwright.commissioning.survey.duration import survey_duration
from roomwright.store import JobFolder


@dataclass(frozen=True, slots=True)
class StationFiles:
    """The files written, and the paper and scale (1 : `scale`) they are for."""

    pdf: Path
    svg: Path
    paper: str
    scale: int


def write_stations(folder: JobFolder, units: Units = "m") -> StationFiles:
    """Write `outputs/stations.pdf` and `outputs/stations.svg`; earlier ones are replaced.

    Parameters
    ----------
    folder
        A job folder open for writing.
    units
        Metres, or feet and inches; scale and paper go with them.

    Raises
    ------
    InputError
        If no station has a place, the room fits no paper, or a file cannot be written.
    """
    from roomwright import handover

    sheet = handover.build_station_sheet(
        folder.job,
        partial(format_length, units=units),
        units,
        made_on=datetime.now().astimezone().date().isoformat(),
        says=survey_duration(folder.job).says + ".",
    )
    return StationFiles(
        pdf=folder.write_output("stations.pdf", sheet.pdf),
        svg=folder.write_output("stations.svg", sheet.drawing.svg),
        paper=sheet.paper,
        scale=sheet.scale,
    )
