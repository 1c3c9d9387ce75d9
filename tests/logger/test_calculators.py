"""The small calculators, as a person types them."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from logger.cli import build_parser, main

COMMANDS = next(action.choices for action in build_parser()._actions if action.dest == "command") or ()


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    status = main(list(arguments))
    out, err = capsys.readouterr()
    return status, out, err


def test_saturation_of_a_pressure_and_of_a_temperature(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "sat", "R22", "65psig")
    # R22 at 65 psig saturates near 38 degF (common practice, no source).
    assert status == 0
    assert "dew 37.5 °F" in out
    status, out, _ = run(capsys, "sat", "R410A", "40degF", "--json")
    found = json.loads(out)
    # 118.4 / 118.8 psig dew and bubble at 40 degF (CoolProp 8.0, agrees with a published table).
    assert found["p_dew"] / 6894.757 - 14.696 == pytest.approx(118.4, abs=0.06)
    assert found["p_bubble"] / 6894.757 - 14.696 == pytest.approx(118.8, abs=0.06)


def test_the_barometer_matters(capsys: pytest.CaptureFixture[str]) -> None:
    _, sea, _ = run(capsys, "sat", "R410A", "118psig", "--json")
    _, high, _ = run(capsys, "sat", "R410A", "118psig", "--barometer", "5000 ft", "--json")
    shift = (json.loads(sea)["t_dew"] - json.loads(high)["t_dew"]) * 1.8
    assert shift == pytest.approx(1.09, abs=0.03)  # 12.228 instead of 14.696 psia, computed with CoolProp


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("sat", "R22", "65psi"), ("gauge or absolute", "psig", "psia")),
        (("sat", "R22", "65"), ("no unit",)),
        (("sat", "R22", "hot"), ("not a number",)),
        (("sat", "R22", "900bar(a)"), ("R22 is known from", "outside")),
        (("sat", "R438A", "65psig"), ("R438A", "pressure-temperature table")),
        (("sat", "R2Z", "65psig"), ("R2Z",)),
        (("sat", "R22", "65psig", "--barometer", "3 bar(a)"), ("barometer",)),
        (("water", "watr"), ("watr", "water")),
        (("water", "propylene_glycol 95 % mass"), ("95",)),
        (("water", "water", "--container", "5gal"), ("--seconds",)),
        (("water", "water", "--seconds", "50"), ("--container",)),
        (("water", "water", "--container", "5gal", "--seconds", "50", "0"), ("above 0 s",)),
        (("water", "water", "--in", "200degC"), ("200",)),
        (("air", "20degC", "--wet-bulb", "25degC"), ("no such air",)),
        (("air", "20degC"), ("--wet-bulb",)),
        (("record", "none.toml", "--out", "x"), ("none.toml",)),
        (("check-profile", "none"), ("none",)),
        (("demo", "--seconds", "-1"), ("more than 0 s",)),
        (("demo", "--seconds", "nan"), ("more than 0 s",)),
    ],
)
def test_bad_input_is_one_sentence(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], words: tuple[str, ...]
) -> None:
    status, out, err = run(capsys, *arguments)
    assert status in (2, 4)
    assert not out
    assert len(err.strip().splitlines()) == 1
    for word in words:
        assert word in err


def test_water_heat_by_the_first_law(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "water", "water", "--in", "58degF", "--out", "70degF", "--flow", "6gpm", "--json")
    found = json.loads(out)
    assert found["heat_factor"] == pytest.approx(499.9, abs=0.1)
    assert found["heat"] / 0.29307107 == pytest.approx(-36_000, rel=0.002)


def test_below_zero_is_a_value_and_no_option(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "sat", "R410A", "-5degC", "--json")
    assert status == 0
    assert json.loads(out)["temperature"] == pytest.approx(268.15)
    brine = ("water", "propylene_glycol 25 % mass", "--in", "-1degC", "--out", "-4degC", "--json")
    status, out, _ = run(capsys, *brine)
    assert status == 0
    assert json.loads(out)["temperature"] == pytest.approx(270.65)


def test_moist_air_at_the_published_point(capsys: pytest.CaptureFixture[str]) -> None:
    # 40 degC dry bulb, 20 degC wet bulb: the chart example of ASHRAE Handbook Fundamentals, chapter 1.
    _, out, _ = run(capsys, "air", "40degC", "--wet-bulb", "20degC", "--json")
    found = json.loads(out)
    assert found["humidity_ratio"] == pytest.approx(0.0065, abs=2e-4)
    assert found["enthalpy"] / 1e3 == pytest.approx(56.7, abs=0.3)
    assert found["relative_humidity"] == pytest.approx(0.14, abs=0.005)


@pytest.mark.parametrize("command", sorted(COMMANDS))
def test_every_command_has_its_own_help(capsys: pytest.CaptureFixture[str], command: str) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert capsys.readouterr().out.startswith(f"usage: evenrun {command} ")


@pytest.mark.parametrize(
    ("arguments", "never"),
    [
        (["--help"], {"numpy", "CoolProp", "pyarrow", "msgspec", "rich", "bleak", "asyncio"}),
        (
            ["sat", "R410A", "118psig"],
            {"numpy", "CoolProp", "pyarrow", "msgspec", "rich", "bleak", "asyncio"},
        ),
    ],
)
def test_what_is_not_needed_is_not_loaded(arguments: list[str], never: set[str]) -> None:
    code = (
        "import sys\nfrom logger.cli import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit:\n    pass\n"
        f"print(sorted(set(sys.modules) & {never!r}), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_heat_of_water_carries_its_uncertainty(
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked = ("water", "propylene_glycol 25 % mass", "--in", "4degC", "--out", "0.1degC", "--flow", "0.6L/s")
    _, out, _ = run(capsys, *asked)
    assert "heat 9.3 kW ± 3.5 (k = 2)" in out  # two unmatched thermometers on a change of 3.9 K
    assert "give your own with --u-temperature and --u-flow" in out
    _, out, _ = run(capsys, *asked, "--u-temperature", "0.2 K", "--u-flow", "5 %", "--json")
    found = json.loads(out)
    expected = found["heat"] * (0.025**2 + 2.0 * (0.1 / 3.9) ** 2 + 0.004**2) ** 0.5  # GUM, by hand
    assert found["u_heat"] == pytest.approx(expected, rel=0.01)
    _, out, _ = run(capsys, *asked, "--u-temperature", "0.2 K", "--u-flow", "5 %")
    assert "give your own" not in out


def test_saturation_carries_the_uncertainty_of_the_gauge(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "sat", "R410A", "118psig", "--u", "2 psi", "--json")
    found = json.loads(out)
    assert found["u_t_dew"] * 2.0 * 1.8 == pytest.approx(0.88, abs=0.02)  # 0.44 degF per psi at 40 degF
    _, out, _ = run(capsys, "sat", "R410A", "8.0bar(g)", "--u", "0.1 bar")
    assert "at 8.00 bar(g) ± 0.10: dew" in out
    _, out, _ = run(capsys, "sat", "R410A", "8.0bar(g)")
    assert "give your own with --u" in out


def test_air_carries_the_uncertainty_of_its_thermometers(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "air", "80degF", "--wet-bulb", "67degF", "--u-temperature", "0.5 degF")
    assert "dry bulb 80.0 °F ± 0.5, wet bulb 67.0 °F ± 0.5, dew point 60.3 °F ± 1.0" in out
    _, wide, _ = run(capsys, "air", "25degC", "--humidity", "50%", "--json")
    _, narrow, _ = run(capsys, "air", "25degC", "--humidity", "50%", "--u-humidity", "2%", "--json")
    assert json.loads(narrow)["u_relative_humidity"] == pytest.approx(0.01)
    assert json.loads(wide)["u_dew_point"] > json.loads(narrow)["u_dew_point"]


@pytest.mark.parametrize(
    ("arguments", "option"),
    [
        (("sat", "R22", "65psig", "--u", "2"), "--u"),
        (("sat", "R22", "65psig", "--u=-2 psi"), "below zero"),
        (("water", "water", "--in", "4degC", "--u-temperature", "1 kPa"), "--u-temperature"),
        (("water", "water", "--flow", "1L/s", "--u-flow", "x"), "--u-flow"),
        (("air", "20degC", "--humidity", "50%", "--u-humidity", "1 K"), "--u-humidity"),
    ],
)
def test_an_uncertainty_that_cannot_be_read(
    arguments: tuple[str, ...], option: str, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (2, "")
    assert option in err
    assert err.count("\n") == 1
