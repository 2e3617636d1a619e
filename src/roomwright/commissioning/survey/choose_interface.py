"""Choosing the audio interface that a job is measured with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from roomwright.commissioning.tuning.compose import capsule_count
from roomwright.devices import audio_devices, check_interface, rates_hz
from roomwright.model import Interface, Job


@dataclass(frozen=True, slots=True)
class InterfaceRow:
    """One audio interface of this computer, as a row of a list."""

    name: str
    host_api: str
    inputs: int
    outputs: int
    rates_hz: tuple[int, ...]


def interface_rows() -> tuple[InterfaceRow, ...]:
    """Every audio interface of this computer, looked for anew.

    Raises
    ------
    DeviceError
        If PortAudio is missing.
    """
    return tuple(
        InterfaceRow(device.name, device.host_api, device.inputs, device.outputs, rates_hz(device))
        for device in audio_devices()
    )


def check_job_interface(job: Job) -> None:
    """Ask the interface of a job whether it can do what the job needs of it.

    Raises
    ------
    DeviceError
        If none is chosen, it is gone, has too few channels or refuses the rate.
    """
    audio_devices()
    outputs = max((output.number for output in job.outputs), default=1)
    check_interface(job.interface, job.sampling_rate_hz, outputs, capsule_count(job))


def wiring_words(job: Job) -> Sequence[tuple[str, str]]:
    """How a job's interface is wired, as pairs of words."""
    interface = job.interface
    last = max((output.number for output in job.outputs), default=1) + interface.first_output - 1
    timing = {
        "loop-back": f"cable from output {interface.loop_back_output} "
        f"to input {interface.loop_back_input}",
        "acoustic": f"chirps from output {interface.reference_output} of the processor",
        "none": "none: relative delays by arrival only",
    }[interface.timing]
    return (
        ("interface", interface.device or "none chosen"),
        ("through", interface.host_api),
        ("rate", f"{job.sampling_rate_hz} Hz"),
        ("microphone", _input_words(interface, capsule_count(job))),
        ("outputs", f"{interface.first_output} to {last}"),
        ("time reference", timing),
        ("ceiling", f"{interface.ceiling_dbfs:g} dBFS"),
    )


def _input_words(interface: Interface, capsules: int) -> str:
    of = f" of {interface.microphone_device}" if interface.microphone_device else ""
    first = interface.microphone_input
    if capsules > 1:
        return f"inputs {first} to {first + capsules - 1}{of}, one for each capsule"
    return f"input {first}{of}"
