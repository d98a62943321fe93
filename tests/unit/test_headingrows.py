"""Headings in several rows, under titles, with merged cells and units; the same in text files and in workbooks."""

import pytest
import xlsxwriter

from geozone.errors import InputError
from geozone.places.headingrows import find_headings
from geozone.places.sites import SiteReading, read_sites

# Goettingen, 51.5333 N 9.9333 E
TWO_ROWS = {
    "lone group": [["Nr", "Lage", ""], ["", "Breite", "Länge"], ["1", 51.5333, 9.9333], ["2", 51.54, 9.94]],
    "sparse group": [["Lage", "", ""], ["Breite", "Länge", "Nr"], [51.5333, 9.9333, "1"], [51.54, 9.94, "2"]],
    "only the group": [["Lage", ""], ["Breite", "Länge"], [51.5333, 9.9333], [51.54, 9.94]],
    "blank third": [["Lage", "", ""], ["Breite", "Länge", ""], [51.5333, 9.9333, ""], [51.54, 9.94, ""]],
    "unit row": [["Nr", "Breite", "Länge", "Leistung"], ["", "[°]", "[°]", "[kW]"], ["1", 51.5333, 9.9333, 0.15],
                 ["2", 51.54, 9.94, 0.07]],
    "three rows": [["Nr", "Lage", "", "Leistung"], ["", "Breite", "Länge", ""], ["", "°", "°", "W"], ["1", 51.5333, 9.9333, 150],
                   ["2", 51.54, 9.94, 70]],
    "two groups": [["Nr", "WGS84", "", "WGS84 alt", ""], ["", "Breite", "Länge", "Breite", "Länge"],
                   ["1", 51.5333, 9.9333, 51.5333, 9.9333], ["2", 51.54, 9.94, 51.54, 9.94]],
    "title and group": [["Liste der Schaltstellen 2027", "", "", ""], ["", "", "", ""], ["Nr", "Lage", "", "Straße"],
                        ["", "Breite", "Länge", ""], ["1", 51.5333, 9.9333, "Am Markt"], ["2", 51.54, 9.94, "Am Wall"]],
    "name above a blank": [["Nr", "Lage", "", "", ""], ["", "Breite", "Länge", "Leistung", "Ort"],
                           ["1", 51.5333, 9.9333, 150, "a"], ["2", 51.54, 9.94, 70, "b"]],
    "particulars above": [["Erstellt von", "Bauamt", ""], ["Datum", "Mai", ""], ["Nr", "Breite", "Länge"], ["1", 51.5333, 9.9333],
                          ["2", 51.54, 9.94]],
}


def written(tmp_path, rows, kind):
    if kind == "xlsx":
        with xlsxwriter.Workbook(tmp_path / "a.xlsx") as made:
            sheet = made.add_worksheet()
            for number, cells in enumerate(rows):
                for column, cell in enumerate(cells):
                    if cell != "":
                        sheet.write(number, column, cell)
            for column in range(1, len(rows[0]) - 1):  # the group's cells are merged, as people do
                if isinstance(rows[0][column], str) and rows[0][column] and rows[0][column + 1] == "":
                    sheet.merge_range(0, column, 0, column + 1, rows[0][column])
        return tmp_path / "a.xlsx"
    text = "\r\n".join(";".join(str(c).replace(".", ",") if isinstance(c, float) else str(c) for c in row) for row in rows)
    (tmp_path / "a.csv").write_bytes((text + "\r\n").encode("utf-8"))
    return tmp_path / "a.csv"


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@pytest.mark.parametrize("case", TWO_ROWS)
def test_headings_in_several_rows(tmp_path, case, kind):
    rows = TWO_ROWS[case]
    got = read_sites(written(tmp_path, rows, kind))
    assert got.sites.lat_deg.tolist() == [51.5333, 51.54] and got.sites.lon_deg.tolist() == [9.9333, 9.94]
    assert got.sites["row"].tolist() == [len(rows) - 1, len(rows)] and got.read == 2
    if any("Nr" in row for row in rows):
        assert got.sites.site_id.tolist() == ["1", "2"]
    if any("Leistung" in row for row in rows):
        assert got.sites.load_w.tolist() == [150, 70]


