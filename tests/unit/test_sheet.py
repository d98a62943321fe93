"""The sheet: paper, scale, names, and the PDF as other programs read it."""

import io
import json
import shutil
import subprocess
import warnings
from dataclasses import replace

import numpy as np
import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from geozone.errors import InputError
from geozone.paper.labels import Wanted, placed
from geozone.paper.mapview import SCALES, projection_for, view_of
from geozone.paper.options import SheetOptions
from geozone.paper.pdfmap import MapPage, finish
from geozone.paper.sheet import sheet_pdf, sheet_view
from geozone.paper.sizes import SIZES_MM, Box, Paper
from geozone.paper.typesetting import printable

BOUNDS = (139.5, -36.7, 142.0, -33.9)


@pytest.fixture(scope="module")
def town(example_run):
    return example_run("town")


@pytest.fixture(scope="module")
def pdf(town):
    return sheet_pdf(town, SheetOptions(owner="Owner & Sons #1", number="N-1", issued="2027-02-01"))


def text_of(pdf, tmp_path, *more):
    (tmp_path / "a.pdf").write_bytes(pdf)
    return subprocess.run(["pdftotext", "-layout", *more, str(tmp_path / "a.pdf"), "-"], capture_output=True, text=True, check=True).stdout


def test_sizes_are_those_of_iso_216():
    """ISO 216: A4 210 x 297, each size up doubles the shorter side, rounded down to the millimetre."""
    assert SIZES_MM["A4"] == (210, 297)
    for small, large in (("A4", "A3"), ("A3", "A2")):
        assert SIZES_MM[large] == (SIZES_MM[small][1], 2 * SIZES_MM[small][0])


@pytest.mark.parametrize("size", SIZES_MM)
@pytest.mark.parametrize("orientation", ["landscape", "portrait"])
def test_grid_fields_cover_the_frame_without_gap_and_name_each_point(size, orientation):
    """In the manner of ISO 5457 (from memory): letters from the top without I and O, numbers from the left, 50 mm."""
    paper = Paper(size, orientation)
    for axis, begin, length in (("x", paper.frame.x, paper.frame.width), ("y", paper.frame.y, paper.frame.height)):
        fields = paper.fields(axis)
        assert fields[0][1] == begin and fields[-1][2] == begin + length
        assert all(one[2] == other[1] for one, other in zip(fields, fields[1:]))
        assert all(24.9 < end - start < 75.1 for _, start, end in fields)
        assert not {"I", "O"} & {name for name, _, _ in fields}
    assert paper.reference(paper.frame.x + 1, paper.frame.y + 1) == "A1"
    assert paper.reference(paper.frame.right, paper.frame.bottom) == paper.fields("y")[-1][0] + paper.fields("x")[-1][0]


@pytest.mark.parametrize("wrong", [("A5", "landscape"), ("A3", "upright")])
def test_a_sheet_that_is_not_offered_is_refused(wrong):
    with pytest.raises(InputError):
        Paper(*wrong)


@given(lon=st.floats(-180, 180), lat=st.floats(-75, 75), wide=st.floats(0.001, 60), high=st.floats(0.001, 30))
@settings(max_examples=80, deadline=None)
def test_the_scale_is_round_all_has_room_and_the_bar_is_true_on_the_ground(lon, lat, wide, high):
    """The bar against the geodesic of PROJ on WGS 84, measured through the map's own inverse: within 0.5 %."""
    south, north = max(lat - high / 2, -80), min(lat + high / 2, 80)
    bounds = (lon, south, lon + wide, north)
    box = Box(24, 14, 260, 220)
    view = view_of(box, bounds, projection_for(bounds))
    assert view.scale in SCALES
    x, y = view.on_sheet(*np.meshgrid(np.linspace(bounds[0], bounds[2], 5), np.linspace(south, north, 5)))
    assert (x > box.x).all() and (x < box.right).all() and (y > box.y).all() and (y < box.bottom).all()
    ground_m, paper_mm, words = view.bar(60.0)
    middle = box.x + box.width / 2, box.y + box.height / 2
    lons, lats = view.ground([middle[0] - paper_mm / 2, middle[0] + paper_mm / 2], [middle[1]] * 2)
    assert Geod(ellps="WGS84").inv(lons[0], lats[0], lons[1], lats[1])[2] == pytest.approx(ground_m, rel=0.005)
    assert float(words.split()[0]) * (1000 if words.endswith("km") else 1) == ground_m


