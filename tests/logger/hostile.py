"""Running a command on hostile input: it must end soon, say one sentence, and print nothing that acts."""

from __future__ import annotations

import signal
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

import pytest

from logger.cli import main

ESCAPES = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202e\u2066\x00\x08\r"
"""Clear the screen, rename the window, a C1 colour, writing turned round, NUL, backspace, return."""
LONGEST_S = 120


class Hangs(BaseException):
    """Something takes too long; no handler of errors may swallow it."""


Told = Callable[..., tuple[int, str, str]]


@contextmanager
def at_most(seconds: int) -> Iterator[None]:
    """Fail where something takes so long that it hangs (POSIX only; elsewhere the runner's limit holds)."""
    if not hasattr(signal, "SIGALRM"):
        yield
        return

    def ring(number: int, frame: FrameType | None) -> None:
        raise Hangs(f"not done after {seconds} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def acts(text: str) -> str:
    """Give the characters of a text that a terminal would act on."""
    return "".join(c for c in text if unicodedata.category(c)[0] == "C" and c not in "\n\t")


def teller(capsys: pytest.CaptureFixture[str]) -> Told:
    """Give what runs a command in this process: status, output and errors, checked to be harmless."""

    def run(*arguments: object, limit_s: int = LONGEST_S) -> tuple[int, str, str]:
        with at_most(limit_s):
            try:
                status = main([str(argument) for argument in arguments])
            except SystemExit as ended:  # wrong use of the command line
                status = int(ended.code or 0)
        seen = capsys.readouterr()
        assert "Traceback" not in seen.err
        assert not acts(seen.out), repr(acts(seen.out))
        assert not acts(seen.err), repr(acts(seen.err))
        return status, seen.out, seen.err

    return run
