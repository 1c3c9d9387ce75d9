"""What a command says when it cannot go on, and the exit status that goes with it."""

from __future__ import annotations

DONE = 0
FAULTS_FOUND = 1
WRONG_USE = 2
DAMAGED = 3
NOT_AVAILABLE = 4


class CommandError(Exception):
    """A command cannot go on; the text is one plain sentence with the way out."""

    status = WRONG_USE


class DamagedInputError(CommandError):
    """An input file is damaged or unreadable."""

    status = DAMAGED


class NotAvailableError(CommandError):
    """A device, port, file or folder is not available."""

    status = NOT_AVAILABLE
