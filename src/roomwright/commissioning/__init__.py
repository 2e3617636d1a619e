"""The operations of a job, one module a stage: what a script and every face call."""

from roomwright.commissioning.create import box_room, new_job, parse_rate, parse_size
from roomwright.commissioning.demo import demo, demo_job
from roomwright.commissioning.hand_over import HandedOver, hand_over
from roomwright.commissioning.imports import import_recordings
from roomwright.commissioning.prove import Proved, judged, prove
from roomwright.commissioning.rehearse import Surveyed, rehearse
from roomwright.commissioning.responses import responses
from roomwright.commissioning.state import StageState, misplaced, stages
from roomwright.commissioning.tune import Tuned, tune, tuning_limits
from roomwright.commissioning.write_sweep import write_sweep
from roomwright.layout import audit

__all__ = [
    "HandedOver",
    "Proved",
    "StageState",
    "Surveyed",
    "Tuned",
    "audit",
    "box_room",
    "demo",
    "demo_job",
    "hand_over",
    "import_recordings",
    "judged",
    "misplaced",
    "new_job",
    "parse_rate",
    "parse_size",
    "prove",
    "rehearse",
    "responses",
    "stages",
    "tune",
    "tuning_limits",
    "write_sweep",
]
