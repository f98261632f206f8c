"""Tables of pipe dimensions that no library we use holds. All in inches.

ASTM B88, Seamless Copper Water Tube. The outside diameter is the nominal size plus 1/8 in; the
walls are the nominal ones. Types K and L up to 8 in are checked against Table 14.2f of the Copper
Tube Handbook (Copper Development Association), with its weights. The rest (10 and 12 in, and all of
type M) is from memory of the standard, and agrees with the metric table of ASTM B88M to its
rounding, where that has the size (it has no 1/4 or 3 1/2 in).
One listing in circulation gives 0.114 in for 4 in type L; the handbook's wall (0.110), bore and
weight agree with one another, and are used.

AWWA C151/A21.51, Ductile-Iron Pipe, Centrifugally Cast: outside diameters, and nominal walls of
pressure class 350 and of special thickness classes 51 to 53. Read in two public works
specifications that reproduce the tables.
"""

from types import MappingProxyType

# Nominal size: walls of types K, L and M. None: that type is not made in that size.
_B88_ROWS: tuple[tuple[float, float, float, float | None], ...] = (
    (0.25, 0.035, 0.030, None),
    (0.375, 0.049, 0.035, 0.025),
    (0.5, 0.049, 0.040, 0.028),
    (0.75, 0.065, 0.045, 0.032),
    (1.0, 0.065, 0.050, 0.035),
    (1.25, 0.065, 0.055, 0.042),
    (1.5, 0.072, 0.060, 0.049),
    (2.0, 0.083, 0.070, 0.058),
    (2.5, 0.095, 0.080, 0.065),
    (3.0, 0.109, 0.090, 0.072),
    (3.5, 0.120, 0.100, 0.083),
    (4.0, 0.134, 0.110, 0.095),
    (5.0, 0.160, 0.125, 0.109),
    (6.0, 0.192, 0.140, 0.122),
    (8.0, 0.271, 0.200, 0.170),
    (10.0, 0.338, 0.250, 0.212),
    (12.0, 0.405, 0.280, 0.254),
)
B88_EXTRA_DIAMETER = 0.125
B88_WALLS = MappingProxyType(
    {
        "K": {nominal: k for nominal, k, _, _ in _B88_ROWS},
        "L": {nominal: wall for nominal, _, wall, _ in _B88_ROWS},
        "M": {nominal: m for nominal, _, _, m in _B88_ROWS if m is not None},
    }
)

# Nominal size: outside diameter, then walls of pressure class 350 and classes 51, 52, 53.
_C151_ROWS: tuple[tuple[float, float, float, float, float, float], ...] = (
    (3.0, 3.96, 0.25, 0.25, 0.28, 0.31),
    (4.0, 4.80, 0.25, 0.26, 0.29, 0.32),
    (6.0, 6.90, 0.25, 0.28, 0.31, 0.34),
    (8.0, 9.05, 0.25, 0.30, 0.33, 0.36),
    (10.0, 11.10, 0.26, 0.32, 0.35, 0.38),
    (12.0, 13.20, 0.28, 0.34, 0.37, 0.40),
    (14.0, 15.30, 0.31, 0.36, 0.39, 0.42),
    (16.0, 17.40, 0.34, 0.37, 0.40, 0.43),
    (18.0, 19.50, 0.36, 0.38, 0.41, 0.44),
    (20.0, 21.60, 0.38, 0.39, 0.42, 0.45),
    (24.0, 25.80, 0.43, 0.41, 0.44, 0.47),
)
C151_DIAMETERS = MappingProxyType({row[0]: row[1] for row in _C151_ROWS})
C151_WALLS = MappingProxyType(
    {
        "350": {row[0]: row[2] for row in _C151_ROWS},
        "51": {row[0]: row[3] for row in _C151_ROWS},
        "52": {row[0]: row[4] for row in _C151_ROWS},
        "53": {row[0]: row[5] for row in _C151_ROWS},
    }
)
