"""Bytes of a foreign table: kind of file, text encoding, and unpacking within stated limits."""

from __future__ import annotations

import codecs
import gzip
import io
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Literal

MOST_UNPACKED = 16 << 30
"""A packed file that becomes larger than this is refused [byte]."""
MOST_RATIO = 300
"""So many times its packed size may a file become; logged tables stay far below (5 to 40)."""
RATIO_FROM = 32 << 20
"""Up to here the ratio says nothing [byte]."""
MOST_SHEET = 1 << 30
"""A spreadsheet is read whole, so its unpacked parts may not be larger than this [byte]."""
MOST_LINE = 1 << 20
"""A longer line is no row of a table [characters]."""
HEAD = 256 << 10
_ODD_SHARE = 0.3

FileKind = Literal["text", "gzip", "spreadsheet"]
_MAGIC = {
    b"PAR1": "a Parquet file", b"SQLite format": "a database", b"%PDF": "a PDF", b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture", b"BZh": "packed with bzip2", b"\xfd7zXZ": "packed with xz",
    b"Rar!": "an archive", b"7z\xbc\xaf": "an archive", b"\x28\xb5\x2f\xfd": "packed with zstd",
}  # fmt: skip


class TableError(ValueError):
    """A file cannot be read as a table; the text is one sentence with the place and the way out."""


def kind_of(path: Path) -> FileKind:
    """Say by its first bytes, not by its name, what a file is.

    Raises
    ------
    TableError
        If it is empty or of a kind that is no table.
    OSError
        If it cannot be opened.
    """
    with path.open("rb") as file:
        head = file.read(16)
    if not head:
        raise TableError(f"{path} is empty: there is nothing to import.")
    if head.startswith(b"\x1f\x8b"):
        return "gzip"
    if head.startswith(b"\xd0\xcf\x11\xe0"):
        return "spreadsheet"
    if head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        _check_spreadsheet(path)
        return "spreadsheet"
    for magic, words in _MAGIC.items():
        if head.startswith(magic):
            raise TableError(f"{path} is {words}, not a table: export it as CSV, .xlsx or .csv.gz.")
    return "text"


def _check_spreadsheet(path: Path) -> None:
    """Look into the directory of a zip before anything is unpacked."""
    try:
        with zipfile.ZipFile(path) as archive:
            parts = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError) as error:
        raise TableError(f"{path} is a damaged spreadsheet or zip ({error}): save it again.") from None
    names = {part.filename for part in parts}
    if not any(name.endswith(("workbook.xml", "workbook.bin", "content.xml")) for name in names):
        raise TableError(f"{path} is a zip archive, not a table: unpack it and name the files inside.")
    size, packed = sum(part.file_size for part in parts), max(path.stat().st_size, 1)
    if size > MOST_SHEET or (size > RATIO_FROM and size > MOST_RATIO * packed):
        raise TableError(
            f"{path} would unpack to {size / 1e6:.0f} MB from {packed / 1e6:.1f} MB, more than the limits of "
            f"{MOST_SHEET >> 20} MB and {MOST_RATIO} times: export the sheet as CSV."
        )


class _Unpacked(io.RawIOBase):
    """A gzip stream that stops at the limits."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._raw = path.open("rb")
        self._file = gzip.GzipFile(fileobj=self._raw)
        self._size = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        try:
            count = self._file.readinto(buffer)
        except (EOFError, zlib.error, gzip.BadGzipFile) as error:
            words = "breaks off" if isinstance(error, EOFError) else "is damaged"
            raise TableError(
                f"{self._path} {words} after {self._size} unpacked bytes: get a whole copy of the file."
            ) from None
        self._size += count
        packed = max(self._raw.tell(), 1)
        if self._size > MOST_UNPACKED or (self._size > RATIO_FROM and self._size > MOST_RATIO * packed):
            raise TableError(
                f"{self._path} has unpacked to {self._size / 1e6:.0f} MB from {packed / 1e6:.2f} MB, more "
                f"than the limits of {MOST_UNPACKED >> 30} GB and {MOST_RATIO} times: if it is real, "
                "unpack it first."
            )
        return count

    def close(self) -> None:
        if not self.closed:
            self._file.close()
            self._raw.close()
        super().close()


def open_bytes(path: Path, kind: FileKind) -> IO[bytes]:
    """Open a text file, unpacking it on the way where it is packed."""
    return io.BufferedReader(_Unpacked(path), 1 << 18) if kind == "gzip" else path.open("rb", 1 << 18)


def detect_encoding(head: bytes, path: Path) -> str:
    r"""Say in which encoding the first bytes of a text file are.

    A byte order mark decides; else UTF-16 shows by its zeros, UTF-8 by decoding without fault; the rest is
    taken as Latin-1, which is said to the person.

    Raises
    ------
    TableError
        If it is no text.

    Examples
    --------
    >>> detect_encoding("T (°C)".encode("latin-1"), Path("log.csv"))
    'latin-1'
    """
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if head.startswith(mark):
            return name
    found = "latin-1"
    half = max(len(head) // 2, 1)
    if head[1::2].count(0) > _ODD_SHARE * half > head[0::2].count(0):
        found = "utf-16-le"
    elif head[0::2].count(0) > _ODD_SHARE * half > head[1::2].count(0):
        found = "utf-16-be"
    else:
        try:
            codecs.getincrementaldecoder("utf-8")("strict").decode(head)
            found = "utf-8"
        except UnicodeDecodeError:
            pass
    text = head.decode(found, "replace")
    strange = sum(1 for character in text if character < " " and character not in "\t\r\n\f\0")
    if strange > 0.01 * len(text) or text.count("\0") > _ODD_SHARE * len(text):
        raise TableError(f"{path} is a binary file, not a table: export it as CSV or .xlsx.")
    return found


@dataclass(slots=True)
class Lines:
    """The lines of a text, one at a time, each with its number; comment lines are passed over."""

    path: Path
    stream: IO[bytes]
    encoding: str
    comment: str = ""
    number: int = 0
    """Number of the line given last."""
    comments: int = 0
    zeros: int = 0
    """Lines from which NUL characters were taken: what a logger leaves behind after a power cut."""
    torn: bool = False
    """Whether the line given last had no line end."""

    def __iter__(self) -> Iterator[str]:
        with io.TextIOWrapper(self.stream, self.encoding, errors="replace", newline="") as text:
            while line := text.readline(MOST_LINE):
                self.number += 1
                if len(line) >= MOST_LINE:
                    raise TableError(
                        f"{self.path}, line {self.number}: longer than {MOST_LINE >> 20} MB: no table."
                    )
                self.torn = not line.endswith(("\n", "\r"))
                if "\0" in line:
                    self.zeros += 1
                    line = line.replace("\0", "")
                if self.comment and line.lstrip().startswith(self.comment):
                    self.comments += 1
                    continue
                yield line
