"""The demonstration as a newcomer runs it, and what it may say."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from logger.cli import main

AS_FOUND, AS_LEFT = "2026-01-14-hall-as-found", "2026-01-14-hall-as-left"


@pytest.fixture(scope="module")
def hall(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Run the hall's story once; gives its folder and what was printed."""
    import contextlib
    import io

    out = tmp_path_factory.mktemp("demo")
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        assert main(["demo", "--no-gui", "--out", str(out)]) == 0
    (folder,) = out.iterdir()
    return folder, printed.getvalue()


def test_the_halls_story_is_told_from_its_readings(hall: tuple[Path, str]) -> None:
    folder, printed = hall
    assert "Low evaporation was a water fault" in printed
    assert "condensing rose" in printed
    assert "Taking out the surplus" in printed
    assert "Cooling: not tested." in printed
    assert "Qualified persons only" in printed
    for name in (
        AS_FOUND,
        "2026-01-14-hall-repair",
        AS_LEFT,
        "report.html",
    ):
        assert (folder / name).exists()
        assert name in printed


def test_the_sessions_carry_what_the_story_says(
    hall: tuple[Path, str], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, _ = hall
    assert (
        main(
            [
                "compare",
                str(folder / AS_FOUND),
                str(folder / AS_LEFT),
                "--json",
            ]
        )
        == 0
    )
    (pair,) = json.loads(capsys.readouterr().out)["comparisons"]
    assert pair["fair"] is True
    changes = pair["changes"]
    # The job scenario's table is a guide: the simulated physics decides, within these limits.
    flow = changes["source_volume_flow"]
    assert flow["as_found"]["value"] == pytest.approx(0.33e-3, rel=0.06)
    assert flow["as_left"]["value"] == pytest.approx(0.60e-3, rel=0.03)
    assert changes["subcooling"]["difference"] == pytest.approx(-6.3, abs=2.0)
    assert changes["superheat"]["verdict"] == "not shown to have changed"
    assert main(["verify", str(folder / AS_LEFT)]) == 0
    assert main(["recheck", str(folder / AS_LEFT), "--json"]) == 0


def test_a_lesson_is_left_out_where_the_readings_do_not_carry_it(hall: tuple[Path, str]) -> None:
    from logger.comparison import compare_sessions, study
    from logger.demo_lessons import Pair, lessons
    from logger.replay import open_session

    same = study(open_session(str(hall[0] / AS_LEFT)))
    pair = Pair(compare_sessions(same, same), "si")
    stretch = same.stretches[-1]
    told = list(lessons([("as-found", stretch), ("as-left", stretch)], [pair, pair], "si"))
    assert told == ["Cooling: not tested."]


def test_every_run_has_a_folder_of_its_own(tmp_path: Path) -> None:
    from logger.commands.demo import _new_folder

    folders = {_new_folder(tmp_path, "hall") for _ in range(5)}
    assert len(folders) == 5


def test_the_machine_runs_live_for_some_seconds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--seconds", "4", "--out", str(tmp_path)]) == 0
    assert "Session:" in capsys.readouterr().out
