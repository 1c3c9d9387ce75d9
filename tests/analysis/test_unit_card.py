"""The unit card: read strictly, and held against itself."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.card_checks import check_card
from analysis.card_file import CardFile
from analysis.unit_card import CardError, UnitCard, unit_card
from drivers.strict_toml import TomlError, decode

CARDS = Path(__file__).parents[2] / "recordings" / "cards"
HALL = (CARDS / "hall.toml").read_text(encoding="utf-8")


def card(text: str) -> UnitCard:
    return unit_card(decode(text, CardFile))


def faults(text: str) -> list[str]:
    return [str(fault) for fault in check_card(card(text))]


@pytest.mark.parametrize("name", ["hall", "bakery"])
def test_our_own_cards_have_no_fault(name: str) -> None:
    assert faults((CARDS / f"{name}.toml").read_text(encoding="utf-8")) == []


def test_a_card_is_read_in_si() -> None:
    hall = card(HALL)
    flow = hall.band("source_volume_flow", "heating")
    assert flow is not None
    assert (flow.low, flow.high) == pytest.approx((0.55e-3, 0.65e-3))
    assert hall.cut_out is not None
    assert hall.cut_out.setting == pytest.approx(263.65)
    assert hall.source_liquid.freezing_point == pytest.approx(263.35, abs=0.1)
    assert hall.pump_capacitor == pytest.approx(5.0e-6)
    assert flow.source == "commissioning sheet"


def test_a_band_for_the_mode_goes_before_one_for_both() -> None:
    both = HALL + '\n[[limit]]\nsymbol = "superheat"\nlow = "1 K"\nhigh = "2 K"\nsource = "both"\n'
    chosen, other = card(both).band("superheat", "heating"), card(both).band("superheat", "cooling")
    assert chosen is not None
    assert other is not None
    assert (chosen.high, other.high) == (9.0, 2.0)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('charge = "1.03 kg"', 'charge = "1.03"', "'refrigerant.charge': '1.03' has no unit"),
        ('charge = "1.03 kg"', 'charge = "1.03 bar"', "'refrigerant.charge': 'bar' is not a unit of mass"),
        ('low = "0.55 L/s"', 'low = "0.55 Ls"', "'limit[1].low'"),
        ('symbol = "superheat"', 'symbol = "superheet"', "'superheet' has no band"),
        ('name = "R410A"', 'name = "R41OB"', "'refrigerant.name'"),
        (
            'fluid = "propylene_glycol 25 % mass"\npump',
            'fluid = "propylene_glycol 25 %"\npump',
            "mass or volume",
        ),
        ('low = "4 K"\nhigh = "9 K"', "", "'limit[5]': give at least one"),
        ('"38.0 kPa"', '"28.0 kPa"', "does not rise from flow 5 to flow 6"),
        ('power = ["2.90 kW", "2.96 kW", "3.02 kW"]', 'power = ["2.90 kW"]', "one value per column"),
    ],
)
def test_a_value_that_cannot_be_read_is_refused_by_its_key_path(old: str, new: str, words: str) -> None:
    assert old in HALL
    with pytest.raises(CardError) as refused:
        card(HALL.replace(old, new, 1))
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_an_unknown_key_is_refused_with_those_that_are_known() -> None:
    with pytest.raises(TomlError, match="sorce"):
        card(HALL.replace('source = "plate"', 'sorce = "plate"', 1))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('low = "4 K"\nhigh = "9 K"', 'low = "9 K"\nhigh = "4 K"', "were they exchanged"),
        ('high = "0.65 L/s"', 'high = "0.65 m3/h"', "is not below"),
        ('low = "0.85 A"\nhigh = "1.00 A"', 'low = "85 A"\nhigh = "100 A"', "wrong unit?"),
        ("4.12", "4.82", "one of the three is a slip"),
        ('"12.2 kW", "13.6 kW"', '"12.2 kW", "11.6 kW"', "look for a misread figure"),
        ('setting = "-9.5 degC"', 'setting = "-12.4 degC"', "the coil can burst"),
        ('setting = "-9.5 degC"', 'setting = "-1.1 degC"', "is it still set for another liquid?"),
        ('power = ["2.90 kW", "2.96 kW"', 'power = ["2.90 kW", "3.26 kW"', "lies off its neighbours"),
        ('"0.70 L/s"]', '"0.95 L/s"]', "exponent"),
        ('charge = "1.03 kg"', 'charge = "1.03 g"', "is no charge"),
        ('low = "0.55 L/s"', 'low = "0.10 L/s"', "lies outside the table"),
    ],
)
def test_what_can_be_read_and_cannot_be_right_is_found(old: str, new: str, words: str) -> None:
    assert old in HALL
    found = faults(HALL.replace(old, new, 1))
    assert any(words in fault for fault in found), found


TABLE = HALL[HALL.index("[[performance]]") :]


def _second(load: str, flow: str, capacity: str, power: str) -> list[str]:
    """Give what is found when the hall's card has a second table."""
    table = TABLE.replace("30 degC", load).replace("0.60 L/s", flow).replace("cop = [3.76, 4.12, 4.50]\n", "")
    table = table.replace('"10.9 kW", "12.2 kW", "13.6 kW"', capacity)
    return faults(HALL + "\n" + table.replace('"2.90 kW", "2.96 kW", "3.02 kW"', power))


