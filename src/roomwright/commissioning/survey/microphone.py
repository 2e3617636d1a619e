"""The microphone of a job: its calibration files, where it points, and what reaches full scale."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.measurement import CalibrationCurve, parse_calibration, stated_serial
from roomwright.measurement.metering import sensitivity_from_calibrator
from roomwright.model import Job, Microphone, Take
from roomwright.signals import REFERENCE_PRESSURE_PA, from_amplitude_db
from roomwright.store import JobFolder, read_text, read_wav

_FULL_SCALE_RANGE_DB: Final = (60.0, 180.0)

_RADII_M: Final = (0.005, 0.5)

#: Sound that comes from within this of the axis is corrected by the calibration for 0 degrees:
#: half-way to the other. Common practice, no source.
_ALONG_AXIS_DEG: Final = 45.0

#: A file for sound from the side says so in its name.
_SIDE: Final = re.compile(r"(?<!\d)90(?!\d)")


def with_microphone(
    folder: JobFolder,
    calibration: Path | None = None,
    full_scale_db: float | None = None,
    *,
    side_calibration: Path | None = None,
    serial: str | None = None,
    faces: Literal["ceiling", "front"] | None = None,
    capsule_radius_m: float | None = None,
) -> Job:
    """Return the job with what is now known of its microphone; the rest stays as it was.

    Parameters
    ----------
    folder
        A job folder open for writing; calibration files are kept in it as supplied.
    calibration, side_calibration
        Calibration files for sound along the axis and from the side, or None.
    full_scale_db
        Level of the sine that reaches digital full scale, dB re 20 uPa, or None.
    serial
        The serial number. Without files, those of that number are taken which the job's folder
        holds already.
    faces
        Where the microphone's axis points.
    capsule_radius_m
        Of a microphone of four capsules.

    Raises
    ------
    InputError
        If a file cannot be read or used, is of another microphone or of none that the folder
        knows, or the level is out of range.
    """
    job = folder.job
    known = job.microphone.model_dump()
    if serial is not None:
        known["serial"] = serial.strip()
        if calibration is None and side_calibration is None and known["serial"]:
            known |= _files_of(folder, known["serial"])
    for path, field in (
        (calibration, "calibration_file"),
        (side_calibration, "side_calibration_file"),
    ):
        if path is None:
            continue
        text = read_text(path)
        _check_serial(parse_calibration(text, str(path)), str(path), known["serial"])
        known[field] = folder.add_microphone_file(path.name, text.encode())
    if full_scale_db is not None:
        level_db = _checks.within(full_scale_db, *_FULL_SCALE_RANGE_DB, "the full-scale level")
        peak_pa = 2**0.5 * REFERENCE_PRESSURE_PA * float(from_amplitude_db(level_db))
        known["sensitivity_pa"] = peak_pa
    if faces is not None:
        known["faces"] = faces
    if capsule_radius_m is not None:
        low_m, high_m = _RADII_M
        known["capsule_radius_m"] = _checks.within(
            capsule_radius_m, low_m, high_m, "the radius of the capsules in metres"
        )
    return job.model_copy(update={"microphone": Microphone.model_validate(known)})


def with_calibrator(job: Job, recording: Path, level_db: float = 94.0) -> Job:
    """Return the job with its microphone's sensitivity from a recorded calibrator.

    Parameters
    ----------
    job
        The job.
    recording
        WAV file of the calibrator's tone, its first channel; at the gain of the measurements.
    level_db
        What the calibrator makes, 94 or 114 dB re 20 uPa.

    Raises
    ------
    InputError
        If the recording cannot be read, or is not that of a calibrator.
    """
    samples, rate = read_wav(recording)
    return with_calibrator_heard(job, samples[0], rate, level_db)


def with_calibrator_heard(
    job: Job, samples: NDArray[np.floating], sampling_rate_hz: int, level_db: float = 94.0
) -> Job:
    """The same from the samples of the microphone's input, shape (n,).

    Raises
    ------
    InputError
        If they are not those of a calibrator.
    """
    found_pa = sensitivity_from_calibrator(samples, sampling_rate_hz, level_db)
    microphone = job.microphone.model_copy(update={"sensitivity_pa": found_pa})
    return job.model_copy(update={"microphone": microphone})


class Calibration:
    """The calibration curves of a job's microphone, and which of them applies to which take."""

    def __init__(self, folder: JobFolder, job: Job) -> None:
        self._job = job
        microphone = job.microphone
        files = dict.fromkeys((microphone.calibration_file, microphone.side_calibration_file))
        self._texts = {name: folder.read_microphone_file(name) for name in files if name}
        self._curves = {name: parse_calibration(text, name) for name, text in self._texts.items()}

    @property
    def texts(self) -> str:
        """Everything the files say, for what depends on it."""
        return "\f".join(self._texts.values())

    def of(self, take: Take) -> CalibrationCurve | None:
        """The curve for the direction from which a take's sound came; None without files."""
        name = calibration_file(self._job, take)
        return None if name is None else self._curves[name]


def calibration_file(job: Job, take: Take) -> str | None:
    """The calibration file that applies to a take: by the angle at which its sound came in.

    Background noise comes from everywhere: it takes the file for the side, as a diffuse field
    is nearer to that.
    """
    microphone = job.microphone
    along, side = microphone.calibration_file, microphone.side_calibration_file
    if along is None or side is None:
        return along or side
    if take.kind == "noise":
        return side
    angle = incidence_deg(job, take)
    return along if angle is not None and angle <= _ALONG_AXIS_DEG else side


def incidence_deg(job: Job, take: Take) -> float | None:
    """Angle between the microphone's axis and the sound of a take, degrees.

    The first loudspeaker counts where there are several. None where a place is not known.
    """
    places = {unit.id: unit.position_m for unit in job.units}
    members = {c.id: c.loudspeakers for c in job.channels if c.loudspeakers}
    source = next(iter(members.get(take.source, ())), take.source)
    station = next((s.position_m for s in job.stations if s.id == take.station), None)
    if station is None or source not in places:
        return None
    way = np.subtract(places[source], station)
    axis = (0.0, 0.0, 1.0) if job.microphone.faces == "ceiling" else (0.0, -1.0, 0.0)
    cosine = float(way @ axis) / max(float(np.linalg.norm(way)), 1e-9)
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _files_of(folder: JobFolder, serial: str) -> dict[str, str]:
    """The calibration files of a serial number in the job's folder, by the field they go to."""
    found: dict[str, str] = {}
    for name in folder.microphone_files():
        curve = parse_calibration(folder.read_microphone_file(name), name)
        if serial in (stated_serial(curve), *re.split(r"[^A-Za-z0-9-]+", Path(name).stem)):
            side = _SIDE.search(Path(name).stem.replace(serial, ""))
            found["side_calibration_file" if side else "calibration_file"] = name
    if not found:
        raise InputError(
            f"no calibration file of microphone {serial} lies in {folder.path / 'microphones'}; "
            "give the file"
        )
    return {"calibration_file": None, "side_calibration_file": None, **found}  # type: ignore[dict-item]


def _check_serial(curve: CalibrationCurve, name: str, serial: str) -> None:
    stated = stated_serial(curve)
    if serial and stated and stated != serial:
        raise InputError(
            f"{name} is the calibration of microphone {stated}; this job's microphone is {serial}"
        )