def test_a_scale_without_room_and_a_projection_in_degrees_are_refused():
    with pytest.raises(InputError, match="has room|have room"):
        view_of(Box(0, 0, 100, 100), BOUNDS, projection_for(BOUNDS), 10_000)
    for wrong in ("EPSG:4326", "EPSG:99999", "nothing"):
        with pytest.raises(InputError):
            projection_for(BOUNDS, wrong)


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 80), st.text("ABCdef 12", min_size=1, max_size=12), st.booleans()), max_size=25),
       st.lists(st.tuples(st.floats(0, 100), st.floats(0, 80)), max_size=30))
@settings(max_examples=60, deadline=None)
def test_no_name_covers_a_sign_or_another_name_or_leaves_the_frame_and_none_is_lost(names, signs):
    frame = Box(0, 0, 100, 80)
    wanted = [Wanted(text, "area", [(x, y)], 3.0, beside=beside) for x, y, text, beside in names]
    labels, left = placed(wanted, frame, np.array(signs, dtype=float).reshape(-1, 2), 1.0)
    assert len(labels) + len(left) == len(wanted)
    boxes = [label.box for label in labels]
    for i, one in enumerate(boxes):
        assert one.x >= -1e-9 and one.y >= -1e-9 and one.right <= 100 + 1e-9 and one.bottom <= 80 + 1e-9
        for other in boxes[:i]:
            assert one.right <= other.x or other.right <= one.x or one.bottom <= other.y or other.bottom <= one.y
        for x, y in signs:
            assert not (one.x < x < one.right and one.y < y < one.bottom)


def test_the_same_answers_give_the_same_bytes(town, pdf):
    assert sheet_pdf(town, SheetOptions(owner="Owner & Sons #1", number="N-1", issued="2027-02-01")) == pdf


def test_the_pdf_is_archival_tagged_with_layers_and_embedded_fonts(pdf):
    """ISO 19005-2: output intent, XMP identification, fonts embedded, optional content named and listed; no encryption."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        assert "/OutputIntents" in document.Root and document.Root.MarkInfo.Marked and "/StructTreeRoot" in document.Root
        with document.open_metadata() as meta:
            assert meta["pdfaid:part"] == "2" and meta["pdfaid:conformance"] in ("B", "U", "A")
            assert "geozone" in meta["dc:description"]
        content = document.Root.OCProperties
        names = [str(group.Name) for group in content.OCGs]
        assert "Sites" in names and "Outlines" in names and len(set(names)) == len(names)
        assert "/Name" in content.D and "/AS" not in content.D
        fonts = [obj for obj in document.objects if isinstance(obj, pikepdf.Dictionary) and obj.get("/Type") == "/FontDescriptor"]
        assert fonts and all(any(key in font for key in ("/FontFile", "/FontFile2", "/FontFile3")) for font in fonts)
        assert not any(isinstance(obj, pikepdf.Dictionary) and obj.get("/SMask") not in (None, "/None") and obj.get("/Type") == "/ExtGState"
                       for obj in document.objects)
        switched = [str(operands[1]) for operands, operator in pikepdf.parse_content_stream(document.pages[0])
                    if str(operator) == "BDC" and str(operands[0]) == "/OC"]
        assert len(switched) == len(names)
        assert document.Root.Outlines.Count != 0


@pytest.mark.skipif(not shutil.which("gdalinfo"), reason="gdalinfo (Debian: gdal-bin) is not installed")
def test_another_reader_finds_the_ground_under_the_map(town, pdf, tmp_path):
    """GDAL's PDF driver reads projection and place from the viewport; it shares nothing with how it was written."""
    (tmp_path / "a.pdf").write_bytes(pdf)
    found = json.loads(subprocess.run(["gdalinfo", "-json", str(tmp_path / "a.pdf")], capture_output=True, text=True, check=True).stdout)
    view = sheet_view(town, SheetOptions())
    assert f'ID["EPSG",{view.projection.epsg}]' in found["coordinateSystem"]["wkt"]
    gt = found["geoTransform"]
    width, height = found["size"]
    # The reader rounds the page to whole pixels on each side.
    mm_x, mm_y = 420.0 / width, 297.0 / height
    assert mm_x == pytest.approx(mm_y, rel=1e-3)
    site = town.sites.iloc[[0, len(town.sites) // 2, -1]]
    x, y = view.on_sheet(site["lon_deg"].to_numpy(), site["lat_deg"].to_numpy())
    east, north = view.projection.forward(site["lon_deg"].to_numpy(), site["lat_deg"].to_numpy())
    box = view.box
    corners = ([box.x, box.right], [box.y, box.bottom], [view.x0, view.x0 + view.width_m], [view.y0 + view.height_m, view.y0])
    for px, py, e, n in zip([*x, *corners[0]], [*y, *corners[1]], [*east, *corners[2]], [*north, *corners[3]], strict=True):
        assert gt[0] + px / mm_x * gt[1] + py / mm_y * gt[2] == pytest.approx(e, abs=1.0)
        assert gt[3] + px / mm_x * gt[4] + py / mm_y * gt[5] == pytest.approx(n, abs=1.0)


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="pdftotext (Debian: poppler-utils) is not installed")
def test_every_site_and_setting_stands_in_the_text(town, pdf, tmp_path):
    text = text_of(pdf, tmp_path)
    for site in town.sites["site_id"].astype(str):
        assert site in text
    assert "Owner & Sons #1" in text and "N-1" in text and "1 Feb 2027" in text
    assert str(int((town.sites["result"] == "within").sum())) in text


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="pdftotext (Debian: poppler-utils) is not installed")
def test_under_one_master_clock_it_is_said_and_no_site_is_counted_by_its_own_clock(town, pdf, tmp_path):
    said = f"One switch commands all sites, on the clock of {town.setting.legal_zone}."
    own, master = text_of(pdf, tmp_path), text_of(sheet_pdf(replace(town, basis=replace(town.basis, switch_clock="master")), SheetOptions()), tmp_path)
    assert said in " ".join(master.split()) and "keep another clock" not in master
    assert said not in " ".join(own.split()) and "keep another clock" in own


