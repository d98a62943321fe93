"""Illuminance through dusk against two published fits.

1. Explanatory Supplement to the Astronomical Almanac (1992), ch. 9, Yallop & Hohenkerk, pp. 490-493: the
   coefficients, copied here a second time and evaluated in another way than geozone does (numpy's polynomial).
2. Brown, R. (1952), natural illumination charts, as fitted by the US Naval Observatory with a Chebyshev series
   over 24 degrees: an independent fit; its values below were computed once from that series.

Agreement of two clear-sky fits says nothing about a cloudy evening: real skies scatter by a factor of several.
"""

import numpy as np
import pytest
from numpy.polynomial import Polynomial

from geozone.numbers.daylight import altitude_deg_for, illuminance_lx

SUPPLEMENT = [
    (20, 90, (3.74, 3.97, -4.07, 1.47)),
    (5, 20, (3.05, 13.28, -45.98, 64.33)),
    (-0.8, 5, (2.88, 22.26, -207.64, 1034.30)),
    (-5, -0.8, (2.88, 21.81, -258.11, -858.36)),
    (-12, -5, (2.70, 12.17, -431.69, -1899.83)),
    (-18, -12, (13.84, 262.72, 1447.42, 2797.93)),
]

BROWN_LX = {0: 756.8, -0.8333: 451.6, -2: 191.7, -4: 30.73, -6: 3.472, -8: 0.356, -12: 0.00843}


@pytest.mark.parametrize("lower, upper, coefficients", SUPPLEMENT)
def test_explanatory_supplement(lower, upper, coefficients):
    altitude = np.linspace(lower, upper, 101)[1:-1]
    expected = 10 ** Polynomial(coefficients)(altitude / 90)
    assert illuminance_lx(altitude) == pytest.approx(expected, rel=1e-10)
    # 0.03 degrees from a join the inverse is unambiguous: the joins step by 1 % in lux, 0.015 degrees.
    clear = (altitude > lower + 0.03) & (altitude < upper - 0.03)
    assert altitude_deg_for(expected[clear]) == pytest.approx(altitude[clear], abs=1e-7)


@pytest.mark.parametrize("altitude_deg, lux", [item for item in BROWN_LX.items() if item[0] >= -8])
def test_brown_charts(altitude_deg, lux):
    assert illuminance_lx(altitude_deg) == pytest.approx(lux, rel=0.05)
    assert altitude_deg_for(lux) == pytest.approx(altitude_deg, abs=0.05)


def test_brown_charts_deeper_down():
    # Only 0 to -8 degrees are promised to agree within 0.05 degrees; at -12 the two fits are 0.07 apart.
    assert illuminance_lx(-12) == pytest.approx(BROWN_LX[-12], rel=0.10)
    assert altitude_deg_for(BROWN_LX[-12]) == pytest.approx(-12, abs=0.10)
