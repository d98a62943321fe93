import pandas as pd
import pytest

from geozone.errors import InputError
from geozone.places.columns import find_columns
from geozone.places.headings import plain
from geozone.places.tables import Table

FREE = dict.fromkeys(("lat", "lon", "position", "site_id", "name", "legal_zone", "load_w"))


def table(**columns):
    frame = pd.DataFrame({k: pd.Series(v, dtype="str") for k, v in columns.items()})
    return Table("list.csv", "", frame, pd.RangeIndex(2, len(frame) + 2).to_numpy())


def found(stated=None, **columns):
    return find_columns(table(**columns), FREE | (stated or {}))


@pytest.mark.parametrize("lat, lon", [
    ("lat", "lon"), ("Latitude", "Longitude"), ("LAT (°)", "LONG (°)"), ("lat_deg", "lon_deg"), ("gps_lat", "gps_lng"),
    ("Breite", "Länge"), ("geogr. Breite", "geogr. Länge"), ("Breitengrad", "Längengrad"), ("Latitud", "Longitud"),
    ("latitudine", "longitudine"), ("breedtegraad", "lengtegraad"), ("Latitude [deg]", "Longitude [deg]"),
    ("lat WGS84", "lon WGS84")])
def test_headings_of_degrees(lat, lon):
    columns = found(**{"x": ["7"], lat: ["-35.1"], lon: ["141.1"]})
    assert (columns.lat, columns.lon) == (lat, lon)
    assert f'lat from "{lat}"' in columns.notes[0]


@pytest.mark.parametrize("y, x", [("y", "x"), ("Northing", "Easting"), ("Hochwert", "Rechtswert"), ("Norte", "Este"),
                                  ("Coord_Y", "Coord_X"), ("POINT_Y", "POINT_X"), ("Northing (m)", "Easting (m)"),
                                  ("N", "E")])
def test_headings_of_grids(y, x):
    columns = found(**{x: ["540000"], y: ["6100000"]})
    assert (columns.lat, columns.lon) == (y, x)


@pytest.mark.parametrize("heading", ["position", "Koordinaten", "coordonnées", "coordenadas", "lat/lon", "GPS", "WKT",
                                     "geo_point_2d", "latitude, longitude"])
def test_headings_of_one_column(heading):
    assert found(**{heading: ["-35.1, 141.2"]}).position == heading


def test_the_rest():
    columns = found(**{"Asset ID": ["a", "b"], "Standortname": ["c", "d"], "Time zone": ["Australia/Sydney", ""],
                       "Leistung [W]": ["150", "70"], "lat": ["1", "2"], "lon": ["1", "2"]})
    assert (columns.site_id, columns.name, columns.legal_zone, columns.load_w) == (
        "Asset ID", "Standortname", "Time zone", "Leistung [W]")


def test_nom_is_no_number():
    columns = found(**{"Numéro": ["1", "2"], "Nom": ["a", "b"], "Puissance (W)": ["1", "2"], "lat": ["1", "2"], "lon": ["1", "2"]})
    assert (columns.site_id, columns.name, columns.load_w) == ("Numéro", "Nom", "Puissance (W)")


def test_two_that_fit_are_refused_and_the_option_is_named():
    with pytest.raises(InputError) as raised:
        found(lat=["-35.1"], latitude=["-35.2"], lon=["141"])
    text = str(raised.value)
    assert "'lat' and 'latitude'" in text and '[columns] lat = "lat"' in text
    assert found({"lat": "latitude"}, lat=["-35.1"], latitude=["-35.2"], lon=["141"]).lat == "latitude"
    assert found(lat=["-35.1"], latitude=["-35.1"], lon=["141"]).lat == "lat"  # the same numbers twice decide nothing
    assert found(lat=["-35.1"], latitude=[""], lon=["141"]).lat == "lat"  # a blank column is no candidate


def test_an_id_tells_sites_apart():
    rows = {"lat": ["1", "2", "3", "4"], "lon": ["1", "2", "3", "4"]}
    assert found(cabinet_id=["a", "a", "a", "a"], pole_id=list("abcd"), **rows).site_id == "pole_id"
    with pytest.raises(InputError, match="'cabinet_id' and 'pole_id'"):
        found(cabinet_id=list("abcd"), pole_id=list("efgh"), **rows)
    assert found(id=list("abcd"), OBJECTID=list("1234"), **rows).site_id == "id"


def test_degrees_before_text_before_grid():
    columns = found(x=["540000"], y=["6100000"], lat=["-35.1"], lon=["141.1"], wkt=["POINT(141 -35)"])
    assert (columns.lat, columns.position) == ("lat", None)
    assert found(x=["540000"], y=["6100000"], wkt=["POINT(141 -35)"]).position == "wkt"


def test_by_values():
    columns = found(c1=["141.1234", "141.2345"], c2=["-35.1234", "-35.2345"])
    assert (columns.lat, columns.lon) == ("c2", "c1")
    assert found(where=["-35.1234, 141.1", "-35.2, 141.2"], what=["a", "b"]).position == "where"
    with pytest.raises(InputError, match="nothing says which is which"):
        found(c1=["41.1234", "41.2345"], c2=["-35.1234", "-35.2345"])
    with pytest.raises(InputError, match="no column holds positions"):
        found(a=["x"], b=["y"])


def test_stated_columns_are_checked():
    with pytest.raises(InputError, match="no column of the name stated for lat"):
        found({"lat": "nope"}, lat=["1"], lon=["2"])
    with pytest.raises(InputError, match="both position and lat"):
        found({"lat": "lat", "position": "p"}, lat=["1"], lon=["2"], p=["1,2"])
    with pytest.raises(InputError, match="lon cannot be found"):
        found({"lat": "a"}, a=["1"], b=["2"])
    with pytest.raises(InputError, match="none of longitude"):
        found(lat=["1"], b=["2"])


def test_plain():
    assert plain("Geogr. Länge (°)") == "geogrlange" and plain("Straße") == "strasse"
