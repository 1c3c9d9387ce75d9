"""Sodium chloride: property table, written by tests/generate_liquids.py; do not edit.

Chebyshev series: rows along temperature (T_MIN to T_MAX, K), columns along mass fraction (0 to
MASS_FRACTION_MAX). SI units; viscosity as its natural logarithm (Pa s). LARGEST_ERROR is against
the library at the fitted points.
"""

SOURCE = (
    "CoolProp incompressible library, fit to Properties of Secondary Working Fluids "
    "(Secondary Refrigerants or Coolants, Heat Transfer Fluids) for Indirect Systems, IIR "
    "2010"
)
LIBRARY = "CoolProp 8.0.0, MNA, at 101325 Pa"
T_MIN = 251.0
T_MAX = 313.15
MASS_FRACTION_MAX = 0.23
FREEZING_POINT: tuple[float, ...] = (
    264.1411571279,
    -10.0670569913,
    -1.253612027391,
    -0.1899894629794,
    0.004912521304645,
    4.543417000849e-14,
)
DENSITY = (
    (1085.803660795, 89.69099238764, 1.14849569732, 0.09008930766123, -0.03686030671945, 0),
    (-9.33240916951, -6.09937266266, 0.9270988433847, 0.004161347832382, 0, 0),
    (-1.361828050609, 1.005104989871, -0.2324604076499, 0, 0, 0),
    (0, 0, 0, 0, 0, 0),
)
SPECIFIC_HEAT = (
    (3703.354671243, -439.4876622286, 61.85810523752, -7.976730107635, 0.5096166960931, 0),
    (24.79979615429, 37.11137906891, -31.76642526817, 9.365986452107, 0, 0),
    (-1.161862934001, -11.15542236416, 7.138874763108, 0, 0, 0),
    (0, 0, 0, 0, 0, 0),
)
LN_VISCOSITY = (
    (-6.279752854011, 0.2677936742604, 0.03816194230353, 0.0006975511552058, 0.0010249176625, 0),
    (-0.8899582627555, 0.002538829200504, -0.01842323344347, 0.006423977335704, 0, 0),
    (0.1018210417812, 0.01208420590657, 0.005868180596869, 0, 0, 0),
    (0, 0, 0, 0, 0, 0),
)
CONDUCTIVITY = (
    (0.5674613809399, -0.00787920061317, -0.001354896040299, -0.0001488613521948, -1.017484385948e-05, 0),
    (0.05194856033164, -0.006732446079722, 0.001347659165178, -0.000187508773805, 0, 0),
    (-0.001182994983765, 0.002288179035478, -0.000648756418544, 0, 0, 0),
    (0, 0, 0, 0, 0, 0),
)
LARGEST_ERROR = {
    "freezing_point": 2.3e-13,
    "density": 3.9e-12,
    "specific_heat": 3.2e-12,
    "ln_viscosity": 6.2e-15,
    "conductivity": 1.1e-15,
}
