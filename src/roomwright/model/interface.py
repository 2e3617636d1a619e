"""The audio interface that a job is measured with, and how it is connected."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from roomwright.model._base import Document, NonNegative

Connector = Annotated[int, Field(ge=1)]


class Interface(Document):
    """An audio interface, its connectors (from 1), and the limits of what it plays.

    `device` and `host_api` are as the system lists them; `device` is empty while none is chosen.
    `microphone_device` is a second device of the same host API that the microphone is plugged
    into, empty if it is the same. Output 1 of the processor is fed by the interface's
    `first_output`, the others by those that follow.

    With a `loop_back_input`, the signal is also played from `loop_back_output` by a cable into
    it. Without one, `reference_output` (a number of the processor's outputs) may name the
    loudspeaker that plays the chirps before and after each sweep, as the acoustic reference.

    No sample played ever exceeds `ceiling_dbfs`; signals rise from silence over `ramp_s`.
    """

    device: str = ""
    host_api: str = ""
    microphone_device: str = ""
    microphone_input: Connector = 1
    loop_back_input: Connector | None = None
    loop_back_output: Connector | None = None
    first_output: Connector = 1
    reference_output: Connector | None = None
    ceiling_dbfs: Annotated[float, Field(le=0)] = -12.0
    ramp_s: NonNegative = 0.005

    @model_validator(mode="after")
    def _connected(self) -> Interface:
        if (self.loop_back_input is None) != (self.loop_back_output is None):
            raise ValueError("a loop-back needs both an output and an input of the interface")
        if self.loop_back_input == self.microphone_input:
            raise ValueError(
                f"input {self.microphone_input} cannot be both the microphone's and the loop-back's"
            )
        return self

    @property
    def timing(self) -> Literal["loop-back", "acoustic", "none"]:
        """What tells when a signal left the outputs: the best way that is connected."""
        if self.loop_back_input is not None:
            return "loop-back"
        return "none" if self.reference_output is None else "acoustic"
