"""The operations of a job: what a script and every face call."""

from roomwright.commissioning.bass_array import ArrayProposal, propose_array, use_array
from roomwright.commissioning.bass_compare import (
    BandDecayRow,
    BassComparison,
    WayCompared,
    bass_responses,
    compare_bass,
)
from roomwright.commissioning.bass_design import design_bass
from roomwright.commissioning.bass_places import (
    PlaceChoice,
    PlaceLevels,
    PlacesFound,
    keep_places,
    kept_choice,
    kept_places,
    place_levels,
    search_places,
    use_places,
)
from roomwright.commissioning.bass_wishes import (
    candidate_places,
    mark_array,
    parse_box,
    with_bass,
    with_bass_grid,
    with_keep_clear,
    without_keep_clear,
)
from roomwright.commissioning.choose_interface import (
    InterfaceRow,
    check_job_interface,
    interface_rows,
    wiring_words,
)
from roomwright.commissioning.cluster import search_places_on
from roomwright.commissioning.create import box_room, new_job, parse_rate, parse_size
from roomwright.commissioning.demo import demo, demo_job
from roomwright.commissioning.diagnose import survey_findings
from roomwright.commissioning.edit_crossover import with_crossovers
from roomwright.commissioning.edit_outputs import output_rows
from roomwright.commissioning.edit_survey import with_interface
from roomwright.commissioning.hand_over import HandedOver, hand_over, handed_files, settings_table
from roomwright.commissioning.imports import import_recordings, problems_by_line
from roomwright.commissioning.index_cells import IndexCells, read_cells, write_cells
from roomwright.commissioning.measure import all_pairs, chosen_pairs, measure
from roomwright.commissioning.plan_stations import StationPlan, plan_stations
from roomwright.commissioning.playback import read_playback, write_playback
from roomwright.commissioning.procedure import SurveyState
from roomwright.commissioning.propose_index import Proposal, propose_index, proposed_stations
from roomwright.commissioning.prove import Proved, judged, prove
from roomwright.commissioning.redo import missing_pairs, redo
from roomwright.commissioning.rehearse import Surveyed, rehearse
from roomwright.commissioning.responses import responses
from roomwright.commissioning.rigs import Rig, open_rig
from roomwright.commissioning.state import StageState, misplaced, stages
from roomwright.commissioning.survey_duration import SurveyDuration, survey_duration
from roomwright.commissioning.survey_view import SurveyView, TakeView, survey_plan, survey_view
from roomwright.commissioning.tune import Tuned, tune, tuning_limits
from roomwright.commissioning.write_stations import StationFiles, write_stations
from roomwright.commissioning.write_sweep import write_sweep
from roomwright.layout import audit

__all__ = [
    "ArrayProposal",
    "BandDecayRow",
    "BassComparison",
    "HandedOver",
    "IndexCells",
    "InterfaceRow",
    "PlaceChoice",
    "PlaceLevels",
    "PlacesFound",
    "Proposal",
    "Proved",
    "Rig",
    "StageState",
    "StationFiles",
    "StationPlan",
    "SurveyDuration",
    "SurveyState",
    "SurveyView",
    "Surveyed",
    "TakeView",
    "Tuned",
    "WayCompared",
    "all_pairs",
    "audit",
    "bass_responses",
    "box_room",
    "candidate_places",
    "check_job_interface",
    "chosen_pairs",
    "compare_bass",
    "demo",
    "demo_job",
    "design_bass",
    "hand_over",
    "handed_files",
    "import_recordings",
    "interface_rows",
    "judged",
    "keep_places",
    "kept_choice",
    "kept_places",
    "mark_array",
    "measure",
    "misplaced",
    "missing_pairs",
    "new_job",
    "open_rig",
    "output_rows",
    "parse_box",
    "parse_rate",
    "parse_size",
    "place_levels",
    "plan_stations",
    "problems_by_line",
    "propose_array",
    "propose_index",
    "proposed_stations",
    "prove",
    "read_cells",
    "read_playback",
    "redo",
    "rehearse",
    "responses",
    "search_places",
    "search_places_on",
    "settings_table",
    "stages",
    "survey_duration",
    "survey_findings",
    "survey_plan",
    "survey_view",
    "tune",
    "tuning_limits",
    "use_array",
    "use_places",
    "wiring_words",
    "with_bass",
    "with_bass_grid",
    "with_crossovers",
    "with_interface",
    "with_keep_clear",
    "without_keep_clear",
    "write_cells",
    "write_playback",
    "write_stations",
    "write_sweep",
]
