"""CSV files in the manner of the user's list: the same tables whatever the manner, for geozone itself, for pandas, and on a keypad's digits."""

import json
import shutil

import pandas as pd
import pytest

from geozone.errors import InputError
from geozone.jobs.csvmanner import csv_manner
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.plan import run
from geozone.places.manners import Manner
from geozone.places.sites import SiteReading, read_sites

PROGRAMME = """
[[programme]]
name = "early; and | late, too"

[[programme.event]]
turn = "on"
at = "dusk"

[[programme.event]]
turn = "off"
at = "22:00"

[[programme.event]]
turn = "on"
at = "06:00"

[[programme.event]]
turn = "off"
at = "dawn"

[timetable]
period = "month"
rounding_min = 10
"""
# Of the template's twelve sites, with texts that hold every separator, a quotation mark, a formula, numbers of the list's own.
NAMES = ['Mill; weir', 'Lock, "old"', "Pier|east", "=1+1", "Tab\tstreet", "@SUM(1)", "Straße", "東", "-5,5", "-5.5", "plain", "x"]


def written(job, csv_lines, separator, decimal, name="sites.csv"):
    """The template's list in one manner, and the job with a [writing] section."""
    listed = pd.read_csv(job.parent / "sites.csv", dtype={"site_id": str})
    listed = listed.assign(name=NAMES, load_w=[55.5 + k for k in range(12)], height_m=[6.25 * k for k in range(12)])
    (job.parent / "sites.csv").unlink()
    if name.endswith(".csv"):
        listed.to_csv(job.parent / name, index=False, sep=separator, decimal=decimal, encoding="utf-8-sig")
    else:
        listed.to_excel(job.parent / name, index=False)
    text = job.read_text(encoding="utf-8").replace('csv = "plain"', csv_lines).replace('sites = "sites.csv"', f'sites = "{name}"')
    text = text[:text.index("# Switching programmes")].replace("curve_to = 3", "curve_to = 0")
    job.write_text(text + PROGRAMME, encoding="utf-8")
    return job


@pytest.fixture
def job(tmp_path):
    shutil.copytree(examples_folder() / "template", tmp_path / "job")
    return tmp_path / "job" / "job.toml"


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """Every table of the same job with comma and point, as pandas reads it without being told anything."""
    folder = tmp_path_factory.mktemp("plain")
    shutil.copytree(examples_folder() / "template", folder / "job")
    job = written(folder / "job" / "job.toml", "", ",", ".")
    run(read_job(job), folder / "out")
    return {path.name: pd.read_csv(path) for path in (folder / "out").glob("*.csv")}


@pytest.mark.parametrize("separator, decimal", [(";", ","), ("\t", ".")])
def test_every_table_of_a_run_is_the_same_in_every_manner(geozone, without_paper, job, plain, separator, decimal):
    written(job, 'csv = "as the list"', separator, decimal)
    code, out, err = geozone("run", job)
    assert code == 0, err
    folder = job.parent / "out"
    manner = Manner(separator, decimal)
    assert f"CSV files are written with {manner.words}." in out
    assert json.loads((folder / "summary.json").read_text(encoding="utf-8"))["csv"] == {
        "separator": separator, "decimal": decimal, "encoding": "utf-8-sig"}
    # pandas is the independent reader; texts as they are, numbers by its own rules.
    texts = {path.name: pd.read_csv(path, sep=separator, dtype=str, keep_default_na=False, encoding="utf-8-sig") for path in folder.glob("*.csv")}
    assert set(texts) == set(plain) >= {"sites.csv", "groups.csv", "hours.csv", "comparison.csv", "clocks.csv", "faulty.csv", "timetable.csv",
                                        "columns.csv", "rejects.csv", "spread.csv"}
    numbers = {name: pd.read_csv(folder / name, sep=separator, decimal=decimal, encoding="utf-8-sig") for name in texts}
    assert tuple(texts["columns.csv"].loc[0, ["table", "meaning"]]) == ("(all CSV files)", manner.sentence)
    for name, table in numbers.items():
        first = 1 if name == "columns.csv" else 0  # its first row says the manner
        pd.testing.assert_frame_equal(table[first:], plain[name][first:], obj=name)
    sites = texts["sites.csv"]
    assert list(sites["name"]) == [{"=1+1": "'=1+1", "@SUM(1)": "'@SUM(1)", "Tab\tstreet": "Tab street"}.get(one, one) for one in NAMES]
    assert list(sites["load_w"][:2]) == [f"55{decimal}5", f"56{decimal}5"] and sites["height_m"][1] == f"6{decimal}25"
    assert sites["worst_dark_night"].str.fullmatch(r"2027-\d\d-\d\d").all()
    # The keypad's step is 0.1: one digit behind the sign, in every row.
    assert sites["key_lat_deg"].str.fullmatch(rf"-\d+{'[.]' if decimal == '.' else ','}\d").all()
    # geozone reads its own table as a list, and finds the manner out.
    again = read_sites(folder / "sites.csv", SiteReading(lat="lat_deg", lon="lon_deg"))
    assert len(again.sites) == 12 and not len(again.rejects)
    assert (again.separator, again.decimal) == (separator, decimal)
    known = read_sites(job.parent / "sites.csv").sites
    for column in ("lat_deg", "lon_deg", "load_w"):
        assert (again.sites[column] - known[column]).abs().max() < 1e-6
    assert list(again.sites["site_id"]) == list(known["site_id"])


