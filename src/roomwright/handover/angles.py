"""Where each loudspeaker stands as the main seat has it, and where it may stand."""

from __future__ import annotations

from roomwright.handover.blocks import Block, Section, Table, Text
from roomwright.handover.levels import Material
from roomwright.handover.wording import count, listing, number
from roomwright.layout import PlacementRow, audit


def angles(material: Material) -> Section | None:
    """Angles and distances at the main seat against their allowed ranges; None without any."""
    job = material.job
    every = audit(job)
    rows = [row for row in every if row.seat == job.main_seat]
    if not rows:
        return None
    table = Table(
        head=(
            "Label",
            "IEC 62574",
            "Name",
            "Azimuth",
            "allowed",
            "Elevation",
            "allowed",
            "Distance, m",
            "Verdict",
        ),
        rows=tuple(_row(row) for row in rows),
        widths=(0, 0, 1, 0, 0, 0, 0, 0, 0),
        align="lllrrrrrl",
        caption=f"Angles at the main seat {job.main_seat}, degrees: azimuth positive to the left, "
        "0 ahead; elevation positive up. Computed from the positions in the job, not measured. "
        "Allowed ranges: ITU-R BS.2051 where it has the label in this layout, else common "
        "practice.",
        marked=8,
    )
    blocks: list[Block] = [Text(_in_words(rows)), table]
    return Section("Where the loudspeakers stand", tuple(blocks))


def _in_words(rows: list[PlacementRow]) -> str:
    outside = [row.label for row in rows if not row.within]
    if not outside:
        return f"All {count(len(rows), 'loudspeaker')} stand within the allowed ranges."
    verb = "stands" if len(outside) == 1 else "stand"
    return (
        f"{len(rows) - len(outside)} of {count(len(rows), 'loudspeaker')} stand within the "
        f"allowed ranges; {listing(outside)} {verb} outside."
    )


def _row(row: PlacementRow) -> tuple[str, ...]:
    return (
        row.label if row.loudspeaker == row.label else f"{row.label} ({row.loudspeaker})",
        row.iec or "–",
        row.english,
        _degrees(row.azimuth_deg),
        _range(row.azimuth_range_deg),
        _degrees(row.elevation_deg),
        _range(row.elevation_range_deg),
        number(row.distance_m, 2),
        "within" if row.within else "outside",
    )


def _degrees(angle: float) -> str:
    return number(angle, 0)


def _range(limits: tuple[float, float]) -> str:
    low, high = (number(limit, 0) for limit in limits)
    return low if low == high else f"{low} to {high}"