WARM = ('"10.5 kW", "11.7 kW", "13.1 kW"', '"3.20 kW", "3.27 kW", "3.34 kW"')


@pytest.mark.parametrize(
    ("load", "flow", "capacity", "power", "words"),
    [
        ("35 degC", "0.60 L/s", *WARM, None),
        ("30 degC", "0.75 L/s", '"11.0 kW", "12.4 kW", "13.8 kW"', '"2.88 kW", "2.94 kW", "3.00 kW"', None),
        ("30 degC", "0.60 L/s", *WARM, "are those of performance[1]: keep one"),
        (
            "35 degC", "0.60 L/s", '"10.5 kW", "12.7 kW", "15.1 kW"', WARM[1],
            "at 4.0 °C the capacity is 12.70 kW with the warmer load and 12.20 kW in performance[1]",
        ),
        (
            "25 degC", "0.60 L/s", '"11.3 kW", "12.6 kW", "14.0 kW"', WARM[1],
            "the power is 2.90 kW with the warmer load",
        ),
        (
            "30 degC", "0.75 L/s", '"10.0 kW", "11.2 kW", "12.5 kW"', '"2.88 kW", "2.94 kW", "3.00 kW"',
            "10.00 kW with more source flow and 10.90 kW",
        ),
    ],
)  # fmt: skip
def test_several_tables_of_one_machine_are_held_against_each_other(
    load: str, flow: str, capacity: str, power: str, words: str | None
) -> None:
    found = _second(load, flow, capacity, power)
    assert (found == []) if words is None else any(words in fault for fault in found), found


def test_power_in_cooling_rises_with_the_source_water() -> None:
    cooling = TABLE.replace('"heating"', '"cooling"').replace("cop = [3.76, 4.12, 4.50]\n", "")
    cooling = cooling.replace('"10.9 kW", "12.2 kW", "13.6 kW"', '"13.6 kW", "12.9 kW", "12.2 kW"')
    assert faults(HALL + "\n" + cooling) == []
    falling = cooling.replace('"2.90 kW", "2.96 kW", "3.02 kW"', '"3.02 kW", "2.96 kW", "2.90 kW"')
    assert any("against the sense of cooling" in fault for fault in faults(HALL + "\n" + falling))


def test_two_bands_for_one_mode_are_one_too_many() -> None:
    again = HALL + '\n[[limit]]\nsymbol = "superheat"\nmode = "heating"\nhigh = "9 K"\nsource = "again"\n'
    assert any("two bands" in fault for fault in faults(again))


_QUOTED = re.compile(r'"[^"\n]*"')


_anything = st.text(st.characters(codec="utf-8", exclude_characters='"\\\n\r'), max_size=12)
_amounts = st.from_regex(r"-?\d{1,4}(\.\d)? ?(K|A|L/s|kPa|degC|%|kW)", fullmatch=True)


@settings(derandomize=True, deadline=None, max_examples=150)
@given(st.integers(0, len(_QUOTED.findall(HALL)) - 1), st.one_of(_anything, _amounts))
def test_any_other_value_is_read_or_refused_in_one_sentence(place: int, text: str) -> None:
    counter = iter(range(10_000))
    changed = _QUOTED.sub(lambda match: f'"{text}"' if next(counter) == place else match.group(0), HALL)
    sentence = ""
    try:
        found = check_card(card(changed))
    except (CardError, TomlError) as refused:
        sentence = str(refused)
    else:
        assert all(str(fault).endswith((".", "?")) for fault in found), [str(fault) for fault in found]
    assert "\n" not in sentence.strip()