HOSTILE = ["#let x = 1", "*bold* _it_ $x$", "<script>alert(1)</script>", "=HYPERLINK(\"x\")", "x" * 200, "שלום עולם", "مرحبا", "a\u200db",
           "@ref <l>", "\\u{41} // c"]


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="pdftotext (Debian: poppler-utils) is not installed")
def test_hostile_names_print_as_text(town, tmp_path):
    sites = town.sites.copy()
    sites.loc[sites.index[:len(HOSTILE)], "name"] = HOSTILE
    from dataclasses import replace

    text = text_of(sheet_pdf(replace(town, sites=sites, title="#panic() & <b>"), SheetOptions()), tmp_path, "-raw")
    for name in ("#let x = 1", "*bold* _it_ $x$", "<script>alert(1)</script>", "=HYPERLINK", "@ref <l>", "#panic() & <b>"):
        assert name in text


def with_settings(town, count):
    """The town with an invented plan of many settings, only as a table that needs room."""
    from dataclasses import replace
    from types import SimpleNamespace

    import geopandas as gpd
    import pandas as pd

    from geozone.grouping.grouprules import GroupRules

    names = [f"Q{i}Q" for i in range(count)]
    settings = pd.DataFrame({"group": names, "sites": range(1001, 1001 + count), "lat_deg": -36.4, "lon_deg": [100.1 + 0.3 * i for i in range(count)],
                             "legal_zone": "Australia/Sydney", "clock_to_key": "UTC+10:00, daylight saving as in southern Australia",
                             "dusk_offset_min": range(count), "dawn_offset_min": 0, "worst_dark_min": 1.0, "worst_excess_min": 2.0})
    hulls = gpd.GeoDataFrame({"group": names}, geometry=[town.areas.geometry.iloc[0]] * count, crs=4326)
    curve = pd.DataFrame({"k": [1, 2, 3], "worst_min": [9.0, 5.0, 4.0]})
    groups = SimpleNamespace(settings=settings, hulls=hulls, curve=curve, rules=GroupRules(),
                             plan=SimpleNamespace(count=count, lower_bound=count, group_of_site=np.array(["A"] * len(town.sites), dtype=object)))
    return replace(town, groups=groups, sites=town.sites.assign(group=names[0]))


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="pdftotext (Debian: poppler-utils) is not installed")
@pytest.mark.parametrize("size, orientation, language", [("A4", "portrait", "de"), ("A4", "landscape", "en"), ("A3", "landscape", "fr")])
def test_nothing_of_the_panel_is_lost_and_what_has_no_room_is_on_the_next_sheet(town, tmp_path, size, orientation, language):
    from geozone.paper.options import Revision
    from geozone.paper.words import words_in

    words = words_in(language)
    options = SheetOptions(paper=Paper(size, orientation), language=language, title="Long title " * 14, owner="y" * 150,
                           revisions=tuple(Revision(f"R{i}", "changed " * 3, "2027-01-01", "AB") for i in range(30)))
    text = text_of(sheet_pdf(with_settings(town, 24), options), tmp_path, "-raw")
    pages = text.split("\f")
    flat = " ".join(text.split())
    for i in range(24):
        assert any(f"Q{i}Q" in page for page in pages[1:]) and " ".join(words.number(1001 + i).split()) in flat
    notes = (words("note_year", year=town.year), words("lines_note"), words("note_versions", tz="", zones="", geozone="").split(";")[0][:12])
    assert all(" ".join(note.split()) in flat for note in notes) and " ".join(words("headline_fewer").split()) in flat
    assert all(f"R{i} changed" in flat for i in range(30)) and ("Long title " * 14).strip() in flat
    assert "y" * 150 in "".join(text.split())
    if "Q23Q" not in pages[0]:
        assert words.texts["settings_more"].split("{n}")[1].strip()[:10] in " ".join(pages[0].split())
    left = [part for part in (words("notes"), words("curve")) if part not in pages[0].split(words("follows"))[0]]
    assert not left or (words("follows") in pages[0] and words("continued") in pages[1])


