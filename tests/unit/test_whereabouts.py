"""Where sites lie, in words. Distances from memory of the maps, good to the figures that are asked."""

import numpy as np
import pandas as pd
import pytest

from geozone.places.whereabouts import whereabouts


def where(*places):
    lat, lon, zone = zip(*places)
    return whereabouts(pd.DataFrame({"lat_deg": lat, "lon_deg": lon, "legal_zone_there": zone}))


def test_country_town_middle_and_extent():
    found = where((52.0, 10.0, "Europe/Berlin"), (52.4, 11.0, "Europe/Berlin"))
    assert found.countries == ("Germany",) and found.town == "Berlin" and found.town_direction == "west"
    # One degree of longitude at 52.2 N: 111.2 x cos 52.2 = 68 km; 0.4 degrees of latitude: 44 km.
    assert found.west_east_km == pytest.approx(68.2, abs=0.4) and found.north_south_km == pytest.approx(44.5, abs=0.2)
    assert found.text.startswith("Germany: middle 52.2° N, 10.5° E, ") and "68 km west to east, 44 km north to south" in found.text
    # Berlin by zone.tab is 52.5 N 13.3667 E: 2.87 degrees x 68 km and 33 km south.
    assert found.town_km == pytest.approx(np.hypot(2.867 * 68.0, 33.4), abs=3)


def test_several_countries_most_sites_first():
    found = where((49.0, 8.0, "Europe/Paris"), (49.1, 8.3, "Europe/Berlin"), (49.2, 8.4, "Europe/Berlin"))
    assert found.countries == ("Germany", "France") and found.text.startswith("Germany, France: middle")
    many = where(*[(45 + i, 5, zone) for i, zone in enumerate(["Europe/Paris", "Europe/Berlin", "Europe/Vienna", "Europe/Zurich",
                                                               "Europe/Rome"])])
    assert "and 2 more countries" in many.text


def test_one_site_and_sites_at_one_place():
    assert where((-34.92, 138.58, "Australia/Adelaide")).text.startswith("Australia: 34.9° S, 138.6° E, ")
    assert "all at one place" in where(*[(51.5, -0.1, "Europe/London")] * 3).text


def test_the_null_island_of_a_wrong_coordinate_system_is_seen():
    found = where((0.001, 0.002, "Etc/GMT"), (0.002, 0.004, "Etc/GMT"))
    assert found.text.startswith("open sea: middle 0.0° N, 0.0° E")


def test_across_the_antimeridian():
    found = where((-17, 179.5, "Pacific/Fiji"), (-17, -179.5, "Pacific/Fiji"))
    assert abs(found.lon_deg) == 180 and found.west_east_km == pytest.approx(106.3, abs=0.5) and found.countries == ("Fiji",)