def test_a_workbook_shows_no_manner_and_that_is_said(geozone, without_paper, job):
    written(job, 'csv = "as the list"', ";", ",", "list.xlsx")
    code, out, err = geozone("run", job)
    assert code == 0, err
    said = " ".join(out.split())
    assert ("list.xlsx is no text with several columns and shows no manner. CSV files are written with commas between the cells, decimal "
            "point; [writing] separator and [writing] decimal would change that.") in said
    assert (job.parent / "out" / "sites.csv").read_bytes().startswith(b"\xef\xbb\xbfsite_id,name,")


def manner_of(job):
    found = read_job(job)
    return csv_manner(found, read_sites(found.beside(found.job.sites)))


def test_a_key_of_its_own_wins_over_the_list(job):
    written(job, 'csv = "as the list"\nseparator = "tab"\nencoding = "utf-8"', ";", ",")
    manner, notes = manner_of(job)
    assert manner == Manner("\t", ",", "utf-8") and notes == ("CSV files are written with tabs between the cells, decimal comma.",)


def test_plain_and_explicit_need_no_list(job):
    written(job, 'separator = ";"\ndecimal = ","', ",", ".", "list.xlsx")
    assert manner_of(job) == (Manner(";", ","), ())


def test_a_list_without_a_decimal_sign_leaves_it_open(job):
    (job.parent / "sites.csv").write_text("id;lat;lon\nA;-35;143\nB;-34;144\n", encoding="utf-8")
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace('csv = "plain"', 'csv = "as the list"'), encoding="utf-8")
    manner, notes = manner_of(job)
    assert manner == Manner(";", ".")
    assert notes == ("sites.csv holds no number with a decimal sign. CSV files are written with semicolons between the cells, decimal point; "
                     "[writing] decimal would change that.",)


@pytest.mark.parametrize("head, rows, decimal", [
    ("id;position;load_w", "A;-35.5, 143.25;55,5\nB;-34.5, 144.5;56,5", ","),  # the loads decide before the positions
    ("id;position", "A;-35,5 143,25\nB;-34,5 144,5", ","),
    ("id;position", "A;-35.5, 143.25\nB;-34.5, 144.5", ".")])
def test_the_decimal_sign_of_a_list_with_positions_in_one_column(tmp_path, head, rows, decimal):
    (tmp_path / "a.csv").write_text(f"{head}\n{rows}\n", encoding="utf-8")
    found = read_sites(tmp_path / "a.csv")
    assert (found.separator, found.decimal) == (";", decimal) and len(found.sites) == 2


@pytest.mark.parametrize("lines, what", [
    ('separator = "x"', "the separator cannot be used"), ('separator = "."', "the separator cannot be used"),
    ('separator = ""', "the separator cannot be used"), ('decimal = ","', "the comma cannot be both"),
    ('decimal = ","\nseparator = "comma"', "the comma cannot be both"), ('csv = "as list"', "did you mean"),
    ('encoding = "cp1252"', "encoding")])
def test_what_no_reader_could_tell_apart_is_refused(job, lines, what):
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace('csv = "plain"', lines), encoding="utf-8")
    with pytest.raises(InputError) as raised:
        read_job(job)
    assert what in str(raised.value) and "job.toml, line" in str(raised.value)