def test_a_name_without_a_place_is_left_and_one_beyond_the_projection_takes_another():
    """What a projection does not have comes as infinity; no place at all comes from a group without a site on the sheet."""
    frame = Box(0.0, 0.0, 100.0, 80.0)
    nowhere = Wanted("A", "group", ((np.inf, np.inf), (np.nan, 3.0)), 3.0)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        labels, left = placed([Wanted("B", "group", (), 3.0), nowhere, Wanted("C", "group", ((np.nan, np.inf), (50.0, 40.0)), 3.0)], frame, np.zeros((0, 2)), 1.0)
    assert [one.text for one in labels] == ["C"] and [one.text for one in left] == ["B", "A"]


def test_the_inset_lies_where_it_covers_no_site_and_no_name(town):
    from geozone.paper.inset import inset_box
    from geozone.paper.maplabels import map_labels
    from geozone.paper.maplayers import ground_points
    from geozone.paper.words import words_in

    view = sheet_view(town, SheetOptions())
    box = view.box
    everywhere = [np.array([[box.right - 5, box.y + 5], [box.x + 5, box.y + 5], [box.x + 5, box.bottom - 5], [box.right - 5, box.bottom - 5]])]
    assert inset_box(view, everywhere) is None
    upper_right = [everywhere[0][:1]]
    corner = inset_box(view, upper_right)
    assert corner.x == box.x and corner.y == box.y
    corner = inset_box(view, ground_points(town, view))
    labels, _ = map_labels(town, view, words_in("en"), corner)
    assert labels
    for label in labels:
        assert label.box.right <= corner.x or corner.right <= label.box.x or label.box.bottom <= corner.y or corner.bottom <= label.box.y


def test_each_look_of_a_group_is_explained_by_its_own_swatch(town):
    from geozone.paper.maplayers import group_looks, group_swatches

    answers = with_settings(town, 12)
    looks, swatches = group_looks(answers), group_swatches(answers)
    assert set(looks) == set(swatches) == set(answers.groups.settings["group"])
    assert len({looks[name] for name in looks}) == len({swatches[name] for name in swatches})
    assert all(looks[name][0] in swatches[name] for name in looks)


def test_marks_that_turn_the_direction_of_text_are_left_out():
    assert printable("a\u202eb\x07c\nd") == "abc d"


def test_finish_leaves_a_page_without_maps_alone(pdf):
    assert finish(pdf, [], title="t", subject="s").startswith(b"%PDF")
    assert MapPage(0, None, ()).layers == ()


def test_an_index_of_too_many_sites_is_left_out_and_said(town, monkeypatch):
    from geozone.paper import sheettables
    from geozone.paper.words import words_in

    view, words = sheet_view(town, SheetOptions()), words_in()
    assert len(sheettables.sheet_tables(town, SheetOptions(), view, words)[-1]["rows"]) == len(town.sites)
    monkeypatch.setattr(sheettables, "INDEX_LIMIT", len(town.sites) - 1)
    index = sheettables.sheet_tables(town, SheetOptions(), view, words)[-1]
    assert index["rows"] == [] and f"{len(town.sites)} sites are too many" in index["lines"][0] and "sites.csv" in index["lines"][0]
