"""A room as a client of a JACK server: its inputs are loudspeakers, its outputs microphones.

    python jack_room.py NAME LOUDSPEAKERS RESPONSES

RESPONSES is an .npy file, (loudspeakers, microphones, taps), or with the places of the microphones
before that. Each line on standard input is a command: `stall SECONDS` holds the next block up, so
that the server loses samples; `place N` moves the microphones to place N; `noise RMS` adds noise
to the first microphone; `hurry` lets the server run as fast as it can; `gone` ends at once, as an
interface does that is unplugged. Each is answered by a line once it is done. Prints `ready` when
the room stands.
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
        places, loudspeakers, microphones, taps = responses.shape
        self.parts = -(-taps // block)
        padded = np.zeros((places, loudspeakers, microphones, self.parts * block))
        padded[..., :taps] = responses
        split = padded.reshape(places, loudspeakers, microphones, self.parts, block)
        # One list a place: a microphone hears only what has a response to it.
        self.heard = [
            [np.flatnonzero(split[place, :, m].any(axis=(1, 2))) for m in range(microphones)]
            for place in range(places)
        ]
        self.filters = [
            [
                np.fft.rfft(split[place, self.heard[place][m], m], 2 * block).transpose(1, 0, 2)
                for m in range(microphones)
            ]
            for place in range(places)
        ]
        self.past = np.zeros((self.parts, loudspeakers, block + 1), dtype=complex)
        self.last = np.zeros((loudspeakers, block))
        self.block, self.at, self.place, self.noise_rms = block, 0, 0, 0.0
        self.rng = np.random.default_rng(1)

    def hear(self, played):
        """(loudspeakers, block) played to (microphones, block) heard."""
        both = np.concatenate((self.last, played), axis=1)
        self.last = played
        self.past[self.at] = np.fft.rfft(both)
        order = (self.at - np.arange(self.parts)) % self.parts
        self.at = (self.at + 1) % self.parts
        place = self.place
        heard = []
        for loudspeakers, filters in zip(self.heard[place], self.filters[place], strict=True):
            spectrum = np.zeros(self.block + 1, dtype=complex)
            for part, past in enumerate(order):
                spectrum += np.sum(self.past[past, loudspeakers] * filters[part], axis=0)
            heard.append(np.fft.irfft(spectrum, 2 * self.block)[self.block :])
        heard[0] += self.noise_rms * self.rng.standard_normal(self.block)
        return heard


def main(name, loudspeakers, responses):
    client = jack.Client(name, no_start_server=True)
    plain = np.load(responses)
    places = plain if plain.ndim == 4 else plain[None]
    room = Room(places, client.blocksize) if places.shape[3] > 1 else None
    inputs = [client.inports.register(f"loudspeaker_{n}") for n in range(int(loudspeakers))]
    outputs = [client.outports.register(f"microphone_{n}") for n in range(places.shape[2])]
    stall, hurries = [0.0], False

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
            elif word == "place":
                room.place = int(arguments[0])
            elif word == "noise":
                room.noise_rms = float(arguments[0])
            elif word == "hurry" and not hurries:
                client.set_freewheel(True)
                hurries = True
            sys.stdout.write("done\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(*sys.argv[1:])
