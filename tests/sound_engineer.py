"""Somebody who measures through a sound server of their own, by the command."""

from __future__ import annotations

import os
import subprocess
import sys
import threading

from sound_server import SoundServer

#: Noise of the room and the converter at the microphone's input: about 30 dB SPL.
NOISE_RMS = 2e-5

_COMMAND = "import sys; from roomwright.cli.app import main; main(sys.argv[1:])"


class Engineer:
    """Starts a sound server with the cinema in it, runs the command, carries the microphone."""

    def __init__(self, path, heard, cinema, *words, command="measure"):
        folder = path.parent / f"server-{len(list(path.parent.iterdir()))}"
        folder.mkdir()
        self._server = SoundServer(folder, shared=False)
        self._room = self._server.room("cinema", heard)
        self._room.noise(NOISE_RMS)
        self._places = {station.id: n for n, station in enumerate(cinema.stations)}
        self._command = subprocess.Popen(
            [sys.executable, "-c", _COMMAND, command, str(path), *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, **self._server.settings, "COLUMNS": "300"},
        )
        self.said = self.printed = ""
        self._reader = threading.Thread(target=self._listen)
        self._reader.start()

    def _listen(self):
        """Answer each question; what is said is kept."""
        while letter := self._command.stderr.read(1):
            self.said += letter
            if self.said.endswith("to skip: "):
                station = self.said.rsplit("microphone to ", 1)[1].split(" ")[0]
                self._room.place(self._places[station])
                self._room.hurry()  # the stream is open by now
                self._command.stdin.write("\n")
                self._command.stdin.flush()

    @property
    def runs(self):
        return self._command.poll() is None

    def kill(self):
        """The battery is flat: everything is gone at once."""
        self._command.kill()
        self.wait()

    def wait(self):
        code = self._command.wait(300)
        self._server.break_down()
        self._reader.join()
        self.printed = self._command.stdout.read()
        self._command.stdout.close()
        self._command.stdin.close()
        self._command.stderr.close()
        return code
