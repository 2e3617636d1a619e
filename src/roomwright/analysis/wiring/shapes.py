"""Units whose range or level is not theirs: another kind of unit, a way missing, too soft."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis.wiring.drawn import strangers
from roomwright.analysis.wiring.fronts import reaches_beyond
from roomwright.analysis.wiring.system import BANDS_HZ, HeardSystem, PlannedUnit
from roomwright.model import Diagnosis
from roomwright.signals import nominal_words

F = NDArray[np.float64]

#: Shapes are compared down to this far below their highest octave, dB: below it lies noise.
_DEEPEST_DB: Final = 25.0

#: A unit has the range of another kind if that differs from it by so much less than its own, mean
#: over the third octaves, dB. A room's unevenness (5.6 dB for one place and tone, Schroeder) is in
#: both and averages out over places and bands; that a second unit shows the reverse is the proof.
_OTHER_KIND_DB: Final = 2.0

#: A way is missing where the level lies this far below the highest octave, over this many third
#: octaves from the end of the range on. The bass of one place in a room falls into dips of 10 dB,
#: hardly over more than an octave; the treble falls off axis and with the room's absorption.
_BOTTOM_DB, _BOTTOM_BANDS = 12.0, 4
_TOP_DB, _TOP_BANDS = 8.0, 2

#: Where one end is missing, so little of the other speaks for swapped ways: a woofer falls slowly
#: above its crossover and a tweeter below, both by 12 dB an octave as a rule.
_OTHER_BOTTOM, _OTHER_TOP = (8.0, 3), (5.0, 2)

#: Added to both where there are no like units to compare with and the data sheet must do: what an
#: ordinary room does to the bass and to the treble.
_WITHOUT_LIKE_DB: Final = 6.0

#: Levels are compared with the highest octave above this, hertz: below, a room adds its own gain.
_ABOVE_ROOM_HZ: Final = 300.0

#: A unit is too soft if it lies so far below what its data sheet and distance give for the others,
#: dB: units, rooms and angles explain up to half of it.
_SOFT_DB: Final = 10.0


def exchanged_kinds(heard: HeardSystem) -> tuple[Diagnosis, ...]:
    """A loudspeaker that has a subwoofer's range while a subwoofer has that of a loudspeaker."""
    found_db = _shape(heard.mean_db())
    looks_other: dict[bool, list[int]] = {}
    gains: dict[int, float] = {}
    for subwoofer in (False, True):
        # Within a subwoofer's range alone the shape of a loudspeaker is hardly another.
        rows = [r for r in heard.rows(subwoofers=subwoofer) if reaches_beyond(heard, r)]
        looks_other[subwoofer] = []
        for row in rows:
            own = _kind_db(heard, found_db, row, subwoofers=subwoofer, rank=0)
            # The most alike of the other kind may be the one that it is exchanged with.
            other = _kind_db(heard, found_db, row, subwoofers=not subwoofer, rank=1)
            if own - other > _OTHER_KIND_DB:
                looks_other[subwoofer].append(row)
                gains[row] = own - other
    main = looks_other[False][0] if len(looks_other[False]) == 1 else None
    for row, (other, _) in strangers(heard).items():
        if other == main:
            looks_other[True].append(row)
    if main is None or len(looks_other[True]) != 1:
        return ()
    one, two = heard.units[looks_other[False][0]].id, heard.units[looks_other[True][0]].id
    evidence = min(gains.values())
    return (
        Diagnosis(
            kind="swapped",
            sources=(one, two),
            evidence=evidence,
            sentence=f"{one} and {two} are swapped: each has the frequency range of the other "
            f"({evidence:.0f} dB nearer to it on average)",
            remedy="exchange the two outputs",
        ),
    )


def wrong_ways(heard: HeardSystem, skip: frozenset[str]) -> tuple[Diagnosis, ...]:
    """Loudspeakers that lack the lower or the upper part of their range, or both."""
    mean_db = heard.mean_db()
    rows = [r for r in heard.rows(subwoofers=False) if heard.units[r].id not in skip]
    found = (_ways_of(heard, mean_db, row, rows) for row in rows)
    return tuple(diagnosis for diagnosis in found if diagnosis is not None)


def too_soft(heard: HeardSystem, skip: frozenset[str]) -> tuple[Diagnosis, ...]:
    """Units much softer than the others, each by its own data sheet and distance."""
    rows = [
        r for r, unit in enumerate(heard.units) if heard.usable[r].any() and unit.id not in skip
    ]
    if len(rows) < 3:
        return ()
    mean_db, distance_m = heard.mean_db(), heard.planned_m()
    over = {}
    for row in rows:
        unit = heard.units[row]
        own = _own(unit)
        level = float(np.mean(mean_db[row, own] - unit.shape_db(BANDS_HZ[own])))
        # Between the free field (20 lg) and the diffuse one (0).
        away = 10.0 * float(np.log10(np.mean(distance_m[row, heard.usable[row]])))
        over[row] = level - unit.level_db + away
    found = []
    for row, level in over.items():
        # Rooms add to the bass: subwoofers are compared with each other where there are some.
        kind = heard.units[row].subwoofer
        others = [db for r, db in over.items() if r != row and heard.units[r].subwoofer == kind]
        usual = float(np.median(others or [db for r, db in over.items() if r != row]))
        if level >= usual - _SOFT_DB:
            continue
        found.append(
            Diagnosis(
                kind="low_level",
                sources=(heard.units[row].id,),
                evidence=level - usual,
                sentence=f"is {usual - level:.0f} dB softer than its data sheet and the others "
                "let expect",
                remedy="check the amplifier's gain, the output's trim and the cable",
            )
        )
    return tuple(found)


