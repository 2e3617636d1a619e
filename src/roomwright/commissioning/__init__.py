"""The operations of a job, one module a stage: what a script and every face call."""

from roomwright.commissioning.create import box_room, new_job, parse_rate, parse_size
from roomwright.commissioning.demo import demo, demo_job
from roomwright.commissioning.edit_outputs import output_rows
from roomwright.commissioning.hand_over import HandedOver, hand_over, handed_files, settings_table
from roomwright.commissioning.imports import import_recordings, problems_by_line
from roomwright.commissioning.index_cells import IndexCells, read_cells, write_cells
from roomwright.commissioning.plan_stations import StationPlan, plan_stations
from roomwright.commissioning.propose_index import Proposal, propose_index, proposed_stations
from roomwright.commissioning.prove import Proved, judged, prove
from roomwright.commissioning.redo import missing_pairs, redo
from roomwright.commissioning.rehearse import Surveyed, rehearse
from roomwright.commissioning.responses import responses
from roomwright.commissioning.state import StageState, misplaced, stages
from roomwright.commissioning.survey_duration import SurveyDuration, survey_duration
from roomwright.commissioning.survey_view import SurveyView, TakeView, survey_plan, survey_view
from roomwright.commissioning.tune import Tuned, tune, tuning_limits
from roomwright.commissioning.write_stations import StationFiles, write_stations
from roomwright.commissioning.write_sweep import write_sweep
from roomwright.layout import audit

__all__ = [
    "HandedOver",
    "IndexCells",
    "Proposal",
    "Proved",
    "StageState",
    "StationFiles",
    "StationPlan",
    "SurveyDuration",
    "SurveyView",
    "Surveyed",
    "TakeView",
    "Tuned",
    "audit",
    "box_room",
    "demo",
    "demo_job",
    "hand_over",
    "handed_files",
    "import_recordings",
    "judged",
    "misplaced",
    "missing_pairs",
    "new_job",
    "output_rows",
    "parse_rate",
    "parse_size",
    "plan_stations",
    "problems_by_line",
    "propose_index",
    "proposed_stations",
    "prove",
    "read_cells",
    "redo",
    "rehearse",
    "responses",
    "settings_table",
    "stages",
    "survey_duration",
    "survey_plan",
    "survey_view",
    "tune",
    "tuning_limits",
    "write_cells",
    "write_stations",
    "write_sweep",
]
