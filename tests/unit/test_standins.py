"""A job without a site list: points inside the outlines stand in, and every screen says so."""

import io
import json
import shutil

import geopandas as gpd
import numpy as np
import pandas as pd
import pypdfium2
import pytest
import shapely

from geozone.jobs.examples import examples_folder
from geozone.jobs.job import Job, read_job
from geozone.jobs.plan import compute
from geozone.paper.options import SheetOptions
from geozone.paper.sheet import sheet_pdf
from geozone.paper.sizes import Paper
from geozone.places.standins import STAND_IN, stand_ins
from geozone.screens.console import report
from geozone.screens.mapdata import page_data

HEAD = '[job]\ntitle = "No list yet"\nyear = 2027\nareas = "districts.geojson"\n[dark]\naltitude_deg = -4.0\n[tolerance]\ndark_min = 3\nexcess_min = 6\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    here = tmp_path_factory.mktemp("outlines")
    shutil.copy(examples_folder() / "border" / "districts.geojson", here)
    (here / "job.toml").write_text(HEAD + "[zones]\n", encoding="utf-8")
    return here


@pytest.fixture(scope="module")
def answers(folder):
    return compute(read_job(folder / "job.toml"))


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return "\n".join(document[i].get_textpage().get_text_range() for i in range(len(document)))


def test_the_points_lie_in_their_outlines_on_their_legal_time(answers):
    pieces = answers.area_pieces.set_index(["area", "legal_zone"]).geometry
    sites = answers.sites
    assert len(sites) == len(pieces) and not sites["site_id"].duplicated().any() and (sites["name"] == STAND_IN).all()
    for row in sites.itertuples():
        assert row.area and row.site_id.startswith(row.area) and pieces[row.area, row.legal_zone].contains(row.geometry)
    cut = answers.area_pieces["area"].value_counts()
    assert set(sites["site_id"]) >= {name for name, count in cut.items() if count == 1} and (cut > 1).any()


def test_the_zones_are_those_of_the_same_outlines_with_their_list(answers, example_run):
    with_list = example_run("border")
    with_list_zones, mine = with_list.zoning.zones, answers.zoning.zones
    assert len(mine) == len(with_list_zones) > 0 and mine["areas"].tolist() == with_list_zones["areas"].tolist()
    assert (mine["sites"] == 0).all() and with_list_zones["sites"].sum() > 0


def test_every_screen_says_that_no_list_was_given(answers, tmp_path):
    text = report(answers, tmp_path)
    assert "Sites       none listed: 8 points inside the outlines stand in" in text and "used of" not in text and "in no zone:" not in text
    assert answers.summary["sites"]["stand_ins"] and any(note.startswith("No site list: 8 points") for note in answers.notes)
    page = page_data(answers)
    assert "no site list" in page["where"] and all(row["sites"] is None for row in page["zoning"]["rows"])
    told = text_of(sheet_pdf(answers, SheetOptions()))
    assert "No site list: the signs are points inside the outlines" in told


def test_a_run_writes_what_there_is_and_nothing_for_a_crew(folder, geozone):
    code, out, _ = geozone("run", folder / "job.toml")
    written = {path.name for path in (folder / "out").iterdir()}
    assert code == 0 and {"map.html", "sheet.pdf", "zones.csv", "zones.geojson", "geozone.gpkg", "sites.csv"} <= written
    assert not written & {"cards.pdf", "cards.html", "crew.csv", "cabinets.csv"} and json.loads((folder / "out" / "summary.json").read_text())["files"]
    before = (folder / "out" / "sheet.pdf").read_bytes()
    code, out, _ = geozone("paper", folder / "job.toml")
    assert code == 0 and "cards" not in out and (folder / "out" / "sheet.pdf").read_bytes() == before
    code, _, err = geozone("paper", folder / "job.toml", "--only", "cards")
    assert code == 2 and "there are no cards to make" in err
    code, out, _ = geozone("which", folder / "out", "--lat", "-34.0", "--lon", "140.0", "--zone", "Australia/Adelaide")
    assert code == 0 and "Zone        Z1" in out


@pytest.mark.parametrize("old, new, said", [('areas = "districts.geojson"', 'areas = "districts.geojson"\ncrs = "EPSG:7854"', "job.crs needs a site list"),
                                            ("[zones]", '[writing]\ncsv = "as the list"', "there is no list to write like")])
def test_keys_about_a_list_are_refused(folder, geozone, old, new, said):
    path = folder / "keys.toml"
    path.write_text((HEAD + "[zones]\n").replace(old, new), encoding="utf-8")
    code, _, err = geozone("run", path)
    assert code == 2 and said in err and "None" not in err


