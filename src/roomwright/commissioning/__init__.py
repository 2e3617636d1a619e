"""The operations of a job: what a script and every face call."""

from roomwright.commissioning.bass.array import ArrayProposal, propose_array, use_array
from roomwright.commissioning.bass.cluster import search_places_on
from roomwright.commissioning.bass.compare import (
    BandDecayRow,
    BassComparison,
    WayCompared,
    bass_responses,
    compare_bass,
)
from roomwright.commissioning.bass.design import design_bass
from roomwright.commissioning.bass.figures_sheet import (
    BassSheet,
    bass_figures_of,
    bass_sheet,
)
from roomwright.commissioning.bass.places import (
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
from roomwright.commissioning.bass.wishes import (
    candidate_places,
    mark_array,
    parse_box,
    with_bass,
    with_bass_grid,
    with_keep_clear,
    without_keep_clear,
)
from roomwright.commissioning.create import box_room, new_job, parse_rate, parse_size
from roomwright.commissioning.demo import demo, demo_job
from roomwright.commissioning.edits.crossover import with_crossovers
from roomwright.commissioning.edits.outputs import output_rows
from roomwright.commissioning.edits.survey import with_interface
from roomwright.commissioning.hand_over import HandedOver, hand_over, handed_files, settings_table
from roomwright.commissioning.imports.index_cells import IndexCells, read_cells, write_cells
from roomwright.commissioning.imports.propose_index import (
    Proposal,
    propose_index,
    proposed_stations,
)
from roomwright.commissioning.imports.recordings import import_recordings, problems_by_line
from roomwright.commissioning.prove import Proved, judged, prove
from roomwright.commissioning.state import StageState, misplaced, stages
from roomwright.commissioning.survey.choose_interface import (
    InterfaceRow,
    check_job_interface,
    interface_rows,
    wiring_words,
)
from roomwright.commissioning.survey.diagnose import survey_findings
from roomwright.commissioning.survey.duration import SurveyDuration, survey_duration
from roomwright.commissioning.survey.measure import all_pairs, chosen_pairs, measure
from roomwright.commissioning.survey.plan_stations import StationPlan, plan_stations
from roomwright.commissioning.survey.playback import read_playback, write_playback
from roomwright.commissioning.survey.procedure import SurveyState
from roomwright.commissioning.survey.redo import missing_pairs, redo
from roomwright.commissioning.survey.rehearse import Surveyed, rehearse
from roomwright.commissioning.survey.responses import responses
from roomwright.commissioning.survey.rigs import Rig, open_rig
from roomwright.commissioning.survey.view import SurveyView, TakeView, survey_plan, survey_view
from roomwright.commissioning.survey.write_stations import StationFiles, write_stations
from roomwright.commissioning.survey.write_sweep import write_sweep
from roomwright.commissioning.tuning.tune import Tuned, tune, tuning_limits
from roomwright.layout import audit

__all__ = [
    "ArrayProposal",
    "BandDecayRow",
    "BassComparison",
    "BassSheet",
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
    "bass_figures_of",
    "bass_responses",
    "bass_sheet",
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
