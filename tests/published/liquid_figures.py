"""Figures of liquids, re-keyed from published sources."""

from __future__ import annotations

#: Lange's Handbook of Chemistry, 15th ed. (1999), Table 5.13 "Compositions of aqueous antifreeze solutions",
#: pages 5.83 to 5.86: mass fraction, freezing point (degC), specific gravity.
METHANOL_LANGE = (  # specific gravity at 15.6 degC (60 degF)
    (0.039, -2.2, 0.993), (0.081, -5.0, 0.986), (0.122, -8.3, 0.980), (0.164, -11.7, 0.974),
    (0.206, -15.6, 0.968), (0.249, -20.0, 0.963), (0.292, -25.0, 0.956), (0.336, -30.0, 0.949),
)  # fmt: skip
ETHANOL_LANGE = (  # specific gravity 20/4 degC
    (0.025, -1.0, 0.99363), (0.048, -2.0, 0.98971), (0.068, -3.0, 0.98658), (0.113, -5.0, 0.98006),
    (0.138, -6.1, 0.97670), (0.164, -7.5, 0.97336), (0.203, -10.6, 0.96823), (0.242, -14.0, 0.96283),
    (0.299, -18.9, 0.95400), (0.338, -23.6, 0.94715), (0.390, -28.7, 0.93720),
)  # fmt: skip
SODIUM_CHLORIDE_LANGE = (  # specific gravity at 15 degC
    (0.05, -2.97, 1.036), (0.15, -10.88, 1.112), (0.20, -16.46, 1.152), (0.22, -19.19, 1.168),
)  # fmt: skip
#: The same table: volume fraction, freezing point (degC), specific gravity at 15.6 degC.
PROPYLENE_GLYCOL_LANGE = (
    (0.05, -1.1, 1.004), (0.10, -2.2, 1.006), (0.15, -3.9, 1.012), (0.20, -6.7, 1.017), (0.25, -8.9, 1.020),
    (0.30, -12.8, 1.024), (0.35, -16.1, 1.028), (0.40, -20.6, 1.032), (0.45, -26.7, 1.037),
    (0.50, -33.3, 1.040),
)  # fmt: skip

#: Computed with CoolProp 8.0.0 at 50 degF: mass fraction, density (kg/m3), specific heat (J/(kg K)),
#: viscosity (mPa s), freezing point (degF). The library's mixtures are those of Melinder (2010), which the
#: United States federal test method for water-source heat pumps, 10 CFR 431 subpart F appendix C1, names for
#: fluid properties. A check of the transcription, not an independent one.
AT_50_DEGF = {
    "propylene_glycol": (
        (0.10, 1008, 4067, 1.94, 26.8), (0.20, 1018, 3956, 2.87, 19.1), (0.25, 1023, 3896, 3.56, 14.4),
        (0.30, 1028, 3830, 4.44, 9.0),
    ),
    "ethylene_glycol": (
        (0.10, 1012.5, 4041, 1.69, 26.0), (0.20, 1027, 3878, 2.25, 17.7), (0.25, 1034, 3787, 2.59, 12.3),
        (0.30, 1042, 3689, 2.98, 5.8),
    ),
    "methanol": (
        (0.10, 983.5, 4219, 1.77, 20.2), (0.20, 970, 4095, 2.21, 4.9), (0.25, 963, 4019, 2.38, -4.2),
        (0.30, 956, 3938, 2.49, -14.2),
    ),
    "ethanol": (
        (0.10, 984, 4351, 2.15, 24.1), (0.20, 973, 4349, 3.22, 12.0), (0.25, 967, 4285, 3.70, 4.2),
        (0.30, 960, 4193, 4.05, -4.3),
    ),
    "sea_water": ((0.035, 1026.9, 3996, 1.41, None),),
}  # fmt: skip

#: Heat factor of plain water, Btu/h per gpm and degF, by temperature in degF; computed with IAPWS-95.
WATER_FACTORS = ((40, 503.0), (50, 501.5), (60, 500.3), (68, 499.5), (77, 498.6), (86, 497.7), (100, 496.3))
#: Heat factors of mixtures between 41 and 59 degF: name, mass fraction, lowest, highest. Computed.
MIXTURE_FACTORS = (
    ("propylene_glycol", 0.15, 485, 486.5), ("propylene_glycol", 0.20, 480, 482.5),
    ("propylene_glycol", 0.25, 475, 477.5), ("propylene_glycol", 0.30, 469, 472),
    ("ethylene_glycol", 0.20, 475, 477),
    ("methanol", 0.15, 485.5, 487), ("ethanol", 0.15, 506, 518), ("ethanol", 0.20, 503, 518),
    ("sea_water", 0.035, 490.2, 491), ("sodium_chloride", 0.10, 475, 476.6),
    ("calcium_chloride", 0.20, 433, 438.2),
)  # fmt: skip