def test_groups_tell_repeated_headings_apart(tmp_path):
    rows = [["Nr", "Neu", "", "Alt", ""], ["", "Breite", "Länge", "Breite", "Länge"], ["1", 51.5333, 9.9333, 41.5, 2.0]]
    path = written(tmp_path, rows, "csv")
    with pytest.raises(InputError, match='"Breite \\(Neu\\)", "Länge \\(Neu\\)" and "Breite \\(Alt\\)"') as raised:
        read_sites(path)
    assert "ask whoever made the list" in raised.value.next_step
    got = read_sites(path, SiteReading(lat="Breite (Neu)", lon="Länge (Neu)"))
    assert got.sites.lat_deg[0] == 51.5333


@pytest.mark.parametrize("row", ["x;unknown;unknown", "x;;", "Nr;abc;", "x;°;south", "7;Lage;y", "y;Breite;51,5",
                                 "W;;", "x;y;", "lat;;"])
def test_a_first_row_of_bad_values_is_rejected_not_lost(tmp_path, row):
    (tmp_path / "a.csv").write_text(f"Nr;Breite;Länge\n{row}\n1;51,5333;9,9333\n2;51,54;9,94\n", encoding="utf-8")
    got = read_sites(tmp_path / "a.csv")
    assert got.read == 3, got.rejects
    assert len(got.sites) == 2


def test_headings_again_and_a_second_table(tmp_path):
    (tmp_path / "a.csv").write_text("id,lat,lon\na,-35,141\nid,lat,lon\nb,-35.1,141\n\nlon,lat,id\n141.2,-35.2,c\n141.3,-35.3,d\n")
    got = read_sites(tmp_path / "a.csv")
    assert got.sites.site_id.tolist() == ["a", "b"] and got.rejects["row"].tolist() == [3, 6, 7, 8]
    assert "the row of headings again" in got.rejects["reason"][0] and "second row of headings, row 6" in got.rejects["reason"][2]
    assert got.read == 6


def test_find_headings_refuses_numbers_and_nothing():
    with pytest.raises(InputError, match="numbers, not the names"):
        find_headings([["1", "51.5", "9.9"], ["2", "51.6", "9.8"]], "a.csv")
    with pytest.raises(InputError, match="nothing in the table"):
        find_headings([["", ""], []], "a.csv")


def test_a_column_of_decimal_commas_is_no_column_of_pairs(tmp_path):
    (tmp_path / "a.csv").write_text("Nr;Lage;mehr\n1;51,5333;9,9333\n2;51,5401;9,9402\n", encoding="utf-8")
    with pytest.raises(InputError) as raised:
        read_sites(tmp_path / "a.csv")
    assert "EPSG" not in str(raised.value) and "look like degrees" in str(raised.value)
    got = read_sites(tmp_path / "a.csv", SiteReading(lat="Lage", lon="mehr"))  # as the message says
    assert got.sites.lat_deg.tolist() == [51.5333, 51.5401]
    with pytest.raises(InputError, match="one number with a decimal comma"):
        read_sites(tmp_path / "a.csv", SiteReading(position="Lage"))


def test_two_lists_side_by_side_are_asked_about(tmp_path):
    (tmp_path / "a.csv").write_text("id,lat,lon,,id,lat,lon\na,-35,141,,c,-36,142\nb,-35.1,141,,d,-36.1,142\n")
    with pytest.raises(InputError, match="two lists stand side by side"):
        read_sites(tmp_path / "a.csv")
    (tmp_path / "a.csv").write_text("id,lat,lon\na,-35,141\nb,-35.1,141\nc,-36,142\nd,-36.1,142\n")  # as it says
    assert len(read_sites(tmp_path / "a.csv").sites) == 4
