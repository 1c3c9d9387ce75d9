"""Bytes in, complete lines out, with nothing dropped uncounted. No port, clock, loop or log."""

from __future__ import annotations

LIMIT = 4096
"""A longer line is no line of an instrument; the memory of a reader stays bounded."""


class LineFramer:
    r"""Cuts a stream of bytes into lines, whatever pieces it arrives in.

    Examples
    --------
    >>> framer = LineFramer()
    >>> framer.feed(b"ts=1"), framer.feed(b"2.5\r\nts="), framer.pending
    ([], [b'ts=12.5'], 3)
    """

    __slots__ = ("_buffer", "_delimiter", "_limit", "_skipping", "over_long")

    def __init__(self, delimiter: bytes = b"\n", limit: int = LIMIT) -> None:
        if not delimiter:
            raise ValueError("a delimiter needs at least one byte")
        self._delimiter = delimiter
        self._limit = limit
        self._buffer = bytearray()
        self._skipping = False
        self.over_long = 0
        """Lines refused for their length so far; each is counted once."""

    @property
    def pending(self) -> int:
        """How many bytes of an unfinished line are held."""
        return len(self._buffer)

    def feed(self, data: bytes) -> list[bytes]:
        """Take what was read and give the lines it completes, without delimiter, CR and empty lines.

        Parameters
        ----------
        data
            Bytes as they came; any cutting of the same bytes gives the same lines.
        """
        buffer = self._buffer
        buffer += data
        if self._delimiter not in buffer:
            self._bound()
            return []
        *whole, rest = bytes(buffer).split(self._delimiter)
        buffer[:] = rest
        if self._skipping:  # the end of a line whose beginning was already refused and counted
            self._skipping = False
            del whole[0]
        lines = []
        for line in whole:
            if len(line) > self._limit:
                self.over_long += 1
                continue
            line = line.strip(b"\r")
            if line:
                lines.append(line)
        self._bound()
        return lines

    def _bound(self) -> None:
        """Give up an unfinished line that is already too long, keeping what may begin a delimiter."""
        if self._skipping:
            keep = len(self._delimiter) - 1
            del self._buffer[: max(len(self._buffer) - keep, 0)]
        elif len(self._buffer) > self._limit + len(self._delimiter) - 1:
            self.over_long += 1
            self._skipping = True
            self._bound()

    def reset(self) -> None:
        """Forget an unfinished line, for example after a reconnect."""
        self._buffer.clear()
        self._skipping = False
