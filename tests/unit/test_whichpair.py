"""Advice on coordinate reference systems is followed to the letter, and must lead to the right place.

Places and their grid references are computed with pyproj, the general library.
"""

import re
import tomllib

import numpy as np
import pyproj
import pytest
import shapely

from geozone.errors import InputError
from geozone.places.sites import SiteReading, read_sites

SPREAD = np.linspace(0, 0.2, 12)
CHICAGO = 41.70 + SPREAD, -87.80 + SPREAD[::-1]
MURRAY = -35.2 + SPREAD / 2, 141.0 + SPREAD[::-1] / 2
OUTLINE = np.array([shapely.box(-88.1, 41.5, -87.4, 42.1)])


def grid(code, place=CHICAGO):
    x, y = pyproj.Transformer.from_crs(4326, code, always_xy=True).transform(place[1], place[0])
    return np.round(x, 3), np.round(y, 3)


def listed(tmp_path, **columns):
    names = list(columns)
    rows = [",".join(["id", *names])] + [",".join([f"S{i}", *(repr(float(columns[n][i])) for n in names)]) for i in range(12)]
    path = tmp_path / "sites.csv"
    path.write_text("\n".join(rows) + "\n")
    return path


def refused(path, outlines=None, **stated):
    with pytest.raises(InputError) as raised:
        read_sites(path, SiteReading(**stated), outlines)
    assert raised.value.where and raised.value.value and raised.value.rule and raised.value.next_step
    return raised.value


def follow(path, error, place=CHICAGO, stated=None, outlines=None):
    """Do what each alternative of a message says; every one must put each site at its true place."""
    done = 0
    for advice in re.split(r", or (?=\[)", error.next_step):
        found = dict(re.findall(r'(lat|lon|crs) = "([^"]+)"', advice))
        if not found:
            continue
        reading = (stated or {}) | found
        if "without [job] crs" in advice or "leave [job] crs out" in advice:
            reading.pop("crs", None)
        got = read_sites(path, SiteReading(**reading), outlines)
        np.testing.assert_allclose(got.sites.lat_deg, place[0], atol=3e-5)
        np.testing.assert_allclose(got.sites.lon_deg, place[1], atol=3e-5)
        assert got.read == len(got.sites) == 12
        done += 1
    return done


@pytest.mark.parametrize("crs", [None, "EPSG:2239"])
@pytest.mark.parametrize("outlines", [None, OUTLINE])
def test_two_projected_pairs_are_named_and_each_advice_is_right(tmp_path, crs, outlines):
    path = listed(tmp_path, **dict(zip(("X", "Y", "Easting", "Northing"), [*grid(3857), *grid(3435)])))
    error = refused(path, outlines, crs=crs)
    assert 'two pairs of columns may hold the position: "Y", "X" and "Northing", "Easting"' in error.what
    assert follow(path, error, outlines=outlines) == 2


def test_two_pairs_of_which_neither_is_of_the_whole_world(tmp_path):
    path = listed(tmp_path, **dict(zip(("utm_e", "utm_n", "Easting", "Northing"), [*grid(32616), *grid(3435)])))
    error = refused(path, OUTLINE)
    assert follow(path, error, outlines=OUTLINE) == 2, str(error)


def test_two_pairs_that_nothing_can_tell_apart_get_no_advice(tmp_path):
    path = listed(tmp_path, X=SPREAD * 1e3 + 4e8, Y=SPREAD * 1e3 + 5e8, Easting=SPREAD + 7e8, Northing=SPREAD + 9e8)
    error = refused(path)
    assert "EPSG:3" not in str(error) and "nothing in the list or the job tells" in error.rule


@pytest.mark.parametrize("stated", [{}, {"crs": "EPSG:2239"}, {"crs": "EPSG:4326"}])
def test_a_wrong_system_is_found_out_by_each_witness(tmp_path, stated):
    easting, northing = grid(3435)
    chosen = {"lat": "Northing", "lon": "Easting"} | stated
    for more, outlines in (({}, OUTLINE), ({"Latitude": CHICAGO[0], "Longitude": CHICAGO[1]}, None),
                           (dict(zip(("X", "Y"), grid(3857))), None)):
        path = listed(tmp_path, Easting=easting, Northing=northing, **more)
        error = refused(path, outlines, **chosen)
        assert follow(path, error, stated=chosen, outlines=outlines) == 1, str(error)


