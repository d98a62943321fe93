"""The workbook as a person opens it."""

import datetime
import re
import zipfile

import pandas as pd
import pytest
from python_calamine import CalamineWorkbook

from geozone.files.workbook import Sheet, write_xlsx
from geozone.schema.site_columns import SITES

TABLE = pd.DataFrame({"site_id": ["a"], "key_lat_deg": [-34.0], "key_dusk_offset_min": [-2], "worst_dark_min": [1.2349],
                      "worst_dark_night": ["2027-06-21"], "own": ["x"]})


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "a.xlsx"
    write_xlsx([Sheet("sites", TABLE, SITES), Sheet("about", pd.DataFrame({"about": ["x"]}))], path, "t", 0.1)
    return path


def test_the_first_sheet_explains_every_column_of_every_declared_sheet(path):
    book = CalamineWorkbook.from_path(path)
    assert book.sheet_names == ["columns", "sites", "about"]
    rows = book.get_sheet_by_name("columns").to_python()
    assert rows[0] == ["Sheet", "Column", "Unit", "What it holds", "Comes from", "Name in files"]
    assert [row[5] for row in rows[1:]] == list(TABLE.columns)
    assert rows[2][:4] == ["sites", "Latitude to key", "degrees", SITES["key_lat_deg"].sentence]
    assert rows[6][3] == "A column of your own list, as it was read."


def test_headings_are_for_people_and_cells_have_their_kind(path):
    rows = CalamineWorkbook.from_path(path).get_sheet_by_name("sites").to_python()
    assert rows[0] == ["Site", "Latitude to key [degrees]", "Dusk offset [min]", "Unlit, worst [min]", "Unlit, worst: night", "own"]
    assert rows[1] == ["a", -34.0, -2.0, 1.23, datetime.date(2027, 6, 21), "x"]


def test_keyed_positions_show_the_keypads_digits_and_heads_repeat_on_paper(path):
    """Office Open XML (ECMA-376): number formats stand in styles.xml, print titles as a defined name, notes in comments.xml."""
    with zipfile.ZipFile(path) as archive:
        styles, book = (archive.read(f"xl/{name}.xml").decode() for name in ("styles", "workbook"))
        sheet = archive.read("xl/worksheets/sheet2.xml").decode()
        notes = archive.read("xl/comments1.xml").decode()
    assert set(re.findall(r'formatCode="([^"]+)"', styles)) >= {"0.0", "yyyy-mm-dd"}
    assert book.count("_xlnm.Print_Titles") == 3 and 'orientation="landscape"' in sheet
    assert "In files: key_lat_deg" in notes


def test_a_text_that_is_no_date_stays(tmp_path):
    table = pd.DataFrame({"worst_dark_night": ["", "soon", "1899-12-31"]})
    write_xlsx([Sheet("sites", table, SITES)], tmp_path / "a.xlsx")
    assert [row[0] for row in CalamineWorkbook.from_path(tmp_path / "a.xlsx").get_sheet_by_name("sites").to_python()[1:]] == [
        "", "soon", "1899-12-31"]
