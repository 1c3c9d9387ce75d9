"""Draw the README's pictures of the terminal from the real program: ``python -m tests.make_pictures``."""

from __future__ import annotations

import asyncio
import contextlib
import io
import re
import sys
import tempfile
from pathlib import Path

from rich._export_format import CONSOLE_SVG_FORMAT
from rich.console import Console

from analysis.analyser import Analyser, Results, last_row
from analysis.settings import settings_over_time
from logger.demo import HALL
from logger.demo_run import run_story
from logger.engine import Snapshot
from logger.live_table import live_table
from logger.replay import curves_for, open_session

PICTURES = Path(__file__).parents[1] / "recordings" / "pictures"
# The page must open without a network: no fonts from elsewhere.
# No imitation of a window: the frame is ours, plain.
_PLAIN = re.sub(r"@font-face \{\{.*?\}\}\s*\}?", "", CONSOLE_SVG_FORMAT, flags=re.DOTALL).replace(
    "Fira Code, monospace", "DejaVu Sans Mono, Liberation Mono, monospace"
)
_BUTTONS = re.compile(r'<g transform="translate\(26,22\)">.*?</g>', re.DOTALL)
_COMMENT = re.compile(r"<!--.*?-->")


def main() -> int:
    """Record the hall's story, then draw it and the live table while the machine settles."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        console = Console(record=True, width=104, file=io.StringIO(), highlight=False)
        # From within the folder, so that the picture shows the paths as a technician would see them.
        with contextlib.chdir(folder):
            out = Path("evenrun-demo")
            out.mkdir()
            run_story(HALL, out, "si", console, as_json=False)
            _write(console, "evenrun demo", "demo-hall.svg")
            session = next(out.glob("*as-found"))
            asyncio.run(_live(session, at_us=13 * 60_000_000 + 30_000_000))
    return 0


async def _live(folder: Path, at_us: int) -> None:
    session = open_session(str(folder))
    channels = {channel.id: channel for channel in session.channels}
    fold = Analyser(channels, settings_over_time(session.events, channels), curves_for(session))
    newest: Results | None = None
    for rows in session.rows():
        newest = last_row(fold.step(rows.take(rows.t_us <= at_us))) or newest
        if rows.t_us.max() > at_us:
            break
    console = Console(record=True, width=104, file=io.StringIO(), highlight=False)
    console.print(live_table(Snapshot(at_us, newest, (), {}, None, 0, 0), "si", session.header.title))
    _write(console, "evenrun record hall.toml --out 2026-01-14-hall-as-found", "live-table.svg")


def _write(console: Console, title: str, name: str) -> None:
    text = console.export_svg(title=title, code_format=_PLAIN)
    text = _COMMENT.sub("", _BUTTONS.sub("", text))
    (PICTURES / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
