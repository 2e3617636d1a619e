"""A room as a client of a JACK server: its inputs are loudspeakers, its outputs microphones.

    python jack_room.py NAME LOUDSPEAKERS RESPONSES

RESPONSES is an .npy file, (loudspeakers, microphones, taps). Each line on standard input is a
command: `stall SECONDS` holds the next block up, so that the server loses samples; `gone` ends
at once, as an interface does that is unplugged. Prints `ready` when the room stands.
"""

from __future__ import annotations

import os
import sys
import time

import jack
import numpy as np


class Room:
    """Partitioned convolution, one block after another, in float64."""

    def __init__(self, responses, block):
        loudspeakers, microphones, taps = responses.shape
        parts = -(-taps // block)
        padded = np.zeros((loudspeakers, microphones, parts * block))
        padded[..., :taps] = responses
        partitions = padded.reshape(loudspeakers, microphones, parts, block)
        self.filters = np.fft.rfft(partitions, 2 * block).transpose(2, 3, 0, 1).copy()
        self.past = np.zeros((parts, block + 1, loudspeakers), dtype=complex)
        self.last = np.zeros((loudspeakers, block))
        self.block = block

    def hear(self, played):
        """(loudspeakers, block) played to (microphones, block) heard."""
        both = np.concatenate((self.last, played), axis=1)
        self.last = played
        self.past = np.roll(self.past, 1, axis=0)
        self.past[0] = np.fft.rfft(both).T
        spectrum = np.einsum("pfl,pflm->mf", self.past, self.filters)
        return np.fft.irfft(spectrum, 2 * self.block)[:, self.block :]


def main(name, loudspeakers, responses):
    client = jack.Client(name, no_start_server=True)
    plain = np.load(responses)
    room = Room(plain, client.blocksize) if plain.shape[2] > 1 else None
    inputs = [client.inports.register(f"loudspeaker_{n}") for n in range(int(loudspeakers))]
    outputs = [client.outports.register(f"microphone_{n}") for n in range(plain.shape[1])]
    stall = [0.0]

    @client.set_process_callback
    def process(frames):
        time.sleep(stall[0])
        stall[0] = 0.0
        played = np.stack([port.get_array() for port in inputs])
        heard = room.hear(played) if room else plain[:, :, 0].T.astype(np.float32) @ played
        for port, samples in zip(outputs, heard, strict=True):
            port.get_array()[:] = samples

    with client:
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        for line in sys.stdin:
            word, *arguments = line.split()
            if word == "gone":
                os._exit(0)
            if word == "stall":
                stall[0] = float(arguments[0])


if __name__ == "__main__":
    main(*sys.argv[1:])
