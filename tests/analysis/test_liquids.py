"""Liquids: tables against their source, range, composition, words."""

from __future__ import annotations

import importlib
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis import liquid_composition as composition
from analysis.liquids import LIQUID_NAMES, Liquid, LiquidError, liquid_table, parse_liquid
from tests import generate_liquids

MIXTURES = [name for name in LIQUID_NAMES if name != "water"]


@pytest.mark.parametrize("recipe", generate_liquids.RECIPES, ids=lambda recipe: recipe.name)
def test_generator_writes_the_shipped_table(recipe):
    fresh = generate_liquids.fitted(recipe)
    shipped = importlib.import_module(f"analysis.liquid_tables.{recipe.name}")
    for name in ("T_MIN", "T_MAX", "MASS_FRACTION_MAX", "SOURCE", "LIBRARY"):
        assert getattr(shipped, name) == fresh[name]
    for name in ("DENSITY", "SPECIFIC_HEAT", "LN_VISCOSITY", "CONDUCTIVITY"):
        expected = np.array(fresh[name])
        assert np.allclose(getattr(shipped, name), expected, rtol=0, atol=1e-9 * np.abs(expected).max())


@pytest.mark.parametrize("recipe", generate_liquids.RECIPES, ids=lambda recipe: recipe.name)
def test_table_against_the_library_between_its_nodes(recipe):
    state = generate_liquids.state_of(recipe)
    random = np.random.default_rng(7)
    for x in random.uniform(0, recipe.x_max, 6):
        liquid = Liquid(recipe.name, mass_fraction=x) if recipe.x_max else Liquid("water")
        low = max(liquid.freezing_point, 273.16 if not recipe.freezes else 0) + 0.01
        for t in random.uniform(low, recipe.t_max + 273.15, 6):
            rho, c_p, ln_mu, k = generate_liquids.properties(recipe, state, t, x)
            assert liquid.density(t) == pytest.approx(rho, abs=1e-3)
            assert liquid.specific_heat(t) == pytest.approx(c_p, abs=2e-3)
            assert np.log(liquid.viscosity(t)) == pytest.approx(ln_mu, abs=2e-5)
            assert liquid.conductivity(t) == pytest.approx(k, abs=2e-5)
        if recipe.freezes:
            assert liquid.freezing_point == pytest.approx(generate_liquids.freezing_point(state, x), abs=1e-9)


def test_no_library_is_loaded():
    code = "import sys, analysis.liquid_composition, analysis.water; print('CoolProp' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "False"


def test_the_range_ends_in_nan():
    loop = Liquid("propylene_glycol", mass_fraction=0.25)
    t = np.array([np.nan, loop.freezing_point - 0.01, loop.freezing_point + 0.01, 373.15, 373.2, np.inf])
    for values in (loop.density(t), loop.specific_heat(t), loop.viscosity(t), loop.conductivity(t)):
        assert np.isfinite(values).tolist() == [False, False, True, True, False, False]
    assert np.isnan(Liquid("water").density(273.1))
    assert np.isnan(Liquid("methanol", mass_fraction=0.15).density(314.0))


def test_single_number_and_array_agree():
    loop = Liquid("ethanol", mass_fraction=0.2)
    t = np.linspace(265, 313, 50)
    assert loop.density(t).tolist() == [loop.density(float(value)) for value in t]
    assert isinstance(loop.density(280.0), float)


@pytest.mark.parametrize("name", MIXTURES)
@settings(derandomize=True, deadline=None, max_examples=30)
@given(share=st.floats(0.01, 1.0))
def test_freezing_point_and_composition_are_inverse(name, share):
    x = share * liquid_table(name).MASS_FRACTION_MAX
    liquid = Liquid(name, mass_fraction=x)
    assert composition.mass_fraction_from_freezing_point(name, liquid.freezing_point) == pytest.approx(
        x, abs=1e-6
    )


@pytest.mark.parametrize("name", MIXTURES)
@settings(derandomize=True, deadline=None, max_examples=20)
@given(share=st.floats(0.01, 1.0), t=st.floats(274, 313))
def test_density_and_composition_are_inverse(name, share, t):
    x = share * liquid_table(name).MASS_FRACTION_MAX
    rho = Liquid(name, mass_fraction=x).density(t)
    assert composition.mass_fraction_from_density(name, rho, t) == pytest.approx(x, abs=1e-9)


