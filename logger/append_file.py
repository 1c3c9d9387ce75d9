"""One file that only grows by whole rows, and knows up to where it is whole and up to where it is safe."""

from __future__ import annotations

import contextlib
import errno
import os
from io import FileIO
from pathlib import Path


def sync_file(number: int) -> None:
    """Bring a file's content to the disk; the cheaper call where the system has it."""
    getattr(os, "fdatasync", os.fsync)(number)


def sync_folder(folder: Path) -> None:
    """Bring a folder's list of names to the disk, where the system can (not on Windows)."""
    if os.name == "posix":
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def replace_file(path: Path, content: bytes) -> None:
    """Put new content in place of a file so that at every moment the old or the new one is there, whole."""
    fresh = path.with_name(f".{path.name}.new")
    try:
        fresh.unlink(missing_ok=True)  # a left-over, or a link that would lead elsewhere
        with fresh.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            fresh.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


class AppendFile:
    """Appends chunks of whole rows; after an error the file ends with its last whole row.

    Chunks are kept until the disk has them. When the disk refuses to say so, or the file is not the one at
    its path any more (a drive was unplugged, the folder removed), they are written again.
    """

    def __init__(self, path: Path, header: bytes) -> None:
        self.path = path
        self._header = header
        self._file: FileIO | None = None
        self._created = False
        self.whole = 0
        """Length up to the last whole row [byte]."""
        self.durable = 0
        """Length that the disk has confirmed [byte]."""
        self._unsynced: list[bytes] = []

    def write(self, chunk: bytes) -> None:
        """Append whole rows; on error nothing of them is in the file."""
        file = self._ready()
        self._put(file, chunk)
        self._unsynced.append(chunk)

    def sync(self) -> None:
        """Make everything written durable; raises OSError and writes it again later if that fails."""
        if not self.dirty:
            return
        file = self._ready()
        try:
            sync_file(file.fileno())
            if not os.path.samestat(os.fstat(file.fileno()), os.stat(self.path)):
                raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(self.path))
            if self._created:
                sync_folder(self.path.parent)
                self._created = False
        except OSError:
            self._distrust()
            raise
        self.durable = self.whole
        self._unsynced.clear()

    def close(self) -> None:
        """Let go of the file."""
        if self._file is not None:
            with contextlib.suppress(OSError):
                self._file.close()
            self._file = None

    @property
    def dirty(self) -> bool:
        """Whether something is written that the disk has not confirmed."""
        return bool(self._unsynced) or self.whole != self.durable

    def _put(self, file: FileIO, chunk: bytes) -> None:
        try:
            file.seek(self.whole)
            rest = memoryview(chunk)
            while rest:
                count = file.write(rest)
                if not count:
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
                rest = rest[count:]
        except OSError:
            try:
                file.truncate(self.whole)
            except OSError:
                self._distrust()
            raise
        self.whole += len(chunk)

    def _distrust(self) -> None:
        """Forget the open file; the next use opens it by its path and writes again what is not durable."""
        self.close()

    def _ready(self) -> FileIO:
        if self._file is not None:
            return self._file
        try:
            file = FileIO(self.path, "r+b")
        except FileNotFoundError:
            file = FileIO(self.path, "x+b")
            self._created = True
        try:
            # What was confirmed stays; what the disk did not confirm is written again over itself, so that no
            # row is missing from the file meanwhile. A shorter file than confirmed is cut to its last row.
            size = os.fstat(file.fileno()).st_size
            self.whole = self.durable = self.durable if size >= self.durable else _last_row_end(file, size)
            if self.whole == 0:
                self._put(file, self._header)
            for chunk in self._unsynced:
                self._put(file, chunk)
            file.truncate(self.whole)
        except OSError:
            file.close()
            raise
        self._file = file
        return file


def _last_row_end(file: FileIO, size: int) -> int:
    """Find where the last whole row ends."""
    while size > 0:
        start = max(0, size - 65536)
        file.seek(start)
        found = file.read(size - start).rfind(b"\n")
        if found >= 0:
            return start + found + 1
        size = start
    return 0
