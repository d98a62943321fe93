"""Daylight: shape, order, joins, range errors. The published numbers are in tests/reference/test_illuminance.py."""

import doctest

import numpy as np
import pytest

from geozone.errors import InputError
from geozone.numbers import daylight
from geozone.numbers.daylight import TWILIGHT, altitude_deg_for, illuminance_lx, lux_range

JOINS_DEG = (20.0, 5.0, -0.8, -5.0, -12.0)


def test_examples_in_the_docstrings():
    failed, attempted = doctest.testmod(daylight)
    assert attempted >= 2 and failed == 0


def test_hand_worked_value_at_the_horizon():
    # x = 0 leaves the constant term alone: log10 E = 2.88.
    assert illuminance_lx(0.0) == pytest.approx(10**2.88, rel=1e-12)


def test_scalars_stay_scalars_and_arrays_keep_their_shape():
    assert isinstance(illuminance_lx(-4), float) and isinstance(altitude_deg_for(20), float)
    grid = np.array([[-4.0, -6.0], [0.0, 30.0]])
    assert illuminance_lx(grid).shape == altitude_deg_for(illuminance_lx(grid)).shape == (2, 2)
    assert illuminance_lx(grid)[0, 1] == illuminance_lx(-6.0)
    assert altitude_deg_for([20.0, 35.0])[1] == altitude_deg_for(35.0)
    assert illuminance_lx([]).shape == altitude_deg_for([]).shape == (0,)


def test_nan_is_kept_and_is_not_an_error():
    assert np.isnan(illuminance_lx(np.nan)) and np.isnan(altitude_deg_for(np.nan))
    mixed = altitude_deg_for([np.nan, 20.0])
    assert np.isnan(mixed[0]) and mixed[1] == altitude_deg_for(20.0)


def test_light_grows_with_the_sun_inside_every_piece():
    ends = (90.0, *JOINS_DEG, -18.0)
    for upper, lower in zip(ends, ends[1:]):
        inside = np.linspace(lower, upper - 1e-6, 5000)
        assert (np.diff(illuminance_lx(inside)) > 0).all()


def test_pieces_meet_within_one_per_cent_at_the_joins():
    for join in JOINS_DEG:
        assert illuminance_lx(join) == pytest.approx(illuminance_lx(join - 1e-9), rel=0.0101)


def test_inverse_never_decreases_and_gives_the_light_back_within_a_join():
    lux = np.geomspace(*lux_range(), 50_001)[1:-1]
    altitude = altitude_deg_for(lux)
    assert (np.diff(altitude) >= 0).all()
    assert illuminance_lx(altitude) == pytest.approx(lux, rel=0.0101)
    away = np.min(np.abs(altitude[:, None] - np.array(JOINS_DEG)), axis=1) > 0.05
    assert away.mean() > 0.9
    assert illuminance_lx(altitude[away]) == pytest.approx(lux[away], rel=1e-12)


def test_there_and_back_never_gives_a_lower_altitude():
    # Where two altitudes give the same light the higher is taken: lamps come on early, never late.
    altitude = np.linspace(-18, 90, 20_001)
    moved = altitude_deg_for(illuminance_lx(altitude)) - altitude
    assert moved.min() > -1e-9 and moved.max() < 0.02


def test_light_that_no_altitude_gives_comes_back_as_the_join():
    # At -0.8 degrees the piece above starts brighter than the piece below ends, or the other way round:
    # find the joins with a gap and ask for the light in the middle of it.
    gaps = 0
    for join in JOINS_DEG:
        below, at = illuminance_lx(join - 1e-9), illuminance_lx(join)
        if at > below * (1 + 1e-6):
            assert altitude_deg_for(0.5 * (below + at)) == join
            gaps += 1
    assert gaps >= 1


def test_ends_of_the_fit_are_inside():
    darkest, brightest = lux_range()
    assert altitude_deg_for(darkest) == pytest.approx(-18, abs=1e-9)
    assert altitude_deg_for(brightest) == pytest.approx(90, abs=1e-9)
    assert illuminance_lx(-18.0) == darkest and illuminance_lx(90.0) == brightest


@pytest.mark.parametrize("wrong", [0.0, -5.0, 1e-5, 2e5, np.inf, -np.inf])
def test_impossible_lux_is_refused_with_the_value(wrong):
    with pytest.raises(InputError) as refusal:
        altitude_deg_for([20.0, wrong])
    assert refusal.value.value == wrong and "lux from 0.000645" in refusal.value.rule


@pytest.mark.parametrize("wrong", [-18.01, 90.01, np.inf])
def test_altitude_outside_the_fit_is_refused_with_the_value(wrong):
    with pytest.raises(InputError) as refusal:
        illuminance_lx([wrong, 0.0])
    assert refusal.value.value == wrong and "-18 to 90" in refusal.value.rule


def test_named_twilights():
    assert TWILIGHT == {"sunset": pytest.approx(-0.8333, abs=5e-5), "civil": -6, "nautical": -12,
                        "astronomical": -18}
