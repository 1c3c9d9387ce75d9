"""Small foreign tables and maps for the tests of import."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from analysis.rows import Rows
from logger.cli import main
from logger.session import Session

MAP = """
[time]
column = "t"
elapsed = "s"
[[column]]
header = "in"
unit = "degC"
assign = "source_entering_temperature"
[[column]]
header = "out"
unit = "degC"
assign = "source_leaving_temperature"
"""


@dataclass(frozen=True)
class Outcome:
    """What a call of the command has given."""

    status: int
    folder: Path
    said: str
    """On standard error."""
    facts: dict[str, Any] = field(default_factory=dict)

    def rows(self) -> Rows:
        return Rows.concatenate(list(Session.open(self.folder).rows()))

    def values(self, channel: str) -> list[tuple[float, float, int]]:
        """Moment [s], value and quality of each reading of a channel."""
        own = self.rows().only(channel)
        return list(zip((own.t_us / 1e6).tolist(), own.value.tolist(), own.quality.tolist(), strict=True))

    def events(self, kind: str) -> list[str]:
        return [event.text for event in Session.open(self.folder).events if event.kind == kind]


def bring_in(
    folder: Path,
    capsys: pytest.CaptureFixture[str],
    content: str | bytes | dict[str, str | bytes],
    map_text: str = MAP,
    name: str = "log.csv",
) -> Outcome:
    """Write files and a map, import them, and give what came of it."""
    files = content if isinstance(content, dict) else {name: content}
    paths = []
    for file, text in files.items():
        path = folder / file
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        paths.append(str(path))
    chart = folder / "map.toml"
    chart.write_text(map_text, encoding="utf-8")
    out = folder / "session"
    status = main(["import", *paths, "--map", str(chart), "--out", str(out), "--json"])
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    return Outcome(status, out, shown.err, json.loads(shown.out) if shown.out else {})


def refused_whole(outcome: Outcome, status: int, *words: str) -> None:
    """Expect that the command stopped with one sentence and that nothing was made."""
    assert outcome.status == status
    assert outcome.said.count("\n") == 1
    assert outcome.said.rstrip().endswith(".")
    for word in words:
        assert word in outcome.said
    assert not outcome.folder.exists()
