"""The comparison of two results tells every change of content, names its place, and is silent about none."""

import importlib.util
import json
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

HERE = Path(__file__).parent


def module(name):
    spec = importlib.util.spec_from_file_location(f"compare_{name}", HERE / f"{name}.py")
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


contents, jobs = module("contents"), module("eightjobs")


def gpkg(path, value, moment="2027-01-01"):
    path.unlink(missing_ok=True)
    with sqlite3.connect(path) as base:
        base.execute("create table sites (site_id text, worst real)")
        base.execute("create table gpkg_contents (table_name text, last_change text)")
        base.execute("insert into sites values ('V-1', ?)", (value,))
        base.execute("insert into gpkg_contents values ('sites', ?)", (moment,))
    base.close()


def workbook(path, value, moment="2027-01-01"):
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("xl/worksheets/sheet1.xml", f'<row r="1"><c r="A1"><v>{value}</v></c></row>')
        book.writestr("docProps/core.xml", f"<dcterms:created>{moment}</dcterms:created>")


def pdf(path, width):
    document = pypdfium2.PdfDocument.new()
    document.new_page(width, 100)
    document.save(path)
    document.close()


def archive(path, value, part=b"1"):
    with zipfile.ZipFile(path, "w") as pack:
        pack.writestr("document.json", json.dumps({"worst": value}))
        pack.writestr("sites.bytes", part)


def picture(path, colour):
    Image.new("RGB", (4, 4), colour).save(path)


@pytest.fixture
def folders(tmp_path):
    one = tmp_path / "one"
    (one / "pictures").mkdir(parents=True)
    (one / "sites.csv").write_text("site_id,worst\nV-1,1.5\nV-2,2\n")
    (one / "summary.json").write_text(json.dumps({"drift": {"worst": 1.5, "names": ["a", "b"]}, "sha256": {"sites.csv": "1"}}))
    (one / "map.html").write_text("<p>worst site\n<p>V-1\n")
    gpkg(one / "geozone.gpkg", 1.5)
    workbook(one / "sites.xlsx", 1.5)
    pdf(one / "sheet.pdf", 100)
    picture(one / "pictures" / "year.png", "red")
    archive(one / "paper.zip", 1.5)
    (one / "other.bin").write_bytes(b"\xff\x00")
    shutil.copytree(one, tmp_path / "two")
    return one, tmp_path / "two"


def test_a_copy_is_the_same(folders):
    assert contents.differences(*folders) == []


@pytest.mark.parametrize("name, change, said", [
    ("sites.csv", lambda p: p.write_text("site_id,worst\nV-1,1.5\nV-2,2.0000001\n"), "sites.csv: row 3, worst: '2' is now '2.0000001'"),
    ("sites.csv", lambda p: p.write_text("site_id,worst\nV-1,1.5\n"), "sites.csv: row 3, worst: missing now"),
    ("summary.json", lambda p: p.write_text(json.dumps({"drift": {"worst": 1.6, "names": ["a", "b"]}})), "drift.worst: '1.5' is now '1.6'"),
    ("summary.json", lambda p: p.write_text(json.dumps({"drift": {"worst": 1.5, "names": ["a", "b"], "more": 1}})), "drift.more: new"),
    ("map.html", lambda p: p.write_text("<p>worst site\n<p>V-2\n"), "map.html: line 2: "),
    ("geozone.gpkg", lambda p: gpkg(p, 1.6), "geozone.gpkg: sites, row 1, worst: '1.5' is now '1.6'"),
    ("sites.xlsx", lambda p: workbook(p, 1.6), "sites.xlsx: xl/worksheets/sheet1.xml"),
    ("sheet.pdf", lambda p: pdf(p, 120), "sheet.pdf: page 1, "),
    ("pictures/year.png", lambda p: picture(p, "blue"), "pictures/year.png: pixels: "),
    ("paper.zip", lambda p: archive(p, 1.6), "paper.zip: document.json, worst: '1.5' is now '1.6'"),
    ("paper.zip", lambda p: archive(p, 1.5, b"2"), "paper.zip: sites.bytes: "),
    ("other.bin", lambda p: p.write_bytes(b"\xff\x01"), "other.bin: other bytes"),
    ("other.bin", lambda p: p.unlink(), "other.bin: no longer written"),
    ("more.txt", lambda p: p.write_text("x"), "more.txt: was not written before"),
])
def test_a_doctored_output_is_told(folders, name, change, said):
    change(folders[1] / name)
    found = contents.differences(*folders)
    assert found and any(said in line for line in found), found
    assert all(line.startswith(name) for line in found)


def test_the_moment_of_writing_and_sums_are_no_difference(folders):
    gpkg(folders[1] / "geozone.gpkg", 1.5, "2028-02-02")
    workbook(folders[1] / "sites.xlsx", 1.5, "2028-02-02")
    (folders[1] / "summary.json").write_text(json.dumps({"drift": {"worst": 1.5, "names": ["a", "b"]}, "sha256": {"sites.csv": "2"}}))
    assert contents.differences(*folders) == []


def test_a_renamed_word_is_no_difference_where_it_was_named(folders):
    (folders[1] / "sites.csv").write_text("site_id,most\nV-1,1.5\nV-2,2\n")
    (folders[1] / "map.html").rename(folders[1] / "page.html")
    with sqlite3.connect(folders[1] / "geozone.gpkg") as base:
        base.execute("alter table sites rename column worst to most")
    base.close()
    assert contents.differences(*folders, {"worst": "most", "map.html": "page.html"}) == []
    assert {line.split(":")[0] for line in contents.differences(*folders)} == {"sites.csv", "map.html", "page.html", "geozone.gpkg"}
    (folders[1] / "sites.csv").write_text("site_id,least\nV-1,1.5\nV-2,2\n")
    assert contents.differences(*folders, {"worst": "most", "map.html": "page.html"}) != []


def test_many_differences_are_counted(folders):
    (folders[1] / "map.html").write_text("\n".join(str(k) for k in range(50)))
    found = contents.differences(*folders)
    assert len(found) == contents.MOST + 1 and "more differences" in found[-1]


def test_jobs_can_be_read_by_the_program(tmp_path):
    """All eight; that they differ in what they ask for is the point of having them."""
    from geozone import read_job

    data = HERE.parents[1] / "data"
    read = {}
    for name in jobs.NAMES:
        jobs.write_job(name, tmp_path / name, data)
        read[name] = read_job(tmp_path / name / "job.toml")
    assert len(read) == 8
    assert {one.dark.model_dump_json() for one in read.values()} and read["master clock"].shared.clock == "master"
    assert read["white nights"].tolerance.shallow_deg == 1 and read["outlines"].job.areas and not read["groups"].job.areas
    assert read["together"].groups.within and read["together"].groups.keep_together and read["keypad"].keypad.utc_offsets


def test_words_to_be_renamed_must_be_pairs():
    done = subprocess.run([sys.executable, HERE / "compare.py", "HEAD", "--renamed", "worst"], capture_output=True, text=True)
    assert done.returncode == 2 and "old=new" in done.stderr
