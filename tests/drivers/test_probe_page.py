"""The page on the probe set to build says what the program does: lines, bytes and budget are worked out."""

from __future__ import annotations

import math
import re
import struct
from pathlib import Path

import pytest

from analysis.measure import Quality
from analysis.units import Quantity
from drivers.decode import LineDecoder
from drivers.profile import find_profile
from drivers.scaling import Beta, Conversion, Divider

PAGE = Path(__file__).resolve().parents[2] / "recordings" / "probe-set-you-can-build.md"
TEXT = PAGE.read_text(encoding="utf-8")


def test_the_lines_on_the_page_decode_to_what_it_says() -> None:
    decoder = LineDecoder(find_profile("probe_board"))
    good, broken = (decoder.decode(line.encode()) for line in re.findall(r"^t=.*$", TEXT, re.MULTILINE))
    assert [value.value for value in good.values] == pytest.approx([5.0, 25.0, 25.0, 25.0])
    assert [value.quality for value in broken.values] == [
        Quality.INVALID, Quality.OK, Quality.INVALID, Quality.OK,
    ]  # fmt: skip


def test_the_bytes_on_the_page() -> None:
    assert struct.pack("<h", 2150).hex(" ") in TEXT
    assert struct.pack("<I", 8612345).hex(" ") in TEXT


@pytest.mark.parametrize(("celsius", "step"), [(5.0, 0.024), (60.0, 0.043), (80.0, 0.077)])
def test_one_step_of_the_converter(celsius: float, step: float) -> None:
    curve = Beta(beta=3950.0, r0=10000.0, divider=Divider(series=10000.0))
    convert = Conversion(Quantity.TEMPERATURE, "degC", curve=curve)
    resistance = 10000.0 * math.exp(3950.0 * (1 / (celsius + 273.15) - 1 / 298.15))
    share = resistance / (resistance + 10000.0)
    here, there = convert(share)[0], convert(share + 1 / 4096)[0]
    assert here == pytest.approx(celsius)
    assert there is not None
    assert abs(there - celsius) == pytest.approx(step, rel=0.02)
    assert f"{step:.3f} K" in TEXT


def test_the_budget_adds_up() -> None:
    """Root sum of squares of rectangular bounds, GUM 5.1.2 and 4.3.7."""
    rows = re.findall(r"\| (\d\.\d+) K \| (\d\.\d+) K \|", TEXT)
    assert len(rows) == 5
    parts = []
    for bound, u in rows:
        assert float(u) == pytest.approx(float(bound) / math.sqrt(3), abs=0.0025)
        parts.append(float(u))
    together = math.hypot(*parts)
    assert f"**{together:.2f} K; expanded {2 * together:.2f} K (k = 2)**" in TEXT
    assert math.sqrt(2 * (0.05 / 3**0.5) ** 2 + 2 * 0.027**2 + 2 * (0.1 / 3**0.5) ** 2) == pytest.approx(
        0.1, abs=0.005
    )
