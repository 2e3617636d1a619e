"""The commands about audio interfaces, and about players and recorders."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from roomwright.cli import results, show

JobPath = Annotated[Path, typer.Argument(metavar="JOB", help="The job folder.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]


def devices(json: AsJson = False) -> None:
    """List the audio interfaces of this computer."""
    from roomwright import commissioning

    rows = commissioning.interface_rows()
    if json:
        show.as_json({"devices": [asdict(row) for row in rows]})
        return
    if not rows:
        show.say("no audio interface is there")
        return
    show.table(
        ("name", "through", "inputs", "outputs", "rates Hz"),
        [
            (
                row.name,
                row.host_api,
                str(row.inputs),
                str(row.outputs),
                ", ".join(map(str, row.rates_hz)) or "none that a job takes",
            )
            for row in rows
        ],
    )


def interface(
    job: JobPath,
    device: Annotated[
        str | None, typer.Option(help="Name of the interface, as 'roomwright devices' lists it.")
    ] = None,
    through: Annotated[str | None, typer.Option(help="Its host API, as listed.")] = None,
    microphone_device: Annotated[
        str | None, typer.Option(help="A second interface that the microphone is plugged into.")
    ] = None,
    microphone: Annotated[int | None, typer.Option(help="Input of the microphone.")] = None,
    loop_back: Annotated[
        str | None,
        typer.Option(help="A cable as the time reference, OUTPUT:INPUT of the interface; or none."),
    ] = None,
    reference: Annotated[
        str | None,
        typer.Option(help="The processor's output whose loudspeaker plays the chirps; or none."),
    ] = None,
    first_output: Annotated[
        int | None, typer.Option(help="The interface's output that feeds output 1.")
    ] = None,
    ceiling: Annotated[
        float | None, typer.Option(help="No sample exceeds this, dBFS (0 or below).")
    ] = None,
    json: AsJson = False,
) -> None:
    """Choose the audio interface of a job, and check that it can do what is needed."""
    from roomwright import commissioning, store

    given: dict[str, str | float | None] = {
        "device": device,
        "host_api": through,
        "microphone_device": microphone_device,
        "microphone_input": microphone,
        "first_output": first_output,
        "ceiling_dbfs": ceiling,
    }
    changes: dict[str, str | float | None] = {
        name: value for name, value in given.items() if value is not None
    }
    if device is not None and through is None:
        changes["host_api"] = ""
    if loop_back is not None:
        changes["loop_back_output"], changes["loop_back_input"] = _cable(loop_back)
    if reference is not None:
        changes["reference_output"] = None if reference == "none" else _number(reference)
    with store.open_job(job, write=True) as folder:
        changed = commissioning.with_interface(folder.job, **changes)
        commissioning.check_job_interface(changed)
        if changed != folder.job:
            folder.save(changed)
    if json:
        show.as_json({"job": str(job), "interface": changed.interface.model_dump(mode="json")})
        return
    for name, words in commissioning.wiring_words(changed):
        show.say(f"{name}: {words}")


def playback(
    job: JobPath,
    recordings: Annotated[
        list[Path] | None,
        typer.Argument(metavar="FILE", help="What was recorded; without it the files are written."),
    ] = None,
    apart: Annotated[
        bool, typer.Option("--apart", help="One file for each output, to be played alone.")
    ] = False,
    station: Annotated[
        list[str] | None,
        typer.Option(help="Station of each run of the playback, in order; - leaves one out."),
    ] = None,
    microphone_channel: Annotated[
        int, typer.Option(help="Channel of the recordings that the microphone is on.")
    ] = 1,
    reference_channel: Annotated[
        int | None, typer.Option(help="Channel that recorded the playback's last channel by cable.")
    ] = None,
    json: AsJson = False,
) -> None:
    """Write what a media player is to play, or read back what a recorder made of it."""
    from roomwright import commissioning, store

    with store.open_job(job, write=True) as folder, show.bar() as progress:
        if recordings:
            surveyed = commissioning.read_playback(
                folder,
                recordings,
                progress,
                apart=apart,
                stations=station or (),
                microphone_channel=microphone_channel,
                reference_channel=reference_channel,
            )
        else:
            files = commissioning.write_playback(folder, apart=apart)
    if recordings:
        results.show_survey(job, surveyed, json=json)
    elif json:
        show.as_json({"job": str(job), "files": [str(file) for file in files]})
    else:
        for file in files:
            show.say(str(file))
        show.say("sweeps are loud and sudden: start low, nobody near the loudspeakers")


def _cable(text: str) -> tuple[int | None, int | None]:
    """OUTPUT:INPUT as numbers; none takes the cable away."""
    if text == "none":
        return None, None
    output, _, input_ = text.partition(":")
    return _number(output), _number(input_)


def _number(text: str) -> int:
    from roomwright._errors import InputError

    if not text.isdigit():
        raise InputError(f"{text or 'nothing'} stands where the number of a connector is needed")
    return int(text)
