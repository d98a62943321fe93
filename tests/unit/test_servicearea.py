"""Outlines, setting and sites that belong together, and those that do not."""

import re

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geozone.errors import InputError
from geozone.places.servicearea import backdrop_notes, check_setting_place, counted_areas, distance_km

WEST, EAST, FAR = shapely.box(141, -36, 142, -35), shapely.box(142, -36, 143, -35), shapely.box(10, 50, 11, 51)


def at(*positions):
    lat, lon = np.array(positions, float).T
    return gpd.GeoDataFrame({"site_id": [f"S{i}" for i in range(len(lat))], "lat_deg": lat, "lon_deg": lon},
                            geometry=gpd.points_from_xy(lon, lat), crs=4326)


def outlines(**shapes):
    return gpd.GeoDataFrame({"area": list(shapes)}, geometry=list(shapes.values()), crs=4326)


def counted(sites, areas, without_sites=False):
    found, notes = counted_areas(sites, areas, without_sites=without_sites, file="areas.geojson")
    return found["area"].tolist(), " ".join(notes)


INSIDE, OUTSIDE = at((-35.5, 141.5)), at((-35.5, 140.9))


def test_outlines_without_sites_do_not_count_and_are_counted():
    assert counted(INSIDE, outlines(west=WEST, east=EAST)) == (["west"], "areas.geojson: 1 outline without sites is left out of the "
                                                               "service area (east); areas_without_sites = true in [job] counts all")
    assert "2 outlines without sites are left out" in counted(INSIDE, outlines(east=EAST, west=WEST, far=FAR))[1]
    assert counted(INSIDE, outlines(west=WEST, east=EAST), True) == (["west", "east"], "")
    assert counted(at((-35.5, 141.5), (-35.5, 142.5)), outlines(west=WEST, east=EAST)) == (["west", "east"], "")


def test_an_outline_counts_though_another_that_overlaps_it_comes_first():
    assert counted(INSIDE, outlines(all=shapely.union(WEST, EAST), west=WEST))[0] == ["all", "west"]


def test_sites_partly_outside_are_no_reason_to_stop():
    assert counted(at((-35.5, 141.5), (-20, 120)), outlines(west=WEST))[0] == ["west"]


def test_outlines_that_hold_no_site_stop_the_run():
    with pytest.raises(InputError, match="no site lies in any of the outlines") as stopped:
        counted(OUTSIDE, outlines(west=WEST))
    assert "1 site, the nearest 9 km" in str(stopped.value) and "areas_without_sites = true" in str(stopped.value)
    assert counted(OUTSIDE, outlines(west=WEST), True)[0] == ["west"]


@pytest.mark.parametrize("without_sites", [False, True])
def test_outlines_of_another_continent_stop_the_run_whatever_the_job_says(without_sites):
    with pytest.raises(InputError, match="take that line out") as stopped:
        counted(INSIDE, outlines(far=FAR), without_sites)
    # Law of cosines on the sphere from 51 N 11 E to 35.5 S 141.5 E; the ellipsoid differs by up to 0.5 %.
    here, there, apart = np.radians(51), np.radians(-35.5), np.radians(130.5)
    cosine = np.sin(here) * np.sin(there) + np.cos(here) * np.cos(there) * np.cos(apart)
    said = float(re.search(r"the nearest ([\d,]+) km", str(stopped.value))[1].replace(",", ""))
    assert said == pytest.approx(np.degrees(np.arccos(cosine)) * 111.195, rel=0.006)
    assert "areas_without_sites = true" not in str(stopped.value)


def test_exchanged_outlines_are_recognised():
    with pytest.raises(InputError, match="look exchanged"):
        counted(at((50.5, 10.5)), outlines(turned=shapely.box(50, 10, 51, 11)))


def test_a_setting_far_from_every_site_stops_the_run():
    sites = at((50.5, 10.5), (51, 10))
    with pytest.raises(InputError, match="far from every site") as stopped:
        check_setting_place(sites, -34.6, 144.0, "job.toml")
    assert "the nearest site, S1 at 51, 10" in str(stopped.value) or "the nearest site, S0" in str(stopped.value)
    # One degree of latitude is 111 km: 8 degrees are 890 km, 10 are 1,110.
    assert "891 km from the nearest" in check_setting_place(sites, 42.5, 10.5, "job.toml")[0].replace("889", "891").replace("890", "891")
    with pytest.raises(InputError):
        check_setting_place(sites, 40.5, 10.5, "job.toml")
    assert check_setting_place(sites, 50, 9, "job.toml") == ()
    # Across the antimeridian the near way counts.
    assert check_setting_place(at((-17, 179.9)), -17, -179.9, "job.toml") == ()


def test_a_backdrop_that_shows_nothing_is_said():
    line = gpd.GeoDataFrame(geometry=[shapely.LineString([(10, 50), (11, 51)])], crs=4326)
    assert "does not show" in backdrop_notes(INSIDE, line, "roads.gpkg")[0]
    assert backdrop_notes(INSIDE, gpd.GeoDataFrame(geometry=[EAST], crs=4326), "roads.gpkg") == ()


def test_distance():
    assert distance_km(INSIDE, outlines(west=WEST).geometry) == 0
    # 1.5 degrees of longitude at 35.5 S: 1.5 x 111.2 x cos 35.5 = 136 km.
    assert distance_km(at((-35.5, 139.5)), outlines(west=WEST).geometry) == pytest.approx(136, abs=3)
