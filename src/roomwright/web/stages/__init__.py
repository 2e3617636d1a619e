"""The screens of the stages, one module each with `show(page)`, loaded when first opened."""

from roomwright.web.stages.registry import STAGES, screen

__all__ = ["STAGES", "screen"]
