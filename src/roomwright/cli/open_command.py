"""The command that opens jobs in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def open_(
    paths: Annotated[
        list[Path],
        typer.Argument(metavar="PATH...", help="Job folders, or folders of jobs."),
    ],
    host: Annotated[
        str,
        typer.Option(
            help="The address to listen on. Any but this computer's own loopback asks for a token."
        ),
    ] = "127.0.0.1",
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="The port to listen on; 0 takes a free one.")
    ] = 0,
    token: Annotated[
        str | None,
        typer.Option(help="What a browser must show; made up and printed where it is needed."),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address and open nothing.")
    ] = False,
) -> None:
    """Open jobs in the browser, until Ctrl+C.

    While a window shows a job, other commands may read it but not change it.
    """
    from roomwright.web import serve

    serve(paths, host=host, port=port, token=token, open_browser=not no_browser)
