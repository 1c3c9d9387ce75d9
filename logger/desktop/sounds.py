"""Short tones through the system's own player. Never waits, never fails, never the only cue.

The tones are made here as WAV data; the window's library brings no sound. On Linux and macOS a player that
the system has gets a file, on Windows its own sound service does.
"""

from __future__ import annotations

import io
import logging
import shutil
import subprocess
import sys
import tempfile
import wave
from collections.abc import Callable
from pathlib import Path
from typing import Literal

import numpy as np

_log = logging.getLogger(__name__)
Cue = Literal["mark", "undo", "settled", "lost", "act"]
RATE = 22_050
_AMPLITUDE = 0.6
_FADE_S = 0.004
"""Tones begin and end softly: a hard edge clicks, and all clicks sound alike."""
TONES: dict[Cue, tuple[tuple[float, float], ...]] = {
    "mark": ((1500.0, 0.03),),
    "undo": ((700.0, 0.06),),
    "settled": ((660.0, 0.18), (880.0, 0.25)),
    "lost": ((440.0, 0.18), (0.0, 0.09), (440.0, 0.18)),
    "act": ((1000.0, 0.3), (0.0, 0.7)) * 2 + ((1000.0, 0.3),),
}
"""Frequency [Hz], 0 for silence, and length [s]; 300 to 3000 Hz, told apart by pitch and rhythm."""
_PLAYERS: dict[str, tuple[str, ...]] = {"pw-play": (), "paplay": (), "aplay": ("-q",), "afplay": ()}
"""Players by name, best first, with what they are told besides the file."""
MOST_AT_ONCE = 4


def wav(cue: Cue) -> bytes:
    """Make a cue as a WAV file: one channel, 16 bit.

    Examples
    --------
    >>> wav("mark")[:4], len(wav("settled")) > len(wav("mark"))
    (b'RIFF', True)
    """
    parts = []
    for frequency, seconds in TONES[cue]:
        t = np.arange(round(RATE * seconds)) / RATE
        soft = np.clip(np.minimum(t, seconds - t) / _FADE_S, 0.0, 1.0)
        parts.append(_AMPLITUDE * np.sin(2.0 * np.pi * frequency * t) * soft)
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((np.concatenate(parts) * 32767).astype("<i2").tobytes())
    return held.getvalue()


class Sounds:
    """Plays cues, unless they are silenced.

    Parameters
    ----------
    on
        Whether anything is played.
    find
        Finds a program; :func:`shutil.which`.
    platform
        As :data:`sys.platform`.
    """

    def __init__(
        self,
        *,
        on: bool,
        find: Callable[[str], str | None] = shutil.which,
        platform: str = sys.platform,
    ) -> None:
        self.on = on
        self._windows = platform == "win32"
        found = ((find(name), more) for name, more in _PLAYERS.items())
        self._player = next(((path, *more) for path, more in found if path), None)
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._running: list[subprocess.Popen[bytes]] = []

    @property
    def missing(self) -> str:
        """Why nothing can be heard, with the way out; empty where it can."""
        if self._windows or self._player is not None:
            return ""
        return f"no sound player found: install one of {', '.join(_PLAYERS)}"

    def play(self, cue: Cue) -> bool:
        """Begin to play a cue and return at once; says whether it was begun."""
        if not self.on or self.missing:
            return False
        try:
            path = self._file(cue)
            if self._windows:
                return _by_windows(path)
            assert self._player is not None, "a player is there where none is missing"
            self._running = [one for one in self._running if one.poll() is None]
            if len(self._running) >= MOST_AT_ONCE:
                return False
            nothing = subprocess.DEVNULL
            self._running.append(
                subprocess.Popen(  # noqa: S603
                    [*self._player, str(path)], stdin=nothing, stdout=nothing, stderr=nothing
                )
            )
        except Exception:  # a sound is never worth a recording
            _log.info("The sound %s could not be played.", cue, exc_info=True)
            return False
        return True

    def close(self) -> None:
        """End what still plays and take the files away."""
        for one in self._running:
            if one.poll() is None:
                one.kill()
            one.wait()
        self._running = []
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None

    def _file(self, cue: Cue) -> Path:
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="evenrun-sounds-", ignore_cleanup_errors=True)
        path = Path(self._folder.name) / f"{cue}.wav"
        if not path.exists():
            path.write_bytes(wav(cue))
        return path


def _by_windows(path: Path) -> bool:
    """Play through the system's service, which gives a new sound the place of an old one."""
    import winsound  # only there on Windows

    flags: int = winsound.SND_FILENAME | winsound.SND_ASYNC | winsound.SND_NODEFAULT  # type: ignore[attr-defined]
    winsound.PlaySound(str(path), flags)  # type: ignore[attr-defined]
    return True
