"""What is known of each liquid beside its property table: pure density, uncertainty, cautions."""

from __future__ import annotations

from types import ModuleType

from analysis.liquid_tables import (
    calcium_chloride,
    ethanol,
    ethylene_glycol,
    methanol,
    propylene_glycol,
    sea_water,
    sodium_chloride,
    water,
)

TABLES: dict[str, ModuleType] = {
    "water": water,
    "sea_water": sea_water,
    "propylene_glycol": propylene_glycol,
    "ethylene_glycol": ethylene_glycol,
    "methanol": methanol,
    "ethanol": ethanol,
    "sodium_chloride": sodium_chloride,
    "calcium_chloride": calcium_chloride,
}
LIQUID_NAMES = tuple(TABLES)
WATER_20 = 998.2
#: Density of the undiluted chemical at 20 degC, kg/m3 (handbook values; only these can be stated by volume).
PURE_20 = {"propylene_glycol": 1036.1, "ethylene_glycol": 1113.5, "methanol": 791.3, "ethanol": 789.3}
#: Standard uncertainty (k = 1) from how far sources lie apart (IIR 2010, the ASHRAE fits of the same
#: library, Lange's Handbook, TEOS-10, IAPWS): of density times specific heat, relative; of the freezing
#: point, a fixed part [K] and a part of its depression below 0 degC. Inhibitors of a product come on top: its
#: maker's table goes first.
SPREAD = {
    "water": (0.0005, 0.0, 0.0),
    "sea_water": (0.001, 0.01, 0.0),
    "propylene_glycol": (0.004, 0.4, 0.05),
    "ethylene_glycol": (0.008, 0.4, 0.05),
    "methanol": (0.005, 0.1, 0.01),
    "ethanol": (0.005, 0.3, 0.04),
    "sodium_chloride": (0.003, 0.05, 0.005),
    "calcium_chloride": (0.003, 0.2, 0.02),
}
#: Usual cautions in handling (common practice; the safety data sheet of the product decides).
CAUTIONS = {
    "ethylene_glycol": "Poisonous if swallowed, to animals too: catch it, never drain it to ground or sewer.",
    "methanol": "Poisonous by mouth, skin and vapour, and flammable: no open flame, ventilate, wear gloves.",
    "ethanol": "Flammable: no open flame or spark near an open vessel.",
}


class LiquidError(ValueError):
    """A liquid that is unknown or outside its table; the text says what to write instead."""


def liquid_table(name: str) -> ModuleType:
    """Find the generated property table of a liquid, or say which liquids there are."""
    try:
        return TABLES[name]
    except KeyError:
        raise LiquidError(f"'{name}' is not a known liquid: use one of {', '.join(LIQUID_NAMES)}.") from None
