"""The command line: what can be asked, and how a failure is told.

Only this module is loaded for ``--help``; a command's own module is loaded when the command is called.
"""

from __future__ import annotations

import argparse
import importlib
import os
import re
import sys

from logger.cli_commands import ADD_COMMANDS
from logger.errors import WRONG_USE, CommandError
from logger.plain_output import plain_streams

TYPE_CHECKING = False
if TYPE_CHECKING:  # loaded for --help too, so nothing is imported that only the checker of types needs
    from collections.abc import Sequence
    from typing import Any

_EPILOG = """exit status: 0 done, also when the honest answer is "not enough to say"; 1 a check found faults;
2 wrong use, or a thing missing that the command needs; 3 a file is damaged or says what cannot be read;
4 device, port or file not available; 130 stopped by you (Ctrl-C).

evenrun only reads: it never commands equipment. Work on live parts, refrigerant and pressure
is for qualified persons; local codes and licensed practice decide."""


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence and where the help is; takes -5degC as a value, not as an option."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        # A value such as -2.4degC begins like an option; no option of ours begins with a digit.
        self._negative_number_matcher = re.compile(r"^-[\d.]")

    def error(self, message: str) -> None:  # type: ignore[override]
        text = message[:1].upper() + message[1:]
        print(f"{text.rstrip('.')}. See '{self.prog} --help'.", file=sys.stderr)
        sys.exit(WRONG_USE)


class _NotCalled:
    """Stands for a command that is not called: it is listed, but its many options are not built."""

    def __getattr__(self, _name: str) -> _NotCalled:
        return self

    def __call__(self, *_words: object, **_options: object) -> _NotCalled:
        return self


def build_parser(called: str | None = None) -> argparse.ArgumentParser:
    """Describe every command.

    Parameters
    ----------
    called
        The one command whose options are wanted (empty: none); None for all. Building all of them takes half
        the time of a start.
    """
    parser = _Parser(
        prog="evenrun",
        description="Data logger with live analysis for those who service water-source heat pumps.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )

    def parser_of(**words: Any) -> Any:
        name = words["prog"].rpartition(" ")[2]
        return _Parser(**words) if called in (None, name) else _NotCalled()

    kind: Any = parser_of
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True, parser_class=kind)

    def command(name: str, text: str, *, json: bool = True, units: bool = True) -> argparse.ArgumentParser:
        sub: argparse.ArgumentParser = commands.add_parser(
            name, help=text, description=text, allow_abbrev=False
        )
        sub.set_defaults(module=f"logger.commands.{name.replace('-', '_')}")
        if json:
            sub.add_argument("--json", action="store_true", help="print one JSON object, SI units")
        if units:
            sub.add_argument("--units", choices=("si", "us"), default=None, help="units shown (default si)")
        return sub

    for add in ADD_COMMANDS:
        add(command)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; gives the exit status."""
    _use_utf8()
    with plain_streams():
        return _run(arguments)


def _run(arguments: Sequence[str] | None) -> int:
    words = sys.argv[1:] if arguments is None else arguments
    called = next((word for word in words if not word.startswith("-")), "")  # no option before it has a value
    parsed = build_parser(called).parse_args(words)
    try:
        status: int = importlib.import_module(parsed.module).run(parsed)
        sys.stdout.flush()
        return status
    except CommandError as error:
        print(error, file=sys.stderr)
        return error.status
    except KeyboardInterrupt:
        print("Stopped by you.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output has gone, for example `| head`; there is nobody left to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _use_utf8() -> None:
    """Degree signs and minus signs must not fail on a terminal of another encoding."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None and (stream.encoding or "").lower().replace("-", "") != "utf8":
            reconfigure(errors="replace")
