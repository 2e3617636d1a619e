"""Changes of filters, levels, delays and limits; what the engineer sets is kept by the solver.

All are pure: a job in, a changed job out. `units` are loudspeakers and subwoofers; those of
channels are found by `units_of`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, Final

from pydantic import ValidationError

from roomwright._errors import InputError
from roomwright.commissioning.edits.crossover import CROSSOVER_RANGE_HZ
from roomwright.commissioning.tuning.scope import check_range, digits
from roomwright.model import Biquad, ByHand, Job, OutputTuning, Tuning, TuningLimits
from roomwright.tuning import tuning_basis

#: What filters by hand may be, and how far trims and delays may be changed.
GAIN_RANGE_DB: Final = (-24.0, 12.0)
Q_RANGE: Final = (0.1, 20.0)
_LARGEST_TRIM_CHANGE_DB: Final = 40.0
_LARGEST_DELAY_CHANGE_S: Final = 0.5


def add_filter(job: Job, units: Iterable[str], biquad: Biquad) -> Job:
    """A filter by hand for each of these loudspeakers and subwoofers.

    Raises
    ------
    InputError
        If the processor or the limits allow no more in one of them, or its gain or Q is outside
        -24 to 12 dB or 0.1 to 20.
    """
    biquad = _checked(job, biquad)

    def change(hand: ByHand) -> ByHand:
        allowed = min(job.limits.biquads_per_output, job.processor.biquads_per_output)
        if len(hand.biquads) >= allowed:
            raise InputError(
                f"{hand.drives} has {len(hand.biquads)} filters by hand; the limits and the "
                f"processor allow {allowed} in all"
            )
        return hand.model_copy(update={"biquads": (*hand.biquads, biquad)})

    return _with_hand(job, units, change)


def move_filter(job: Job, units: Iterable[str], number: int, biquad: Biquad) -> Job:
    """A filter by hand changed in each of these units that has one of that number.

    Raises
    ------
    InputError
        If none has, or the gain or Q is outside what is allowed.
    """
    biquad = _checked(job, biquad)

    def change(hand: ByHand) -> ByHand:
        return hand.model_copy(
            update={"biquads": (*hand.biquads[:number], biquad, *hand.biquads[number + 1 :])}
        )

    return _with_hand(job, _having(job, units, number), change)


def remove_filter(job: Job, units: Iterable[str], number: int) -> Job:
    """A filter by hand taken away in each of these units that has one of that number.

    Raises
    ------
    InputError
        If none has.
    """

    def change(hand: ByHand) -> ByHand:
        return hand.model_copy(
            update={"biquads": (*hand.biquads[:number], *hand.biquads[number + 1 :])}
        )

    return _with_hand(job, _having(job, units, number), change)


def leave_filters_to_solver(job: Job, units: Iterable[str]) -> Job:
    """No filters by hand in these units: the solver places all of them."""
    return _with_hand(
        job, units, lambda hand: hand.model_copy(update={"biquads": (), "no_more_biquads": False})
    )


def solver_adds_filters(job: Job, units: Iterable[str], *, adds: bool) -> Job:
    """Whether the solver adds filters to those set by hand in these units."""
    return _with_hand(
        job, units, lambda hand: hand.model_copy(update={"no_more_biquads": not adds})
    )


def hold_filters(job: Job, units: Iterable[str]) -> Job:
    """The filters that these units have now, the solver's too, held as if set by hand."""
    settings = {output.drives: output for output in job.tuning.outputs} if job.tuning else {}

    def change(hand: ByHand) -> ByHand:
        output = settings.get(hand.drives)
        biquads = hand.biquads if output is None else output.biquads
        return hand.model_copy(update={"biquads": biquads, "no_more_biquads": True})

    return _with_hand(job, units, change)


# Levels, delays, polarity


def set_trim(job: Job, unit: str, trim_db: float) -> Job:
    """The trim of one output, kept as a change of what is computed.

    Raises
    ------
    InputError
        If there is no tuning yet, or the change exceeds 40 dB.
    """
    change_db = round(trim_db - _setting(job, unit).trim_db + job.hand(unit).trim_change_db, 6)
    return change_trim(job, (unit,), change_db)


def change_trim(job: Job, units: Iterable[str], change_db: float) -> Job:
    """By how much the trims of these units differ from what is computed.

    Raises
    ------
    InputError
        If that exceeds 40 dB.
    """
    limit = _LARGEST_TRIM_CHANGE_DB
    check_range(change_db, (-limit, limit), "a change of trim", "dB")
    update = {"trim_change_db": change_db + 0.0}
    return _with_hand(job, units, lambda hand: hand.model_copy(update=update))


