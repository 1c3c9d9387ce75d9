"""Water: property table, written by tests/generate_liquids.py; do not edit.

Chebyshev series: rows along temperature (T_MIN to T_MAX, K), columns along mass fraction (0 to
MASS_FRACTION_MAX). SI units; viscosity as its natural logarithm (Pa s). LARGEST_ERROR is against
the library at the fitted points.
"""

SOURCE = "CoolProp, IAPWS-95 with the IAPWS transport formulations"
LIBRARY = "CoolProp 8.0.0, Water, at 101325 Pa"
T_MIN = 273.15999999999997
T_MAX = 368.15
MASS_FRACTION_MAX = 0.0
FREEZING_POINT: tuple[float, ...] = ()
DENSITY = (
    (985.0941597998,),
    (-19.44239778912,),
    (-4.134377824455,),
    (0.4452045186754,),
    (-0.08954946617968,),
    (0.01824259704584,),
    (-0.004143795021416,),
    (0.000965905478498,),
    (-0.0002336830661992,),
    (5.808148468296e-05,),
    (-1.46741213786e-05,),
)
SPECIFIC_HEAT = (
    (4195.673433417,),
    (0.5295225263768,),
    (16.89940745863,),
    (-4.518484131651,),
    (2.051938495382,),
    (-0.5827274367531,),
    (0.1499311592399,),
    (-0.04245110060856,),
    (0.01410837604406,),
    (-0.004906548436108,),
    (0.001638827952108,),
)
LN_VISCOSITY = (
    (-7.350592152909,),
    (-0.8767489260561,),
    (0.1229454559411,),
    (-0.02056921300094,),
    (0.004242297011999,),
    (-0.0009320228492468,),
    (0.0001969863607466,),
    (-3.985218664058e-05,),
    (7.919070352449e-06,),
    (-1.603126602486e-06,),
    (3.405012537393e-07,),
)
CONDUCTIVITY = (
    (0.626898774683,),
    (0.05849943564591,),
    (-0.01114983312653,),
    (0.0011544027595,),
    (-0.0003050618853681,),
    (8.691874063444e-05,),
    (-2.159991119973e-05,),
    (4.867934995967e-06,),
    (-1.06745048052e-06,),
    (2.370996131409e-07,),
    (-5.416522072792e-08,),
)
LARGEST_ERROR = {
    "freezing_point": 0.0,
    "density": 4.6e-06,
    "specific_heat": 0.00066,
    "ln_viscosity": 9.4e-08,
    "conductivity": 1.6e-08,
}