def test_composition_from_nothing_is_nothing():
    t = np.array([np.nan, 260.0, 275.0, 100.0, 263.365])
    x = composition.mass_fraction_from_freezing_point("propylene_glycol", t)
    assert np.isfinite(x).tolist() == [False, True, False, False, True]
    rho = np.array([np.nan, 1019.28, 900.0, 1200.0, -1.0, 0.0])
    x = composition.mass_fraction_from_density("propylene_glycol", rho, 293.15)
    assert np.isfinite(x).tolist() == [False, True, False, False, False, False]
    assert x[1] == pytest.approx(0.25, abs=1e-4)
    # A strong mixture that would be frozen at the stated temperature, and water, whose density tells nothing.
    assert np.isnan(composition.mass_fraction_from_density("propylene_glycol", 1030.0, 250.0))
    assert np.isnan(composition.mass_fraction_from_density("water", 998.0, 293.15))
    assert np.isnan(composition.mass_fraction_from_freezing_point("water", 272.0))
    assert np.isnan(composition.mass_from_volume_fraction("sodium_chloride", 0.2))


def test_density_of_two_samples_at_two_temperatures():
    t = np.array([[278.15], [293.15]])
    x = np.array([0.1, 0.3])
    rho = np.array([[Liquid("methanol", mass_fraction=w).density(float(at)) for w in x] for at in t[:, 0]])
    assert composition.mass_fraction_from_density("methanol", rho, t) == pytest.approx(np.array([x, x]))


def test_a_fifth_replaced_by_water():
    weaker = composition.diluted(Liquid("propylene_glycol", mass_fraction=0.25), 0.2)
    assert weaker.freezing_point - 273.15 == pytest.approx(-7.2, abs=0.05)
    assert composition.diluted(weaker, 0.0) == weaker
    with pytest.raises(LiquidError, match="write a fifth as"):
        composition.diluted(weaker, 20.0)


def test_volume_fraction():
    by_volume = Liquid.by_volume("propylene_glycol", 0.20)
    assert by_volume.mass_fraction == pytest.approx(0.206, abs=0.001)
    assert composition.volume_from_mass_fraction(
        "propylene_glycol", by_volume.mass_fraction
    ) == pytest.approx(0.20)
    assert composition.mass_from_volume_fraction("propylene_glycol", 0.20) == pytest.approx(
        by_volume.mass_fraction
    )
    assert np.isnan(composition.mass_from_volume_fraction("ethanol", 1.2))


@pytest.mark.parametrize("name", MIXTURES)
def test_words_are_read_back(name):
    liquid = Liquid(name, mass_fraction=0.05)
    assert parse_liquid(liquid.text) == liquid
    assert parse_liquid(liquid.text.replace("_", " ").upper().replace("MASS", "by mass")) == liquid
    assert "CoolProp" in liquid.source


def test_words_of_water_and_volume():
    assert parse_liquid(" water ").text == "water"
    assert parse_liquid("ethylene-glycol 20 % volume") == Liquid.by_volume("ethylene_glycol", 0.20)
    assert "Poison" in parse_liquid("methanol 15 % mass").caution
    assert parse_liquid("water").caution == ""


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "write 'water'"),
        ("25 % mass", "write 'water'"),
        ("lemonade", "use one of water, sea_water"),
        ("propylene_glycol", "needs its fraction: write 'propylene_glycol 30 % mass'"),
        ("propylene_glycol 25 %", "does not say mass or volume"),
        ("propylene_glycol 25.5.1 % mass", "is not a number"),
        ("propylene_glycol 80 % mass", "goes from 0 to 60 % mass"),
        ("propylene_glycol 120 % volume", "goes from 0 to 1"),
        ("sodium_chloride 10 % volume", "give its mass fraction"),
        ("sea_water 35 g/kg volume", "g/kg is by mass"),
        ("water 5 % mass", "Water has no mass fraction"),
        ("calcium_chloride 35 % mass", "goes from 0 to 30 % mass"),
    ],
)
def test_wrong_words_are_one_sentence_with_the_way_out(text, says):
    with pytest.raises(LiquidError, match=r"[a-z]") as refused:
        parse_liquid(text)
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(
    st.text(max_size=30) | st.from_regex(r"(water|methanol|sea water) [0-9.]{0,5} ?(%|g/kg)? ?(mass|volume)?")
)
def test_any_text_is_read_or_refused(text):
    try:
        liquid = parse_liquid(text)
    except LiquidError:
        return
    assert parse_liquid(liquid.text).mass_fraction == pytest.approx(liquid.mass_fraction)
    assert np.isfinite(liquid.density(293.15))


@pytest.mark.parametrize("fraction", [-0.1, 0.61, 61.0, float("inf"), float("nan")])
def test_impossible_fractions_are_refused(fraction):
    with pytest.raises(LiquidError):
        Liquid("propylene_glycol", mass_fraction=fraction)
