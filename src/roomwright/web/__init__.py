"""The web face: the whole job on one screen, over the same operations as the command line."""

from roomwright.web.server import serve

__all__ = ["serve"]