def test_exchanged_headings_of_a_grid(tmp_path):
    easting, northing = grid(3435)
    path = listed(tmp_path, Northing=easting, Easting=northing)
    error = refused(path, OUTLINE)
    assert "exchanged" in error.rule and follow(path, error, outlines=OUTLINE) == 1


def test_without_a_witness_no_system_is_advised(tmp_path):
    path = listed(tmp_path, **dict(zip(("Easting", "Northing"), grid(3435))))
    error = refused(path)
    assert "none of them tested" in error.rule and not re.search(r"EPSG:\d", error.next_step)
    assert "outlines as [job] areas" in error.next_step  # and that advice holds:
    assert follow(path, refused(path, OUTLINE), outlines=OUTLINE) == 1


def test_outlines_of_a_whole_continent_do_not_tell_zones_apart(tmp_path):
    path = listed(tmp_path, **dict(zip(("Easting", "Northing"), grid(7854, MURRAY))))
    error = refused(path, np.array([shapely.box(113, -44, 154, -10)]))
    assert "in different places" in error.rule and not re.search(r"EPSG:\d", error.next_step)
    small = np.array([shapely.box(140.5, -35.5, 141.5, -34.8)])
    assert follow(path, refused(path, small), MURRAY, outlines=small) == 1


def test_degrees_that_lost_their_decimal_point(tmp_path):
    path = listed(tmp_path, lat=np.round(MURRAY[0] * 1e6), lon=np.round(MURRAY[1] * 1e6))
    error = refused(path, np.array([shapely.box(140.5, -35.5, 141.5, -34.8)]))
    assert "lost their decimal point: -35.2, 141.1" in error.rule and "EPSG" not in error.next_step
    path.write_text("id;lat;lon\na;51.533.310;9.933.312\nb;51.540.122;9.940.200\n")  # a spreadsheet groups them too
    assert "51.53331, 9.933312" in refused(path, np.array([shapely.box(9, 51, 10, 52)])).rule
    assert "lost their decimal point" in refused(path).rule  # with nothing to test against it is a possibility only
    path.write_text("id;lat;lon\na;51.533310;9.933312\nb;51.540122;9.940200\n")  # as it says
    assert read_sites(path).sites.lat_deg.tolist() == [51.53331, 51.540122]


def test_degrees_beside_a_grid(tmp_path):
    easting, northing = grid(3435)
    path = listed(tmp_path, Easting=easting, Northing=northing, Latitude=CHICAGO[0], Longitude=CHICAGO[1])
    assert read_sites(path).sites.lat_deg[0] == CHICAGO[0][0]
    with pytest.raises(InputError, match="are degrees, but") as raised:
        read_sites(path, SiteReading(crs="EPSG:3435"))
    # both ways of the advice: the degrees without a system, the grid with it
    for reading in (SiteReading(), SiteReading(lat="Northing", lon="Easting", crs="EPSG:3435")):
        np.testing.assert_allclose(read_sites(path, reading).sites.lon_deg, CHICAGO[1], atol=3e-5)
    assert "leave [job] crs out" in raised.value.next_step and '[columns] lat = "Northing"' in raised.value.next_step


def test_two_pairs_of_degrees(tmp_path):
    near = listed(tmp_path, lat=CHICAGO[0], lon=CHICAGO[1], latitude=CHICAGO[0] + 1e-4, longitude=CHICAGO[1])
    assert any("name the same places within" in n for n in read_sites(near).notes)
    far = listed(tmp_path, lat=CHICAGO[0] + 3, lon=CHICAGO[1], latitude=CHICAGO[0], longitude=CHICAGO[1])
    error = refused(far, OUTLINE)
    assert follow(far, error, outlines=OUTLINE) == 1 and 'lat = "latitude"' in error.next_step


def test_the_settings_of_the_advice_are_lines_of_a_job_file(tmp_path):
    path = listed(tmp_path, **dict(zip(("X", "Y", "Easting", "Northing"), [*grid(3857), *grid(3435)])))
    said = [tomllib.loads(text) for text in re.findall(r'(?:lat|lon|crs) = "[^"]+"', refused(path).next_step)]
    assert {"lat", "lon", "crs"} == {name for line in said for name in line}
