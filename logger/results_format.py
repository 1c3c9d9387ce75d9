"""results.csv: the columns of what was shown while recording."""

from __future__ import annotations

from pathlib import Path

from logger.csv_line import END

RESULTS = "results.csv"
RESULT_COLUMNS = ("elapsed_s", "symbol", "value", "u", "state")
RESULTS_HEADER = (",".join(RESULT_COLUMNS) + END).encode()


def whole_results(content: bytes) -> bytes:
    r"""Give what holds whole lines only; a line without its end was cut when the recording broke off.

    Examples
    --------
    >>> whole_results(b"elapsed_s,symbol,value,u,state\r\n1.0,su")
    b'elapsed_s,symbol,value,u,state\r\n'
    """
    return content[: content.rfind(b"\n") + 1] or RESULTS_HEADER


def results_in(folder: Path) -> list[Path]:
    """Give the file of shown results, if the session has one; an imported session has none."""
    path = folder / RESULTS
    return [path] if path.exists() else []
