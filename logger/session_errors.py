"""What can be wrong with a session: one sentence for a person, with file, line and the way out."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from pathlib import Path


class SessionError(Exception):
    """Something is wrong with a session; the text is one sentence that says what to do."""

    def __init__(self, sentence: str, file: Path | None = None, line: int | None = None) -> None:
        self.sentence = sentence
        self.file = file
        self.line = line
        place = "" if file is None else f"{file}: " if line is None else f"{file}, line {line}: "
        super().__init__(f"{place}{sentence}")


class SessionExistsError(SessionError):
    """The folder is there already; a recording never goes over another one."""


class StillRecordingError(SessionError):
    """Another process is writing the session."""


class NotASessionError(SessionError):
    """The folder is missing or holds no session."""


class DamagedSessionError(SessionError):
    """A file of the session cannot be read as what it should be."""


class StorageError(SessionError):
    """Writing did not work: disk full, read-only, folder gone."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is not as it should be in a session's files."""

    file: str
    line: int | None
    sentence: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        return f"{place}: {self.sentence}"


_REASONS = {
    errno.ENOSPC: "the disk is full; free some space on it",
    errno.EDQUOT if hasattr(errno, "EDQUOT") else -1: "the disk quota is used up; free some space",
    errno.EFBIG: "the file has reached the largest size that is allowed here; raise the limit",
    errno.EROFS: "the disk is read-only; make it writable or choose another folder",
    errno.EACCES: "it is not permitted here; change the permissions or choose another folder",
    errno.EPERM: "it is not permitted here; change the permissions or choose another folder",
    errno.ENOENT: "the folder is gone; bring it back (is the drive still plugged in?)",
    errno.ENOTDIR: "a part of the path is a file; choose another folder",
    errno.EIO: "the disk reports an error; save the session to another disk soon",
    errno.ENAMETOOLONG: "the name is too long; choose a shorter one",
}


def reason_of(error: OSError) -> str:
    """Say in words why the operating system refused, and what helps."""
    plain = error.strerror or "the operating system refused"
    return _REASONS.get(error.errno or 0, f"{plain[:1].lower()}{plain[1:]}; look at the disk")
