"""What a list looks like as data, also where it cannot be read: the roles that read_sites takes, candidates, and how it is written."""

import numpy as np
import pytest
import shapely
from pyproj import Transformer

from geozone.jobs.examples import examples_folder
from geozone.places.look import look_at
from geozone.places.sites import SiteReading, read_sites
from geozone.places.whereabouts import place_named

DEMO, TOWN = examples_folder() / "border" / "sites.csv", examples_folder() / "town" / "sites.xlsx"


def roles(seen):
    return {one.role: one.name for one in seen.columns if one.role}


def test_a_list_that_can_be_read_is_as_read_sites_says():
    seen, read = look_at(DEMO, SiteReading(site_id="cabinet")), read_sites(DEMO, SiteReading(site_id="cabinet"))
    assert seen.error is None and seen.sites.rejects.equals(read.rejects) and seen.notes == read.notes
    assert (seen.encoding, seen.separator, seen.decimal, seen.heading_row, seen.rows) == ("utf-8", ",", ".", 1, 629)
    assert roles(seen)["site_id"] == "cabinet" and [one.name for one in seen.columns if one.stated] == ["cabinet"]
    assert {one.name for one in seen.columns if "site_id" in one.candidate_for} == {"site_id", "cabinet"}
    assert next(one for one in seen.columns if one.name == "lat").values == ("-34.05290", "-34.05224", "-34.05177")


def test_rows_to_mend_hold_their_own_cells_and_the_reason():
    seen = look_at(DEMO)
    mend = seen.to_mend.set_index("row")
    assert len(mend) == 9 and mend.loc[43, "lat"] == "140.12336" and "exchanged" in mend.loc[43, "reason"]
    assert list(mend.columns[:3]) == ["reason", "site_id", "name"] and mend.loc[531, "site_id"] == "STO-002"


def test_a_workbook_and_a_list_of_another_land(tmp_path):
    seen = look_at(TOWN)
    assert seen.error is None and seen.encoding is None and seen.heading_row == 1 and roles(seen)["load_w"] == "Load (W)"
    path = tmp_path / "liste.csv"
    path.write_bytes("Liste der Masten\n\nNr;Straße;Breite;Länge\n1;Gasse;51,5;13,5\n2;Größe;51,6;13,6\n".encode("cp1252"))
    seen = look_at(path)
    assert (seen.encoding, seen.separator, seen.decimal, seen.heading_row) == ("cp1252", ";", ",", 3) and len(seen.sites.sites) == 2


def test_two_columns_that_fit_are_shown_with_the_question(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("id,lat,latitude,lon,longitude\na,51.1,40.2,13.1,3.1\nb,51.2,40.3,13.2,3.3\nc,51.3,40.4,13.3,3.4\n")
    seen = look_at(path, SiteReading(name="id"))
    assert {one.name for one in seen.columns if "lat" in one.candidate_for} == {"lat", "latitude"} and all(one.values for one in seen.columns)
    stated = look_at(path, SiteReading(lat="latitude", lon="longitude"))
    assert stated.error is None and roles(stated)["lat"] == "latitude"


@pytest.mark.parametrize("content, says", [("street,town\nMain,X\n", "no positions"), ("lat,lon\n", "no rows"), ("\x00\x01\x02", "not a text")])
def test_what_cannot_be_read_raises_nothing(tmp_path, content, says):
    path = tmp_path / "a.csv"
    path.write_text(content)
    seen = look_at(path)
    assert says in str(seen.error) and seen.sites is None
    assert look_at(tmp_path / "none.csv").error.what == "there is no such file"


def test_a_column_that_is_not_there_is_an_error_beside_the_columns():
    seen = look_at(DEMO, SiteReading(lat="breite", lon="lon"))
    assert seen.error.key == ("columns", "lat") and len(seen.columns) == 15


def test_coordinate_systems_are_those_that_put_the_sites_there(tmp_path):
    """Eastings of MGA zone 54: with outlines or a place named, the true one is among few, and twins on another datum are one entry."""
    lon, lat = np.array([139.5, 140.1, 140.8]), np.array([-35.2, -34.6, -36.0])
    x, y = Transformer.from_crs(4326, 7854, always_xy=True).transform(lon, lat)
    path = tmp_path / "a.csv"
    path.write_text("id,easting,northing\n" + "".join(f"{i},{a:.1f},{b:.1f}\n" for i, (a, b) in enumerate(zip(x, y))))
    seen = look_at(path)
    assert seen.needs_system and not seen.systems and seen.error is not None
    for more in ({"outlines": np.array([shapely.box(139, -36.5, 141.5, -34)])}, *({"near": place_named(text)} for text in ("-35, 140", "Broken Hill", "australia"))):
        seen = look_at(path, **more)
        right = [one for one in seen.systems if abs(one.lat_deg + 35.2) < 0.003 and abs(one.lon_deg - 139.5) < 0.003]
        assert len(right) == 1 and len(seen.systems) <= 12, seen.systems
        apart = [abs(a.lat_deg - b.lat_deg) + abs(a.lon_deg - b.lon_deg) for a in seen.systems for b in seen.systems if a is not b]
        assert min(apart, default=1.0) > 0.002  # 300 m
        taken = look_at(path, SiteReading(crs=f"EPSG:{right[0].code}"), more.get("outlines"))
        assert taken.error is None and taken.sites.sites["lat_deg"].to_numpy() == pytest.approx(lat, abs=0.003)
