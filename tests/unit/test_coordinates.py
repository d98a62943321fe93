import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geozone.places.coordinates import from_columns, from_geometry, from_text, o_letter, parse_angle, parse_pair

# 34 deg 55 min 12 s = 34 + 55/60 + 12/3600 = 34.92; by hand
SOUTH = ["34°55'12\"S", "34° 55′ 12″ S", "34º 55’ 12’’ S", "S 34 55 12", "34 55 12 s", "-34 55 12", "34:55:12 S",
         "34-55-12S", "34d55m12s S", "34d 55m 12s S", "34°55.2'S", "34 55.2 S", "-34.92", "34,92 S", "-34.92°",
         "34.92 south", "34° 55' 12\" Süd", "34° 55' 12,0\" Sud", "34 deg 55 min 12 sec S", "34deg55min12sec S",
         "lat: -34.92", "34° 55' 12\" Sul", "Sur 34.92", "zuid 34.92"]


@pytest.mark.parametrize("written", SOUTH)
def test_every_usual_writing_of_one_latitude(written):
    value, _ = parse_angle(written, "lat")
    assert value == pytest.approx(-34.92, abs=1e-9)


@pytest.mark.parametrize("written, value", [("138°36'E", 138.6), ("138 36 O. ", None), ("W 45° 12'", -45.2),
                                            ("12° 30' Ost", 12.5), ("12,5 ovest", -12.5), ("12.5 Oeste", -12.5),
                                            ("12.5 oost", 12.5), ("12.5 leste", 12.5), ("-0 30 0", -0.5)])
def test_longitudes(written, value):
    if value is None:
        with pytest.raises(ValueError, match="letter O"):
            parse_angle(written, "lon")
    else:
        assert parse_angle(written, "lon")[0] == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("written, why", [
    ("1234567", "not a number"), ("34°75'", "up to 60"), ("34.5 30 S", "last part"), ("-34 N", "contradict"),
    ("N 34 S", "two hemisphere"), ("34 55 12 E", "latitude with"), ("91 S", "outside"), ("95 10 10", "outside"),
    ("34D55M12S", "seconds or south"), ("abc", "not a number"), ("1.2.3", "not a number"), ("345512", "not a number")])
def test_what_is_refused_says_why(written, why):
    with pytest.raises(ValueError, match=why):
        parse_angle(written, "lat")


@pytest.mark.parametrize("written, pair", [
    ("-35.12, 141.3", (-35.12, 141.3)), ("-35,12; 141,3", (-35.12, 141.3)), ("-35,12 141,3", (-35.12, 141.3)),
    ("-35,12, 141,3", (-35.12, 141.3)), ("(-35.12 141.3)", (-35.12, 141.3)), ("35°S 141°E", (-35, 141)),
    ("141°E 35°S", (-35, 141)), ("geo:-35.12,141.3", (-35.12, 141.3)), ("35 12 30 S 141 20 15 E", (-35.2083333333, 141.3375)),
    ("35 12 30 141 20 15", (35.2083333333, 141.3375)), ("lat: -35.12, lon: 141.3", (-35.12, 141.3))])
def test_pairs(written, pair):
    assert parse_pair(written)[:2] == pytest.approx(pair, abs=1e-9)


@pytest.mark.parametrize("written", ["", "x", "35", "1,2,3", "35 S 36 S", "a, b"])
def test_no_pairs(written):
    with pytest.raises(ValueError):
        parse_pair(written)


def series(name, *values):
    return pd.Series(values, dtype="str", name=name)


def test_columns_with_one_bad_cell_keep_the_rest():
    read = from_columns(series("lat", "-35.1", "abc", "", "−35.4", "\u00a0"), series("lon", "141", "141", "", "141.5", "141"))
    assert read.north[[0, 3]].tolist() == [-35.1, -35.4]
    assert list(read.reason) == ["", "lat: not a number or a degree that can be read", "no position", "",
                                 "lat: only hidden characters or a lone sign"]
    assert read.shown(1) == "abc, 141" and "1 position holds a typographic minus" in read.notes[0]


def test_the_letter_o_is_read_by_its_company():
    assert o_letter(["12 O", "13 W"]) == "E" and o_letter(["12 O", "13 E"]) == "W" and o_letter(["12 O"]) is None
    assert o_letter(["12 O"], "Länge") == "E" and o_letter(["12 O"], "longitud") == "W"
    read = from_columns(series("Breite", "47 30 N"), series("Länge", "8 30 O"))
    assert read.east[0] == 8.5 and "east" in read.notes[0]
    assert from_columns(series("lat", "47 30 N"), series("lon", "8 30 O")).reason[0].endswith("write E or W")


def test_order_in_one_column():
    assert from_text(series("p", "-35.1, 41.0")).north[0] == -35.1
    assert from_text(series("p", "41.0, -35.1"), "lon, lat").north[0] == -35.1
    backward = from_text(series("p", "141.0, -35.1", "141.2 -35.2"))
    assert backward.north.tolist() == [-35.1, -35.2] and "read as lon, lat" in backward.notes[0]


def test_wkt_and_its_srid():
    read = from_text(series("wkt", "SRID=4326;POINT(141 -35)", "POLYGON((0 0,2 0,2 2,0 2,0 0))", "", "POINT(a)",
                            "SRID=28354;POINT(1 2)"))
    assert (read.east[0], read.north[0], read.crs) == (141, -35, "EPSG:4326")
    assert 0 < read.east[1] < 2 and "1 feature not of points but of outlines" in read.notes[0]
    assert list(read.reason[2:4]) == ["no position", "not a geometry that can be read"]
    # a list whose rows name different systems cannot be placed as one
    assert "another SRID" in from_text(series("w", "SRID=4326;POINT(1 2)", "SRID=28354;POINT(1 2)")).reason.max()


def test_geometries_of_a_map_file():
    read = from_geometry(gpd.GeoSeries([shapely.Point(1, 2), shapely.MultiPoint([(3, 4)]), None, shapely.Point(),
                                        shapely.MultiPoint([(0, 0), (9, 9)]), shapely.box(0, 0, 1, 1)], crs=4326))
    assert read.east[:2].tolist() == [1, 3] and list(read.reason[2:4]) == ["no position"] * 2
    assert read.east[4] in (0, 9) and 0 < read.east[5] < 1 and np.isnan(read.east[2])
    assert any("1 feature not of points but of multi-points" in n for n in read.notes)
