"""How a third octave is written in a sentence or a table."""

from __future__ import annotations

from roomwright.signals import nominal_label


def band_name(mid_hz: float) -> str:
    """Nominal midband of a third octave with its unit: '31.5 Hz', '250 Hz', '1.25 kHz'."""
    label = nominal_label(float(mid_hz), 3)
    return f"{label[:-1]} kHz" if label.endswith("k") else f"{label} Hz"
