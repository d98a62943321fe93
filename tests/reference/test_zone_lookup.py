"""The zone of a position against published airport zones, a second look-up, and known hard places.

Offsets are compared, never names. Sources beside each check. Both look-ups descend from one set of
outlines (from memory), so tzfpy checks the look-up and not the law; airport zones are published
independently of it.
"""

import airportsdata
import geopandas
import numpy as np
import pytest
import tzfpy

from geozone.numbers.clock import offset_min_at, offsets, valid_zone
from geozone.places.legalzones import add_legal_time, zone_names, zone_number_at

YEAR = 2026
# 15 January and 15 July, noon UTC.
DATES_MIN = [(14 * 1440) + 720, (195 * 1440) + 720]


def same_offsets(a, b):
    return (offset_min_at(offsets(a, YEAR), DATES_MIN) == offset_min_at(offsets(b, YEAR), DATES_MIN)).all()


@pytest.fixture(scope="module")
def airports():
    rows = list(airportsdata.load("ICAO").values())
    lat, lon = (np.array([row[key] for row in rows]) for key in ("lat", "lon"))
    number = zone_number_at(lat, lon)
    assert (number >= 0).all()
    return lat, lon, [row["tz"] for row in rows], zone_names()[number]


def test_published_zones_of_airports(airports):
    """airportsdata (PyPI, MIT): 28,298 airports with published zones.

    99.07 % have the same offsets in January and July (measured with airportsdata 20260905 and
    boundaries 2026c). Most others are old lists (Santarem, Coyhaique), Urumqi, or wrong positions.
    """
    _, _, published, found = airports
    assert len(found) > 25_000 and all(valid_zone(zone) for zone in published)
    agree = np.mean([same_offsets(a, b) for a, b in zip(published, found)])
    assert agree >= 0.99


def test_second_look_up_at_airports(airports):
    """tzfpy (PyPI, MIT, simplified outlines): the zone, or one of the zones where claims overlap."""
    lat, lon, _, found = airports
    agree = np.mean([any(same_offsets(other, zone) for other in tzfpy.get_tzs(x, y))
                     for y, x, zone in zip(lat, lon, found)])
    assert agree >= 0.999


# Hard places: islands of law, towns a river apart. [S] = seen in the tz database 2026c and its comments or on the
# places' own pages, as gathered in the project's references; coordinates from there, or else [M] from memory.
HARD = [
    ("Phoenix", 33.4484, -112.0740, "America/Phoenix"),
    ("Window Rock, Navajo Nation", 35.6806, -109.0526, "America/Denver"),
    ("Second Mesa, Hopi", 35.8078, -110.5046, "America/Phoenix"),
    ("Jeddito, Navajo island in Hopi land", 35.7528, -110.1340, "America/Denver"),
    ("Fort Pierre", 44.3536, -100.3737, "America/Denver"),
    ("Pierre, across the river", 44.3683, -100.3510, "America/Chicago"),
    ("Ontario, Oregon", 44.0266, -116.9629, "America/Boise"),
    ("Burns, Oregon", 43.5863, -119.0541, "America/Los_Angeles"),
    ("Coolangatta", -28.1670, 153.5360, "Australia/Brisbane"),
    ("Tweed Heads", -28.1780, 153.5400, "Australia/Sydney"),
    ("Haparanda [M]", 65.8355, 24.1365, "Europe/Stockholm"),
    ("Tornio [M]", 65.8480, 24.1800, "Europe/Helsinki"),
    ("Narva [M]", 59.3772, 28.1900, "Europe/Tallinn"),
    ("Ivangorod [M]", 59.3750, 28.2230, "Europe/Moscow"),
    ("Broken Hill [M]", -31.9560, 141.4650, "Australia/Broken_Hill"),
    ("Eucla [M]", -31.6770, 128.8890, "Australia/Eucla"),
    ("Kathmandu [M]", 27.7172, 85.3240, "Asia/Kathmandu"),
    ("Waitangi, Chatham [M]", -43.9530, -176.5600, "Pacific/Chatham"),
]


