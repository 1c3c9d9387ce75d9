from __future__ import annotations

import pytest

from drivers.plant.fault_reasons import REASONS
from drivers.plant.fault_table import COLUMNS, ELECTRICAL, SEVERITY_STEPS, fault_table, main
from drivers.plant.faults import SEVERITIES
from drivers.plant.stories import HALL


def test_every_fault_has_its_reason() -> None:
    assert set(REASONS) == set(SEVERITIES)


def test_the_table_is_whole_and_worked_out() -> None:
    lines = fault_table("hall", HALL.machine, HALL.boundary).splitlines()
    rows = [line for line in lines if line.startswith("| ")][1:]
    assert len(rows) == 1 + (len(SEVERITIES) - len(ELECTRICAL)) * len(SEVERITY_STEPS)
    assert all(row.count("|") == len(COLUMNS) + 3 for row in rows)


def test_it_prints(capsys: pytest.CaptureFixture[str]) -> None:
    assert main() == 0
    text = capsys.readouterr().out
    assert "Water to air, cooling" in text
    assert "**weak pump capacitor**" in text
