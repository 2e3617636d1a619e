"""Reference levels of cinema replay, and what follows from them.

The cinema level (SMPTE RP 200, ST 2095-1) is from memory; the home test noise is common practice,
no source.
"""

from __future__ import annotations

#: One screen channel playing wide-band pink noise at `CINEMA_NOISE_DBFS`, dB(C) slow.
CINEMA_LEVEL_DBC = 85.0

#: Level of that noise, dB re a full-scale sine; the head-room of the channel is its negative.
CINEMA_NOISE_DBFS = -20.0

#: In-band level of the LFE channel over that of a main channel.
LFE_GAIN_DB = 10.0

#: One main channel playing 500 Hz to 2 kHz pink noise at `HOME_NOISE_DBFS`, dB(C) slow.
HOME_LEVEL_DBC = 75.0
HOME_NOISE_DBFS = -30.0

#: Highest level asked of a main channel and of the LFE channel at the seat: the level plus its
#: head-room.
CINEMA_PEAK_DB = CINEMA_LEVEL_DBC - CINEMA_NOISE_DBFS
LFE_PEAK_DB = CINEMA_PEAK_DB + LFE_GAIN_DB
