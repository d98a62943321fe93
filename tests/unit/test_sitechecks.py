import numpy as np

from geozone.places.sitechecks import position_faults


def reasons(lat, lon):
    return list(position_faults(np.array(lat, float), np.array(lon, float))[0])


def test_edges_of_the_globe_are_places():
    assert reasons([90, -90, 0, 10], [0, 180, 180, -180]) == [""] * 4
    assert all(reasons([90.1, 10, np.inf], [0, 180.1, 0]))


def test_nan_is_not_judged_here():
    assert reasons([np.nan, 0], [0, np.nan]) == ["", ""]


def test_a_list_across_the_antimeridian_is_one_place():
    lat, lon = [-17, -17.1, -17.2, -16.9, -17, -17], [179.9, -179.9, 179.8, -179.8, 179.95, -179.95]
    reason, slip = position_faults(np.array(lat), np.array(lon))
    assert not any(reason) and not slip.any()


def test_few_sites_say_nothing_of_a_stranger():
    assert reasons([45, 45.1, 11], [11, 11.1, 45]) == ["", "", ""]
