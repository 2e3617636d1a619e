"""The commands. Each opens the job, calls one operation and shows what came of it."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from enum import IntEnum
from pathlib import Path
from typing import Annotated

import typer
from typer.exceptions import TyperException

from roomwright import __version__
from roomwright._errors import Cancelled, DeviceError, JobError, RoomwrightError
from roomwright.cli import bass, faults, results, show
from roomwright.cli.device_commands import devices, interface, playback
from roomwright.cli.facing_command import facing
from roomwright.cli.levels_command import levels
from roomwright.cli.measure_command import measure
from roomwright.cli.microphone_command import microphone
from roomwright.cli.open_command import open_
from roomwright.cli.stations_command import stations
from roomwright.cli.where_command import where


class Exit(IntEnum):
    """What the exit codes mean."""

    DONE = 0
    NOT_MET = 1
    BAD_INPUT = 2
    DEVICE = 3
    INTERRUPTED = 130


app = typer.Typer(
    name="roomwright",
    help="Make a private immersive cinema sound right at every seat, and prove it.",
    epilog=(
        "Exit codes: 0 done; 1 done, but a criterion is not met; 2 the input cannot be used; "
        "3 an audio device failed; 130 interrupted."
    ),
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

JobPath = Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]


@app.callback(invoke_without_command=True)
def _program(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    if version:
        show.say(f"roomwright {__version__}")
    elif context.invoked_subcommand is None:
        show.say(context.get_help())


@app.command()
def new(
    job: JobPath,
    layout: Annotated[
        str,
        typer.Option(
            help="A BS.2051 system (name or letter), a count such as 7.4.4, or a list of "
            "BS.2051 labels separated by commas."
        ),
    ],
    size: Annotated[
        str, typer.Option(help="The room's width x length x height in metres.")
    ] = "5.4x7.2x2.8",
    name: Annotated[str, typer.Option(help="What the job is called.")] = "",
    rows: Annotated[int, typer.Option(min=1, max=20, help="Rows of seats.")] = 2,
    seats_per_row: Annotated[int, typer.Option(min=1, max=40, help="Seats in each row.")] = 4,
    rate: Annotated[int, typer.Option(help="Sampling rate in hertz.")] = 48000,
    json: AsJson = False,
) -> None:
    """Make a job: room, seats, loudspeakers, a sweep to play.

    The room is a box; the loudspeakers are placed by the layout, legally for its seats.
    """
    from roomwright import commissioning, store

    made = commissioning.new_job(
        name or job.resolve().name,
        layout=layout,
        room=commissioning.box_room(commissioning.parse_size(size)),
        rows=rows,
        seats_per_row=seats_per_row,
        sampling_rate_hz=commissioning.parse_rate(rate),
    )
    with store.create_job(job, made) as folder:
        sweep = commissioning.write_sweep(folder)
    if json:
        show.as_json({"job": str(job), "sweep": str(sweep), **results.state(made)})
    else:
        results.show_state(made)
        show.say(f"made {job}; the sweep to play elsewhere is {sweep}")
        show.say("sweeps are loud and sudden: start low, nobody near the loudspeakers")


@app.command()
def check(
    job: JobPath,
    angles: Annotated[
        bool,
        typer.Option("--angles", help="Also the angles and distances of every loudspeaker."),
    ] = False,
    json: AsJson = False,
) -> None:
    """Say what is wrong, how far it is, what is out of date."""
    from roomwright import store

    with store.open_job(job) as folder:
        found = folder.job
    if json:
        show.as_json({"job": str(job), **results.state(found), "angles": results.angles(found)})
        return
    results.show_state(found)
    if angles:
        results.show_angles(found)


@app.command()
def rehearse(
    job: JobPath,
    seed: Annotated[int | None, typer.Option(help="The seed that fixes every sample.")] = None,
    fault: Annotated[
        list[str] | None,
        typer.Option(
            help="Plant a fault: reversed:N, dead:N, buzz:N, quiet:N:DB, late:N:SECONDS or "
            "swapped:N:M, with output numbers N and M; also ways_swapped:N, no_tweeter:N, "
            "no_woofer:N, distorting:N:PERCENT, displaced:N:METRES, and in recordings "
            "door:N, voice:N, aircraft:N, dropout:N, hot_input:N:DB, moved:N:METRES. "
            "May be given several times."
        ),
    ] = None,
    json: AsJson = False,
) -> None:
    """Survey the rehearsal room, with nothing plugged in."""
    from roomwright import commissioning, store

    with store.open_job(job, write=True) as folder, show.bar() as progress:
        setup = folder.job.rehearsal
        if seed is not None:
            setup = setup.model_copy(update={"seed": seed})
        if fault:
            planted = tuple(faults.fault(text) for text in fault)
            setup = setup.model_copy(update={"faults": planted})
        surveyed = commissioning.rehearse(folder, setup, progress)
    results.show_survey(job, surveyed, json=json)


@app.command(name="import")
def import_(
    job: JobPath,
    index: Annotated[
        Path,
        typer.Option(help="CSV: file, wav_channel, channel, station, kind [, x_m, y_m, z_m]."),
    ],
    proof: Annotated[
        bool, typer.Option("--proof", help="The recordings were made with the tuning loaded.")
    ] = False,
    common_start: Annotated[
        bool,
        typer.Option(
            "--common-start",
            help="The responses' first samples are the moments their signals left the outputs.",
        ),
    ] = False,
    calibration: Annotated[
        Path | None, typer.Option(help="Calibration file of the microphone used.")
    ] = None,
    full_scale_db: Annotated[
        float | None,
        typer.Option(help="Level in dB SPL of the sine that reaches digital full scale."),
    ] = None,
    json: AsJson = False,
) -> None:
    """Import recorded takes or impulse responses by an index."""
    from roomwright import commissioning, store

    with store.open_job(job, write=True) as folder, show.bar() as progress:
        surveyed = commissioning.import_recordings(
            folder,
            index,
            "proof" if proof else "survey",
            progress,
            common_start=common_start,
            calibration=calibration,
            full_scale_db=full_scale_db,
        )
    results.show_survey(job, surveyed, json=json)


@app.command()
def tune(
    job: JobPath,
    method: Annotated[
        str | None, typer.Option(help="Equalise by 'biquads' or by 'fir'; kept in the job.")
    ] = None,
    crossover: Annotated[
        list[str] | None,
        typer.Option(
            help="Crossover to the subwoofers in hertz, of all channels (80) or of one channel or "
            "role (M+000=100, height=120, M+000=full); may be repeated; kept in the job."
        ),
    ] = None,
    json: AsJson = False,
) -> None:
    """Compute trims, delays, crossovers and filters."""
    from roomwright import commissioning, store

    with store.open_job(job, write=True) as folder, show.bar() as progress:
        asked = commissioning.with_crossovers(folder.job, crossover or ())
        limits = commissioning.tuning_limits(asked, method=method)
        tuned = commissioning.tune(
            folder, progress, limits=limits, own_crossovers=asked.own_crossovers
        )
    if json:
        show.as_json({"job": str(job), "tuning": tuned.tuning.model_dump(mode="json")})
        return
    results.show_outputs(tuned.tuning)
    results.show_findings(tuned.tuning.findings)


@app.command()
def prove(job: JobPath, json: AsJson = False) -> None:
    """Re-measure with the tuning loaded, and judge the result.

    A job with imported recordings is judged by those imported with --proof, or else by the
    prediction alone.
    """
    from roomwright import commissioning, store

    with store.open_job(job, write=True) as folder, show.bar() as progress:
        proved = commissioning.prove(folder, progress)
    if json:
        show.as_json({"job": str(job), **results.proved(proved)})
    else:
        results.show_verdicts(proved)
        results.show_findings(proved.findings)
    verdicts = proved.verdicts_measured or proved.verdicts_predicted
    if any(verdict.passed is False for verdict in verdicts):
        raise typer.Exit(Exit.NOT_MET)


@app.command()
def handover(job: JobPath, json: AsJson = False) -> None:
    """Write the report, the settings and the filter files."""
    from roomwright import commissioning, store

    with store.open_job(job, write=True) as folder, show.bar() as progress:
        handed = commissioning.hand_over(folder, progress)
    if json:
        show.as_json({"job": str(job), "files": [str(file) for file in handed.files]})
    else:
        for file in handed.files:
            show.say(str(file))


@app.command()
def demo(
    job: Annotated[Path, typer.Argument(metavar="DIR", help="The folder to make.")],
    json: AsJson = False,
) -> None:
    """Run a whole job on an invented cinema, up to its report."""
    from roomwright import commissioning

    with show.bar() as progress:
        handed = commissioning.demo(job, progress)
    if json:
        files = [str(file) for file in handed.files]
        show.as_json({"job": str(job), "files": files, **results.proved(handed.proved)})
    else:
        results.show_verdicts(handed.proved)
        show.say(f"the report is {handed.files[0]}")


for command in (devices, facing, interface, levels, measure, microphone, playback, stations, where):
    app.command()(command)
app.command(name="open")(open_)
app.add_typer(bass.app)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with one of the codes of `Exit`."""
    words = sys.argv[1:] if arguments is None else list(arguments)
    try:
        code = app(args=words, prog_name="roomwright", standalone_mode=False)
    except Cancelled as stopped:
        show.complain([str(stopped)])
        sys.exit(Exit.INTERRUPTED)
    except RoomwrightError as error:
        sentences = error.problems if isinstance(error, JobError) else ()
        sentences = sentences or (str(error),)
        show.complain(sentences)
        if "--json" in words:
            show.as_json({"error": str(error), "problems": list(sentences)})
        sys.exit(Exit.DEVICE if isinstance(error, DeviceError) else Exit.BAD_INPUT)
    except typer.Abort:
        show.complain(["interrupted; the job is as it was last saved"])
        sys.exit(Exit.INTERRUPTED)
    except TyperException as error:
        show.complain([error.format_message()])
        sys.exit(Exit.BAD_INPUT)
    sys.exit(code or Exit.DONE)
