"""What audio interfaces there are, and the one that a job names."""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType
from typing import Any, get_args

from roomwright._errors import DeviceError
from roomwright.devices._portaudio import portaudio, refused, rescan
from roomwright.model import Interface, SampleRate


@dataclass(frozen=True, slots=True)
class AudioDevice:
    """One device as the system lists it.

    Attributes
    ----------
    name, host_api
        Together they name the device; its place in the list changes as others come and go.
    inputs, outputs
        How many of each.
    index
        PortAudio's, until the next scan.
    """

    name: str
    host_api: str
    inputs: int
    outputs: int
    index: int


def audio_devices(*, scan: bool = True) -> tuple[AudioDevice, ...]:
    """Every audio device of the system, in its order.

    Parameters
    ----------
    scan
        Look again what is plugged in; left out while a stream is open.

    Raises
    ------
    DeviceError
        If PortAudio is missing.
    """
    if scan:
        rescan()
    module = portaudio()
    return tuple(_described(module, entry) for entry in module.query_devices())


def rates_hz(device: AudioDevice) -> tuple[int, ...]:
    """Sampling rates the device runs at, of those that a job may have; asking takes a moment."""
    return tuple(rate for rate in get_args(SampleRate) if _runs_at(device, rate))


def find_device(name: str, host_api: str) -> AudioDevice:
    """The device of that name; an empty `host_api` takes the first that has it.

    Raises
    ------
    DeviceError
        If there is none; the sentence lists those there are.
    """
    module = portaudio()
    entries = list(module.query_devices())
    for entry in entries:
        if entry["name"] == name and host_api in ("", _host_api(module, entry)):
            return _described(module, entry)
    names = ", ".join(dict.fromkeys(str(entry["name"]) for entry in entries)) or "none at all"
    through = f" through {host_api}" if host_api else ""
    raise DeviceError(
        f"the interface {name}{through} is not there; plug it in (there are: {names})"
    )


def check_interface(
    interface: Interface, sampling_rate_hz: int, outputs: int, capsules: int = 1
) -> None:
    """Ask the interface that a job names whether it can do what is needed.

    Parameters
    ----------
    interface
        As the job has it.
    sampling_rate_hz
        The job's.
    outputs
        How many outputs of the processor are fed.
    capsules
        Of the microphone, on inputs that follow each other.

    Raises
    ------
    DeviceError
        If none is chosen, it is gone, has too few channels or refuses the rate, or the loop-back
        is on an input of a capsule.
    """
    module = portaudio()
    player, recorder = chosen(interface)
    first = interface.microphone_input
    if interface.loop_back_input in range(first, first + capsules):
        raise DeviceError(
            f"input {interface.loop_back_input} cannot be the loop-back's: the microphone's "
            f"{capsules} capsules are on inputs {first} to {first + capsules - 1}"
        )
    needed_in, needed_out = channels_needed(interface, outputs, capsules)
    if recorder.inputs == 0:
        raise DeviceError(f"{recorder.name} has no inputs; a microphone needs one")
    if needed_in > recorder.inputs:
        raise DeviceError(
            f"{recorder.name} has {recorder.inputs} inputs; input {needed_in} does not exist"
        )
    if needed_out > player.outputs:
        raise DeviceError(
            f"{player.name} has {player.outputs} outputs; output {needed_out} is needed"
        )
    rate = f"{sampling_rate_hz} Hz"
    with refused(player.name, f"to play at {rate}"):
        module.check_output_settings(player.index, needed_out, "float32", None, sampling_rate_hz)
    with refused(recorder.name, f"to record at {rate}"):
        module.check_input_settings(recorder.index, needed_in, "float32", None, sampling_rate_hz)


def chosen(interface: Interface) -> tuple[AudioDevice, AudioDevice]:
    """The devices that play and that record.

    Raises
    ------
    DeviceError
        If none is chosen, or one is gone.
    """
    if not interface.device:
        raise DeviceError(
            "the job has no audio interface yet; choose one first (in the survey under 'Interface "
            "and microphone', or by the command 'roomwright devices')"
        )
    player = find_device(interface.device, interface.host_api)
    if interface.microphone_device in ("", interface.device):
        return player, player
    return player, find_device(interface.microphone_device, player.host_api)


def channels_needed(interface: Interface, outputs: int, capsules: int = 1) -> tuple[int, int]:
    """Inputs and outputs that a stream needs for the connectors in use."""
    last_capsule = interface.microphone_input + capsules - 1
    last_input = max(last_capsule, interface.loop_back_input or 0)
    last_output = max(interface.first_output + outputs - 1, interface.loop_back_output or 0)
    return last_input, last_output


def _described(module: ModuleType, entry: dict[str, Any]) -> AudioDevice:
    return AudioDevice(
        name=str(entry["name"]),
        host_api=_host_api(module, entry),
        inputs=int(entry["max_input_channels"]),
        outputs=int(entry["max_output_channels"]),
        index=int(entry["index"]),
    )


def _host_api(module: ModuleType, entry: dict[str, Any]) -> str:
    return str(module.query_hostapis(entry["hostapi"])["name"])


def _runs_at(device: AudioDevice, rate: int) -> bool:
    """Whether its outputs and its inputs both take the rate."""
    module = portaudio()
    checks = (
        (device.outputs, module.check_output_settings),
        (device.inputs, module.check_input_settings),
    )
    try:
        for count, check in checks:
            if count:
                with refused(device.name, f"{rate} Hz"):
                    check(device.index, count, "float32", None, rate)
    except DeviceError:
        return False
    return device.inputs + device.outputs > 0