def test_zones_and_cards_of_one_run_do_not_contradict_each_other(tmp_path):
    """With a list and no groups the sheet shows zones, and the cards are for the shared setting: both say so."""
    shutil.copytree(examples_folder() / "border", tmp_path / "border")
    path = tmp_path / "border" / "job.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text[:text.index("[groups]")] + "[zones]\n", encoding="utf-8")
    found = compute(read_job(path))
    assert any("the cards and crew.csv are for the one shared setting, not for the zones" in note for note in found.notes)
    told = " ".join(text_of(sheet_pdf(found, SheetOptions())).split())
    assert "The cards are for the one shared setting, 35.1° S, 140.2° E, Australia/Adelaide, 0 / 0, not for the zones." in told


def test_groups_and_zones_on_one_sheet_are_said_to_be_two_plans(example_run):
    told = " ".join(text_of(sheet_pdf(example_run("border"), SheetOptions())).split())
    assert "Groups and zones are two plans: key one or the other throughout. The cards are for the groups." in told
    assert told.index("4 settings serve all 620 sites") < told.index("5 lighting zones")


@pytest.mark.parametrize("more, name", [("[groups]\n", "groups"), ('[columns]\nlat = "x"\n', "columns"), ('[reading]\nseparator = ";"\n', "reading"),
                                        ('[cards]\nsize = "A6"\n', "cards"),
                                        ('[[programme]]\nname = "a"\n[[programme.event]]\nturn = "on"\nat = "dusk"\n'
                                         '[[programme.event]]\nturn = "off"\nat = "dawn"\n', "programme")])
def test_what_needs_a_list_is_refused(folder, geozone, more, name):
    path = folder / "more.toml"
    path.write_text(HEAD + more, encoding="utf-8")
    code, _, err = geozone("run", path)
    assert code == 2 and f"[{name}] needs a site list" in err and "add sites to [job]" in err and ", line 10" in err


def test_neither_list_nor_outlines(folder, geozone):
    path = folder / "neither.toml"
    path.write_text(HEAD.replace('areas = "districts.geojson"\n', ""), encoding="utf-8")
    code, _, err = geozone("run", path)
    assert code == 2 and "job.sites is missing" in err and 'areas = "areas.geojson"' in err


def test_outlines_across_the_antimeridian_in_memory():
    """Two boxes of Fiji's sea side by side, one cut at 180 degrees as RFC 7946 asks."""
    cut = shapely.MultiPolygon([shapely.box(179.2, -17.6, 180.0, -16.4), shapely.box(-180.0, -17.6, -179.7, -16.4)])
    areas = gpd.GeoDataFrame({"area": ["Far", "Near"]}, geometry=[cut, shapely.box(177.2, -18.3, 178.8, -17.2)], crs=4326)
    found = compute(Job.of(areas=areas, area_names="area", year=2027, dark={"altitude_deg": -4.0}))
    assert set(found.sites["area"]) == {"Far", "Near"} and found.sites["lon_deg"].between(-180, 180).all()
    assert (np.abs(found.sites["lon_deg"]) > 177).all() and not found.listed


def test_a_name_stands_once_whatever_the_outlines():
    areas = gpd.GeoDataFrame({"area": ["A", "A", "B"]}, geometry=[shapely.box(x, -35, x + 0.5, -34) for x in (139.0, 139.6, 140.2)], crs=4326)
    listed = stand_ins(areas, 2027)
    assert listed.sites["site_id"].tolist() == ["A", "A 2", "B"] or not listed.sites["site_id"].duplicated().any()
    assert len(listed.rejects) == 0 and listed.notes[0].startswith("No site list: 3 points")


def test_the_sheet_shows_zones_where_no_groups_were_asked_for(answers):
    told = text_of(sheet_pdf(answers, SheetOptions()))
    for text in ("Lighting zones: what to key", "5 lighting zones, made of whole outlines. No fewer would do.", "Corner (29% of it)",
                 "In no zone, because no one setting was found that serves them: Eastmark, South Reach"):
        assert text in told
    assert "No fewest settings were asked for" not in told and told.count("Z5") >= 3  # on the map, in the panel, in the table
    narrow = text_of(sheet_pdf(answers, SheetOptions(paper=Paper("A4", "portrait"), language="de")))
    assert "5 Beleuchtungszonen aus ganzen Umrissen" in narrow and "Ohne Standortliste" in narrow


def test_a_sheet_where_no_outline_has_a_zone(folder):
    path = folder / "strict.toml"
    path.write_text(HEAD.replace("dark_min = 3", "dark_min = 0.2").replace("excess_min = 6", "excess_min = 0.2") + "[zones]\n", encoding="utf-8")
    found = compute(read_job(path))
    assert len(found.zoning.zones) == 0
    told = text_of(sheet_pdf(found, SheetOptions()))
    assert "No one setting was found that serves any of the outlines." in told and "The one shared setting:" in told
    assert "Lighting zones: what to key" not in told
    assert pd.isna(found.zoning.zones["lat_deg"]).sum() == 0