def _own(unit: PlannedUnit) -> NDArray[np.bool_]:
    """Third octaves well inside a unit's range."""
    inside: NDArray[np.bool_] = (1.25 * unit.low_hz <= BANDS_HZ) & (0.8 * unit.high_hz >= BANDS_HZ)
    return inside


def _shape(level_db: F) -> F:
    """Levels re the highest octave, not below the deepest, shape kept."""
    top = np.max(_octave_mean(level_db), axis=-1, keepdims=True)
    return np.asarray(np.clip(level_db - top, -_DEEPEST_DB, None))


def _octave_mean(level_db: F) -> F:
    """Mean of three neighbouring third octaves, shape (..., M - 2)."""
    return np.asarray((level_db[..., :-2] + level_db[..., 1:-1] + level_db[..., 2:]) / 3.0)


def _kind_db(heard: HeardSystem, found_db: F, row: int, *, subwoofers: bool, rank: int) -> float:
    """How far a shape is from a kind of units: the nearest data sheet, or the rank-th other unit.

    What a room adds to the bass is in all that was measured, and in no data sheet.
    """
    kind = [unit for unit in heard.units if unit.subwoofer == subwoofers]
    sheets = [_apart_db(found_db[row], _shape(unit.shape_db(BANDS_HZ))) for unit in kind]
    others = [r for r in heard.rows(subwoofers=subwoofers) if r != row]
    measured = sorted(_apart_db(found_db[row], found_db[other]) for other in others)
    return min([*sheets, *measured[rank : rank + 1]], default=float("inf"))


def _apart_db(found_db: F, shape_db: F) -> float:
    return float(np.mean(np.abs(found_db - shape_db)))


def _ways_of(heard: HeardSystem, mean_db: F, row: int, rows: list[int]) -> Diagnosis | None:
    unit = heard.units[row]
    own = _own(unit)
    bands = BANDS_HZ[own]
    if np.count_nonzero(bands > _ABOVE_ROOM_HZ) < _TOP_BANDS + 3:
        return None
    like = [r for r in rows if r != row and heard.units[r].like == unit.like]
    over = _over(mean_db[row] - unit.shape_db(BANDS_HZ), own)
    other_end = over
    bottom, top = _ends(over, _WITHOUT_LIKE_DB if len(like) < 2 else 0.0)
    if len(like) >= 2:
        # Of two like units one may be the faulty one: the higher counts.
        pick = np.max if len(like) == 2 else np.median
        over = _over(mean_db[row] - pick(mean_db[like], axis=0), own)
        bottom, top = (min(pair) for pair in zip((bottom, top), _ends(over, 0.0), strict=True))
        # The room's gain is missing in the data sheet, a place's dips are in both.
        other_end = (other_end + over) / 2.0
    no_bass, no_treble = bottom >= _BOTTOM_BANDS, top >= _TOP_BANDS
    if no_treble and not no_bass:
        no_bass = _run(other_end < -_OTHER_BOTTOM[0]) >= _OTHER_BOTTOM[1]
    elif no_bass and not no_treble:
        no_treble = _run(other_end[::-1] < -_OTHER_TOP[0]) >= _OTHER_TOP[1]
    if no_bass and no_treble:
        return _ways(
            unit.id,
            "ways_swapped",
            float(over[:_BOTTOM_BANDS].mean()),
            f"lacks both ends of its range, below {_words(bands[bottom])} and above "
            f"{_words(bands[-top - 1])}, as if woofer and tweeter were exchanged",
            "stop, before the tweeter is harmed; exchange the two ways at once",
        )
    if no_bass:
        return _ways(
            unit.id,
            "woofer_missing",
            float(over[:_BOTTOM_BANDS].mean()),
            f"plays too little below {_words(bands[bottom])} and should play from "
            f"{unit.low_hz:.0f} Hz on ({-over[:_BOTTOM_BANDS].mean():.0f} dB missing)",
            "check the output, the amplifier and the cable of its woofer",
        )
    if no_treble:
        return _ways(
            unit.id,
            "tweeter_missing",
            float(over[-_TOP_BANDS:].mean()),
            f"plays too little above {_words(bands[-top - 1])} "
            f"({-over[-_TOP_BANDS:].mean():.0f} dB missing)",
            "check the output, the amplifier and the cable of its tweeter",
        )
    return None


def _words(band_hz: float) -> str:
    return nominal_words(float(band_hz), 3)


def _over(level_db: F, own: NDArray[np.bool_]) -> F:
    """Levels of a range over its highest octave above the room's gain."""
    high = own & (BANDS_HZ > _ABOVE_ROOM_HZ)
    return np.asarray(level_db[own] - np.max(_octave_mean(level_db[high])))


def _ends(over_db: F, spare_db: float) -> tuple[int, int]:
    """How many third octaves are missing from either end of a range."""
    bottom = _run(over_db < -(_BOTTOM_DB + spare_db))
    return bottom, _run(over_db[::-1] < -(_TOP_DB + spare_db))


def _run(lacking: NDArray[np.bool_]) -> int:
    """How many in a row from the first on."""
    return int(lacking.size if lacking.all() else np.argmin(lacking))


def _ways(source: str, kind: str, evidence: float, sentence: str, remedy: str) -> Diagnosis:
    fields = {"kind": kind, "sources": (source,), "evidence": evidence}
    return Diagnosis.model_validate(fields | {"sentence": sentence, "remedy": remedy})