def set_delay(job: Job, unit: str, delay_s: float) -> Job:
    """The delay of one output, kept as a change of what is computed.

    Raises
    ------
    InputError
        If there is no tuning yet, or it is negative or longer than the processor can do.
    """
    longest = job.processor.maximum_delay_s
    if not 0 <= delay_s <= longest:
        raise InputError(
            f"the delay of {unit} is {1e3 * delay_s:g} ms; the processor can do 0 to "
            f"{1e3 * longest:g} ms"
        )
    now = _setting(job, unit).delay_s
    return change_delay(job, (unit,), round(delay_s - now + job.hand(unit).delay_change_s, 9))


def change_delay(job: Job, units: Iterable[str], change_s: float) -> Job:
    """By how much the delays of these units differ from what is computed.

    Raises
    ------
    InputError
        If that exceeds half a second.
    """
    limit = _LARGEST_DELAY_CHANGE_S
    check_range(change_s, (-limit, limit), "a change of delay", "s")
    update = {"delay_change_s": change_s + 0.0}
    return _with_hand(job, units, lambda hand: hand.model_copy(update=update))


def flip(job: Job, units: Iterable[str]) -> Job:
    """The polarity of these units reversed against what it is now."""
    return _with_hand(
        job, units, lambda hand: hand.model_copy(update={"flipped": not hand.flipped})
    )


def flip_back(job: Job, units: Iterable[str]) -> Job:
    """The polarity of these units as computed."""
    return _with_hand(job, units, lambda hand: hand.model_copy(update={"flipped": False}))


def leave_to_solver(job: Job, units: Iterable[str]) -> Job:
    """Nothing set by hand in these units: filters, trims, delays, polarity are all computed."""
    return _with_hand(job, units, lambda hand: ByHand(drives=hand.drives))


# Limits and what is computed


def set_limits(job: Job, **changes: Any) -> Job:  # noqa: ANN401 - checked by the model
    """The limits with some fields changed.

    Raises
    ------
    InputError
        If a value is outside what the field allows.
    """
    if "crossover_hz" in changes:
        check_range(changes["crossover_hz"], CROSSOVER_RANGE_HZ, "the crossover", "Hz")
    try:
        limits = TuningLimits.model_validate({**job.limits.model_dump(), **changes})
    except ValidationError as error:
        detail = error.errors()[0]
        field = str(detail["loc"][0]).replace("_", " ")
        what = detail["msg"].removeprefix("Input ").removeprefix("should ")
        raise InputError(f"{field}: must {what}, not {detail['input']}") from None
    return job.model_copy(update={"limits": limits})


def with_tuning(job: Job, tuning: Tuning) -> Job:
    """The job with a computed tuning, if that was computed from the job as it is.

    Raises
    ------
    InputError
        If it was computed from something else.
    """
    if tuning.based_on != tuning_basis(job):
        raise InputError("the job changed while its tuning was computed; it is computed again")
    return job.model_copy(update={"tuning": tuning})


def _setting(job: Job, unit: str) -> OutputTuning:
    for output in job.tuning.outputs if job.tuning else ():
        if output.drives == unit:
            return output
    raise InputError(f"{unit} has no tuning yet; it is computed as soon as there is a survey")


def _with_hand(job: Job, units: Iterable[str], change: Callable[[ByHand], ByHand]) -> Job:
    """The job with the settings by hand of some units changed; entries that set nothing go."""
    changed = {hand.drives: hand for hand in job.by_hand}
    for unit in units:
        changed[unit] = change(changed.get(unit, ByHand(drives=unit)))
    kept = tuple(hand for name, hand in changed.items() if hand != ByHand(drives=name))
    return job.model_copy(update={"by_hand": kept})


def _having(job: Job, units: Iterable[str], number: int) -> tuple[str, ...]:
    having = tuple(unit for unit in units if 0 <= number < len(job.hand(unit).biquads))
    if not having:
        raise InputError(f"there is no filter {number + 1} set by hand")
    return having


def _checked(job: Job, biquad: Biquad) -> Biquad:
    """The filter in the processor's steps, if it may be."""
    check_range(biquad.frequency_hz, (10.0, 0.45 * job.sampling_rate_hz), "a filter", "Hz")
    check_range(biquad.gain_db, GAIN_RANGE_DB, "a filter's gain", "dB")
    check_range(biquad.q, Q_RANGE, "a filter's Q", "")
    step = job.processor.gain_step_db
    return biquad.model_copy(
        update={
            "frequency_hz": digits(biquad.frequency_hz),
            "gain_db": round(round(biquad.gain_db / step) * step, 6) + 0.0,
            "q": round(biquad.q, 2),
        }
    )
