"""Tables for people with a spreadsheet."""

import csv
import zipfile

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from python_calamine import CalamineWorkbook

from geozone.files.spreadsheets import neutral, readable, write_csv
from geozone.files.workbook import XLSX_CELL_LIMIT, Sheet, write_xlsx
from geozone.places.manners import PLAIN, Manner
from geozone.schema.site_columns import SITES

# First characters as listed by OWASP, "CSV Injection" (from memory), with the payloads people really paste.
HOSTILE = ['=HYPERLINK("http://example.invalid","x")', "+cmd|' /C calc'!A0", "-2+3+cmd|' /C calc'!A0", "@SUM(1+1)",
           "\t=1+1", "\r=1+1", "＝1+1", "+61 8 5550 0000"]


def read_back(path):
    with open(path, encoding="utf-8-sig", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.parametrize("text", HOSTILE)
def test_text_that_could_start_a_formula_gets_an_apostrophe(text, tmp_path):
    assert neutral(text) == "'" + text
    write_csv(pd.DataFrame({"name": [text]}), tmp_path / "a.csv")
    assert read_back(tmp_path / "a.csv")[1] == ["'" + text]


@pytest.mark.parametrize("text", ["-35.1", "-35.05332, 1404.0130", "-35.1;-140,2", "+10", "-0,5", "-1e-3", "-.5", "", "A=1",
                                  "14 Lock Street", "'quoted"])
def test_numbers_and_ordinary_text_stay_as_they_are(text):
    assert neutral(text) == text


@pytest.mark.parametrize("text", ["-35.1-1", "-", "+", "-1=1", "- 5", "-1e", "--5", "-5\n=1", "-1, =2", "-1,2,A1", "-35.1, -140.2 E"])
def test_what_only_begins_like_a_number_is_no_number(text):
    assert neutral(text) == "'" + text


def test_headings_are_untrusted_too(tmp_path):
    write_csv(pd.DataFrame({"=1+1": [1]}), tmp_path / "a.csv")
    assert read_back(tmp_path / "a.csv")[0] == ["'=1+1"]


def test_csv_starts_with_a_byte_order_mark_and_reads_back(tmp_path):
    table = pd.DataFrame({"name": ["Café, \"Old\" Pier\nB"], "lat_deg": [-35.123456789]})
    write_csv(table, tmp_path / "a.csv", SITES)
    assert (tmp_path / "a.csv").read_bytes().startswith(b"\xef\xbb\xbfname,lat_deg\r\n")
    assert read_back(tmp_path / "a.csv")[1] == ['Café, "Old" Pier\nB', "-35.123457"]


def test_a_lone_carriage_return_starts_no_row(tmp_path):
    write_csv(pd.DataFrame({"name": ["x\r=1+1"]}), tmp_path / "a.csv")
    assert read_back(tmp_path / "a.csv") == [["name"], ["x\r=1+1"]]


def test_nan_infinity_and_missing_are_blank_and_flags_are_words(tmp_path):
    table = pd.DataFrame({
        "boundary_m": [np.inf, 1234.6, np.nan], "confirm_zone": [True, False, True], "worst_dark_min": [-0.001, 7.456, 1e-9],
        "own": [None, 5, "x"], "when": pd.to_datetime(["2027-01-01", None, "2027-01-02"]), "n": [1, 2, 3]})
    write_csv(table, tmp_path / "a.csv", SITES)
    assert read_back(tmp_path / "a.csv")[1:] == [
        ["", "yes", "0.0", "", "2027-01-01 00:00:00", "1"],
        ["1235.0", "no", "7.46", "5", "", "2"],
        ["", "yes", "0.0", "x", "2027-01-02 00:00:00", "3"]]


def test_a_column_of_the_list_is_not_rounded_whatever_it_is_called(tmp_path):
    table = pd.DataFrame({"pole_lat_deg": [-35.123456789], "walk_min": [1.23456], "lat_deg": [-35.123456789]})
    write_csv(table, tmp_path / "a.csv", SITES)
    assert read_back(tmp_path / "a.csv")[1] == ["-35.123456789", "1.23456", "-35.123457"]


@pytest.mark.parametrize("manner", [PLAIN, Manner(";", ",", "utf-8-sig")])
def test_whole_numbers_have_no_decimals_beside_a_gap(tmp_path, manner):
    """A site without a group leaves a gap, which makes the column one of numbers with a point; an offset is whole minutes all the same."""
    table = pd.DataFrame({"key_dusk_offset_min": [3.0, np.nan, -12.0, 0.0], "key_dawn_offset_min": [0.0, 1.5, np.nan, 2.0]})
    write_csv(table, tmp_path / "a.csv", SITES, manner)
    text = (tmp_path / "a.csv").read_text(encoding="utf-8-sig")
    half = "1,5" if manner.decimal == "," else "1.5"
    # What is not whole, against its declaration, is never cut.
    assert [line.split(manner.separator)[0] for line in text.splitlines()[1:]] == ["3", "", "-12", "0"] and half in text


@pytest.mark.parametrize("offsets", [[-2.0, np.nan, 0.0], pd.array([-2, None, 0], dtype="Int64")])
def test_a_gap_beside_whole_numbers_is_blank_however_it_came(tmp_path, offsets):
    table = pd.DataFrame({"key_dusk_offset_min": offsets})
    write_csv(table, tmp_path / "a.csv", SITES)
    write_xlsx([Sheet("sites", table, SITES)], tmp_path / "a.xlsx")
    cells = CalamineWorkbook.from_path(tmp_path / "a.xlsx").get_sheet_by_name("sites").to_python()
    assert [row[0] for row in cells[1:]] == [-2, "", 0]
    assert (tmp_path / "a.csv").read_text(encoding="utf-8-sig").splitlines()[1:] == ["-2", '""', "0"]


def test_the_table_handed_in_is_not_changed_and_the_geometry_is_left_out(tmp_path):
    table = gpd.GeoDataFrame({"name": ["=1"], "site": [1]}, geometry=gpd.points_from_xy([141.0], [-35.0]), crs=4326)
    copy = table.copy()
    write_csv(table, tmp_path / "a.csv")
    write_xlsx([Sheet("sites", table)], tmp_path / "a.xlsx")
    pd.testing.assert_frame_equal(table, copy)
    assert list(readable(table).columns) == ["name", "site"]


def test_half_characters_and_nul_do_not_stop_the_run(tmp_path):
    table = pd.DataFrame({"name": ["a\ud800b", "c\x00d"]})
    write_csv(table, tmp_path / "a.csv")
    write_xlsx([Sheet("sites", table)], tmp_path / "a.xlsx")
    assert read_back(tmp_path / "a.csv")[1:] == [["a\ufffdb"], ["c\ufffdd"]]


def test_an_empty_table_keeps_its_headings(tmp_path):
    table = pd.DataFrame(columns=["file", "row", "value", "reason"])
    write_csv(table, tmp_path / "a.csv")
    write_xlsx([Sheet("rejects", table)], tmp_path / "a.xlsx")
    assert read_back(tmp_path / "a.csv") == [["file", "row", "value", "reason"]]
    assert CalamineWorkbook.from_path(tmp_path / "a.xlsx").get_sheet_by_name("rejects").to_python() == [
        ["file", "row", "value", "reason"]]


def test_a_workbook_holds_hostile_text_as_text_and_no_formula_or_link(tmp_path):
    table = pd.DataFrame({"name": [*HOSTILE, "https://example.invalid", "007"], "load_w": [1.5] * 10})
    write_xlsx([Sheet("sites", table)], tmp_path / "a.xlsx")
    rows = CalamineWorkbook.from_path(tmp_path / "a.xlsx").get_sheet_by_name("sites").to_python()
    assert [row[0].strip() for row in rows[1:]] == [text.strip() for text in table["name"]]
    assert rows[1][1] == 1.5
    with zipfile.ZipFile(tmp_path / "a.xlsx") as archive:
        everything = b"".join(archive.read(name) for name in archive.namelist())
    assert b"<f>" not in everything and b"<hyperlink" not in everything


def test_a_workbook_cuts_what_a_cell_cannot_hold(tmp_path):
    write_xlsx([Sheet("sites", pd.DataFrame({"name": ["x" * 40000]}))], tmp_path / "a.xlsx")
    cell = CalamineWorkbook.from_path(tmp_path / "a.xlsx").get_sheet_by_name("sites").to_python()[1][0]
    assert len(cell) == XLSX_CELL_LIMIT and cell.endswith("x…")


def test_the_same_table_gives_the_same_bytes(tmp_path):
    table = pd.DataFrame({"name": ["a"], "lat_deg": [1.0]})
    for name in ("a", "b"):
        write_csv(table, tmp_path / f"{name}.csv")
        write_xlsx([Sheet("sites", table)], tmp_path / f"{name}.xlsx", "t")
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_a_workbook_that_cannot_be_created_is_an_os_error(tmp_path):
    (tmp_path / "a.xlsx").mkdir()
    with pytest.raises(OSError):
        write_xlsx([Sheet("sites", pd.DataFrame({"name": ["x"]}))], tmp_path / "a.xlsx")
