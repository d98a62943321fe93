"""Angles in the scripts of other countries, and the short way of reading the usual writing against the long one."""

import random

import pandas as pd
import pytest
import shapely

from geozone.places import angles
from geozone.places.angles import parse_angle, parse_pair
from geozone.places.coordinates import from_columns, from_text
from geozone.places.numerals import as_numbers, find_decimal, narrow


def series(name, *values):
    return pd.Series(values, dtype="str", name=name)


@pytest.mark.parametrize("written, value", [
    ("３５．５", 35.5), ("３５度３０分０秒", 35.5), ("35度30分", 35.5), ("北緯35度30分", 35.5), ("北纬35度30分0秒", 35.5),
                                            ("東経139度30分", 139.5),
    ("西经70度30分", -70.5), ("남위 35도 30분", -35.5), ("동경 127도 30분 0초", 127.5), ("55°30' с.ш.", 55.5), ("37°30' в. д.", 37.5),
    ("33°30' ю.ш.", -33.5), ("３５°３０′００″Ｎ", 35.5), ("٣٥٫٥", 35.5)])
def test_digits_signs_and_words_of_other_scripts(written, value):
    assert parse_angle(written)[0] == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("written", ["北緯35度30分0秒 東経139度30分0秒", "北緯35度30分東経139度30分", "35°30'N139°30'E", "N35°30'E139°30'",
                                     "３５．５，１３９．５", "３５．５、１３９．５", "35.5，139.5"])
def test_pairs_in_one_text(written):
    assert parse_pair(written)[:2] == pytest.approx((35.5, 139.5), abs=1e-9)
    read = from_text(series("位置", written, "35.25, 139.25"), "位置")
    assert read.north.tolist() == [35.5, 35.25] and read.east.tolist() == [139.5, 139.25] and not any(read.reason)


def test_columns_and_numbers_in_full_width():
    read = from_columns(series("緯度", "３５．５", "35度30分"), series("経度", "１３９．５", "139度30分"))
    assert read.north.tolist() == [35.5, 35.5] and read.east.tolist() == [139.5, 139.5]
    assert as_numbers(series("w", "６６", "１，２３４．５")).tolist() == [66, 1234.5]
    assert find_decimal([series("x", "３５，５")]) == "," and narrow("Ａ－１") == "A-1"


def test_the_short_way_reads_as_the_long_way(monkeypatch):
    chance, written = random.Random(7), []
    for _ in range(3000):
        letter = chance.choice(["", "N", "S", "E", "W"])
        written.append("".join([chance.choice([letter, ""]), chance.choice(["", " ", "-", "+"]), str(chance.randint(0, 200)), "°",
                                chance.choice(["", " "]), str(chance.randint(0, 70)), chance.choice("'′"),
                                f"{chance.uniform(0, 65):.{chance.randint(0, 3)}f}".replace(".", chance.choice(".,")),
                                chance.choice(['"', "″", "''"]), chance.choice(["", " "]), chance.choice([letter, ""])]))

    def answers():
        found = []
        for text in written:
            for axis in (None, "lat", "lon"):
                try:
                    value, named = parse_angle(text, axis)
                    found.append((text, round(value, 9), named))
                except ValueError as why:
                    found.append((text, str(why)))
        return found

    short = answers()
    monkeypatch.setattr(angles, "_of_usual", lambda match, axis: None)
    assert short == answers() and sum(len(line) == 3 for line in short) > 1000


POINT = shapely.Point(141.0, -35.0)


@pytest.mark.parametrize("written, crs", [
    (shapely.to_wkb(POINT, hex=True), None), (shapely.to_wkb(shapely.set_srid(POINT, 4326), hex=True, include_srid=True), "EPSG:4326"),
    (shapely.to_wkb(shapely.set_srid(POINT, 4283), hex=True, include_srid=True).lower(), "EPSG:4283"),
    (shapely.to_wkb(shapely.Point(141, -35, 7), hex=True, byte_order=0), None),
    ("SRID=4283;POINT(141 -35)", "EPSG:4283"), ('{"type": "Point", "coordinates": [141.0, -35.0]}', None)])
def test_geometries_as_text(written, crs):
    read = from_text(series("geom", written, "", "0101000020E6"))
    assert (read.east[0], read.north[0], read.crs) == (141, -35, crs)
    assert list(read.reason) == ["", "no position", "not a geometry that can be read"]
