"""Roomwright: make a private immersive cinema sound right at every seat, and prove it."""

from __future__ import annotations

__version__ = "0.1.0"

__all__ = ["__version__"]