def table(places, **columns):
    lat, lon = [place[1] for place in places], [place[2] for place in places]
    return geopandas.GeoDataFrame({"lat_deg": lat, "lon_deg": lon, **columns},
                                  geometry=geopandas.points_from_xy(lon, lat), crs="EPSG:4326")


def test_hard_places():
    found = add_legal_time(table(HARD), 2027)
    wrong = [(name, zone, ours) for (name, _, _, zone), ours in zip(HARD, found["legal_zone"])
             if offsets(zone, 2027).key != offsets(ours, 2027).key]
    assert wrong == []


@pytest.mark.parametrize("place, offset_min", [("Broken Hill [M]", {570, 630}), ("Eucla [M]", {525}),
                                               ("Kathmandu [M]", {345}), ("Waitangi, Chatham [M]", {765, 825})])
def test_odd_offsets_of_hard_places(place, offset_min):
    """tz database 2026c: +9:30/+10:30, +8:45, +5:45, +12:45/+13:45."""
    row = [hard for hard in HARD if hard[0] == place]
    zone = add_legal_time(table(row), 2027)["legal_zone"].iloc[0]
    assert set(offsets(zone, 2027).offset_min.tolist()) == offset_min


def test_towns_a_river_apart_are_to_be_confirmed():
    found = add_legal_time(table(HARD), 2027).set_index(np.array([place[0] for place in HARD]))
    near = ["Fort Pierre", "Pierre, across the river", "Coolangatta", "Tweed Heads", "Tornio [M]", "Narva [M]",
            "Ivangorod [M]"]
    assert found.loc[near, "confirm_zone"].all()
    assert found.loc["Tweed Heads", "zone_across"] == "Australia/Brisbane"
    assert not found.loc[["Phoenix", "Burns, Oregon", "Kathmandu [M]"], "confirm_zone"].any()


PHENIX_CITY = [("Phenix City, Alabama", 32.4710, -85.0008)]


def test_customary_time_can_be_given():
    """Phenix City: by the outlines Eastern, by law Central (from memory). The site list decides."""
    by_outline = add_legal_time(table(PHENIX_CITY), 2027).iloc[0]
    assert by_outline["legal_zone"] == "America/New_York"
    given = add_legal_time(table(PHENIX_CITY, legal_zone_given=["America/Chicago"]), 2027).iloc[0]
    assert given["legal_zone"] == "America/Chicago"
    assert given["legal_zone_source"] == "site list"
    assert given["legal_zone_there"] == "America/New_York"
    assert given["confirm_zone"]


def test_border_on_a_meridian_by_arithmetic():
    """The border of Western Australia is the meridian 129 E by law (surveyed up to some 100 m off, from memory).

    A degree of longitude on the WGS84 ellipsoid: pi/180 * a cos(lat) / sqrt(1 - e2 sin2(lat)).
    """
    lat, east = np.radians(-27.0), 0.1
    degree_m = np.pi / 180 * 6378137.0 * np.cos(lat) / np.sqrt(1 - 0.00669437999014 * np.sin(lat) ** 2)
    found = add_legal_time(table([("desert", -27.0, 129.0 + east)]), 2027).iloc[0]
    assert found["legal_zone"] == "Australia/Adelaide" and found["zone_across"] == "Australia/Perth"
    assert abs(found["boundary_m"] - east * degree_m) < 250


def test_date_line_by_solar_longitude():
    """Samoa and the Line Islands keep the date of Asia: local mean time runs a day ahead there (tz database)."""
    places = [("Apia", -13.8333, -171.7667), ("Kiritimati", 1.8721, -157.4278), ("Pago Pago", -14.2781, -170.7025),
              ("Waitangi", -43.953, -176.56), ("Suva", -18.1416, 178.4415), ("Adelaide", -34.9285, 138.6007)]
    found = add_legal_time(table(places), 2027)
    wanted = [360 - 171.7667, 360 - 157.4278, -170.7025, 360 - 176.56, 178.4415, 138.6007]
    assert np.allclose(found["solar_lon_deg"], wanted, atol=1e-9)
