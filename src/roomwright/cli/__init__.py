"""The command line: a face over `commissioning`, with no arithmetic of its own."""

from roomwright.cli.app import main

__all__ = ["main"]
