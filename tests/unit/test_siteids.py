import pytest

from geozone.errors import InputError
from geozone.places.sites import SiteReading, read_sites


def listed(tmp_path, text, **reading):
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    return read_sites(tmp_path / "a.csv", SiteReading(**reading))


def test_a_legal_zone_column_with_odd_cells_is_used_and_the_odd_are_rejected(tmp_path):
    got = listed(tmp_path, "id,lat,lon,legal_zone\na,-35,141,Australia/Adelaide\nb,-35,141.1,ACST +9:30\n")
    assert got.sites.legal_zone_given.tolist() == ["Australia/Adelaide"]
    assert got.rejects["row"].tolist() == [3] and got.rejects["value"].tolist() == ["ACST +9:30"]
    got = listed(tmp_path, "id,lat,lon,legal_zone\na,-35,141,\nb,-35,141.1,Adelaide\n")
    assert "did you mean Australia/Adelaide" in got.rejects["reason"][0] and len(got.sites) == 1
    with pytest.raises(InputError, match="none of the 2 rows can be used"):
        listed(tmp_path, "id,lat,lon,legal_zone\na,-35,141,9.5\nb,-35,141.1,9.5\n")


@pytest.mark.parametrize("heading", ["Time zone", "tz", "Zeitzone", "часовой пояс", "タイムゾーン", "strefa czasowa"])
def test_another_heading_is_used_where_one_cell_bears_it_out_and_said_where_none_does(tmp_path, heading):
    got = listed(tmp_path, f"id,lat,lon,{heading}\na,-35,141,Australia/Adelaide\nb,-35,141.1,x\nc,-35,141.2,y\nd,-35,141.3,z\n")
    assert got.sites.site_id.tolist() == ["a"] and got.rejects["row"].tolist() == [3, 4, 5]
    got = listed(tmp_path, f"id,lat,lon,{heading}\na,-35,141,UTC+9:30\nb,-35,141.1,UTC+10\n")
    said = [n for n in got.notes if "is not used" in n]
    assert len(got.sites) == 2 and heading in said[0] and '"UTC+9:30"' in said[0] and "from the map" in said[0]
    # following the note: the column is used, its cells are rejected
    with pytest.raises(InputError, match="none of the 2 rows"):
        listed(tmp_path, f"id,lat,lon,{heading}\na,-35,141,UTC+9:30\nb,-35,141.1,UTC+10\n", legal_zone=heading)


def test_a_column_of_latitude_or_load_with_many_odd_cells_is_used(tmp_path):
    got = listed(tmp_path, "id,lat,lon,load_w\na,-35,141,66\nb,unknown,141,n/a\nc,?,141.2,n/a\nd,-35.2,141,n/a\n")
    assert got.sites.site_id.tolist() == ["a", "d"] and got.sites.load_w[0] == 66 and got.rejects["row"].tolist() == [3, 4]
    got = listed(tmp_path, "id,lat,lon,Leistung\na,-35,141,hoch\nb,-35,141.1,mittel\n")
    assert any('column "Leistung" is not used' in n and "loads are left open" in n for n in got.notes)


def test_columns_that_could_be_ids_are_offered(tmp_path):
    text = "Kennz.,Pfosten,Art,Hoehe,lat,lon\n" + "".join(f"K{i},P{i % 39},LED,{i}.5,-35.{i},141.{i}\n" for i in range(10, 50))
    got = listed(tmp_path, text)
    note = next(n for n in got.notes if "no column of ids" in n)
    assert '"Kennz."' in note and '"Pfosten" (1 of 40 blank or repeated)' in note and '[columns] site_id = "Kennz."' in note
    assert '"Art"' not in note and '"Hoehe"' not in note and '"lat"' not in note
    got = listed(tmp_path, text, site_id="Kennz.")  # as it says
    assert got.sites.site_id.tolist()[:2] == ["K10", "K11"] and got.read == 40
    assert "tell the rows apart" not in "".join(listed(tmp_path, "lat,lon\n-35,141\n-35.1,141\n").notes)


def test_zones_under_an_unusual_heading(tmp_path):
    rows = "a,-35,141,Australia/Adelaide\nb,-35,141.1,MEZ\nc,-35,141.2,Australia/Sydney\n"
    got = listed(tmp_path, f"id,lat,lon,Zone\n{rows}")
    assert got.sites.legal_zone_given.tolist() == ["Australia/Adelaide", "Australia/Sydney"] and len(got.rejects) == 1
    got = listed(tmp_path, f"id,lat,lon,Bemerkung\n{rows}")
    assert any('column "Bemerkung" is not used: it holds names of legal zones' in n for n in got.notes) and len(got.sites) == 3
    got = listed(tmp_path, f"id,lat,lon,Bemerkung\n{rows}", legal_zone="Bemerkung")  # as it says
    assert len(got.sites) == 2
    got = listed(tmp_path, "id,lat,lon,Zone\na,-35,141,West\nb,-35,141.1,Ost\n")  # a district's
    assert not any("not used" in n for n in got.notes)
