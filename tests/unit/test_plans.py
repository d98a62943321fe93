"""Plans as folders, files dropped on them, and the job file written over nothing that was not seen."""

import io
import os
import shutil
import socket
import zipfile

import pytest

from geozone.desk import uploads
from geozone.desk.plans import Plans, headline, usable_name
from geozone.desk.savedjob import read_saved, with_own_line_ends, write_saved
from geozone.desk.tables import result_files, table_page, zipped
from geozone.desk.uploads import dropped_name, put_into
from geozone.errors import InputError
from geozone.jobs.job import all_faults, read_job


@pytest.fixture
def plans(tmp_path):
    return Plans(tmp_path / "plans")


def test_new_copy_rename_bin_and_back(plans):
    assert plans.fresh and plans.all() == []
    assert plans.new("North bank", "empty") == "North bank" and plans.new("Three", "example") == "Three"
    faults = all_faults(read_saved(plans.find("North bank").job).text, plans.root)
    assert len(faults) == 1 and "job.sites is missing" in str(faults[0][1])
    assert read_job(plans.find("Three").job).job.year == 2027
    (plans.root / "Three" / "out").mkdir()
    plans.copy("Three", "Copy")
    assert sorted(path.name for path in (plans.root / "Copy").iterdir()) == ["areas.geojson", "job.toml", "sites.csv"]
    plans.rename("Copy", "COPY")
    assert plans.names() == ["COPY", "North bank", "Three"]
    plans.throw("Three")
    plans.new("Three", "empty")
    (one,) = plans.thrown()
    assert one.name == "Three" and plans.restore(one.folder_name) == "Three 2" and plans.thrown() == []
    assert (plans.root / "Three 2" / "sites.csv").is_file()
    for wrong in (lambda: plans.new("three", "empty"), lambda: plans.copy("none", "x"), lambda: plans.restore("../x"), lambda: plans.throw("..")):
        with pytest.raises(InputError):
            wrong()
    assert not [path for path in plans.root.iterdir() if path.name.startswith(".new")]


def test_what_a_killed_desk_left_is_swept_after_an_hour(plans):
    plans.new("x", "empty")
    left = [plans.root / "x" / ".drop-1234.part", plans.root / "x" / ".job.toml.1234.part", plans.root / ".new-1234" / "job.toml"]
    left[2].parent.mkdir()
    for path in left:
        path.write_text("")
    plans.put_in_order()
    assert all(path.exists() for path in left)
    for path in (*left, left[2].parent):
        os.utime(path, (0, 0))
    plans.put_in_order()
    assert not any(path.exists() for path in left) and plans.names() == ["x"]


@pytest.mark.parametrize("name", ["", "..", ".x", "a/b", "a\\b", "con", "NUL.x", "a:b", "x.", "a" * 61, "a\x00", "<x>", "\u202eabc", "é" * 200])
def test_names_that_no_folder_should_have(name):
    with pytest.raises(InputError):
        usable_name(name)


def test_a_plan_is_no_folder_of_plans(tmp_path, plans):
    plans.new("x", "empty")
    with pytest.raises(InputError, match="is a plan"):
        Plans(plans.root / "x")
    with pytest.raises(InputError, match="no such folder"):
        Plans(tmp_path / "none", read_only=True)
    os.symlink(plans.root / "x", plans.root / "y")
    assert plans.names() == ["x"]


def test_headline_says_what_the_summary_holds():
    drift = {"sites_within": 204, "sites_beyond": 277, "sites_other_clock": 139}
    one = "One setting: 204 within, 277 beyond, 139 on another clock."
    assert headline({}) == "" and headline({"sites": {"used": 620}, "drift": drift}) == one
    assert headline({"sites": {"used": 620}, "drift": drift, "groups": {"count": 4, "proved": True, "unserved": []}}) == (
        f"4 settings: for all 620 sites; fewer will not do under this job's conditions. {one}")
    assert "at least 3 are needed" in headline({"sites": {"used": 9}, "drift": drift, "groups": {"count": 4, "proved": False, "lower_bound": 3, "unserved": [1]}})


def test_dropped_names_are_made_anew():
    assert dropped_name("../../<img src=x>.csv") == "img src x.csv" and dropped_name("C:\\x\\List.XLSX") == "List.xlsx"
    assert dropped_name("..\x00/.csv") == "list.csv" and dropped_name("job.json") == "list job.json"
    for name in ("a.exe", "a", "a.vrt", "a.csv.html", "job.toml", ".htaccess"):
        with pytest.raises(InputError):
            dropped_name(name)


def test_a_dropped_file_replaces_none(tmp_path, monkeypatch):
    monkeypatch.setattr(uploads, "MOST_UNPACKED_BYTES", 5_000_000)
    assert put_into(tmp_path, "a.csv", io.BytesIO(b"1")) == "a.csv" and put_into(tmp_path, "A.csv", io.BytesIO(b"2")) == "A 2.csv"
    assert put_into(tmp_path, "a.csv", io.BytesIO(b"1")) == "a.csv" and sorted(p.name for p in tmp_path.iterdir()) == ["A 2.csv", "a.csv"]
    with pytest.raises(InputError, match="empty"):
        put_into(tmp_path, "b.csv", io.BytesIO(b""))
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as packed, packed.open("a.csv", "w", force_zip64=True) as target:
        target.write(bytes(6_000_000))
    bomb.seek(0)
    with pytest.raises(InputError, match="unpacks to more"):
        put_into(tmp_path, "bomb.zip", bomb)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["A 2.csv", "a.csv"]


def test_a_job_file_is_written_over_what_was_seen_only(tmp_path):
    job = tmp_path / "job.toml"
    job.write_bytes("\ufeff[job]\r\ntitle = 'x'\r\n".encode())
    seen = read_saved(job)
    assert seen.marked and seen.shown == "[job]\ntitle = 'x'\n"
    assert write_saved(job, with_own_line_ends("[job]\ntitle = 'y'\n", seen.text), seen)
    assert job.read_bytes() == "\ufeff[job]\r\ntitle = 'y'\r\n".encode()
    assert not write_saved(job, "[job]\n", seen) and b"'y'" in job.read_bytes()
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]
    assert with_own_line_ends("a\nb\nc\nd\n", "a\r\nb\nd\r\n") == "a\r\nb\nc\nd\r\n"
    assert "not UTF-8" in read_saved(_with(tmp_path / "b.toml", b"\xff\xfe")).trouble and "cannot be read" in read_saved(tmp_path / "none").trouble


def _with(path, data):
    path.write_bytes(data)
    return path


def test_tables_are_sorted_filtered_and_in_pages(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("\ufeffid;min;town\n" + "".join(f"s{i};{i / 2};{'North' if i % 2 else 'south'}\n" for i in range(250)) + 'x;;"a;b"\ny\n', encoding="utf-8")
    first = table_page(path, ";", sort="min", down=True)
    assert (first.total, first.found, first.pages, len(first.rows)) == (252, 252, 3, 100) and first.rows[0] == ["s249", "124.5", "North"]
    assert table_page(path, ";", sort="min", page=99).rows[-1] == ["y", "", ""] and table_page(path, ";", sort="min").rows[2][1] == "1.0"
    found = table_page(path, ";", text="NORTH", column="town", page=2)
    assert found.found == 125 and len(found.rows) == 25 and table_page(path, ";", text="a;b").rows == [["x", "", "a;b"]]
    assert table_page(path, ";", text="north", column="id").found == 0 and table_page(path, ";", sort="none").rows[0][0] == "s0"


def test_only_files_of_the_result_are_sent(tmp_path):
    out = tmp_path / "out"
    (out / "pictures").mkdir(parents=True)
    (out / "pictures" / "a.png").write_bytes(b"1")
    (out / "link.csv").symlink_to(tmp_path / "secret")
    (out / "away").symlink_to(tmp_path)
    (tmp_path / "secret").write_text("x")
    assert result_files(out) == ["pictures/a.png"] and result_files(tmp_path / "none") == []
    zipped(out, tmp_path / "all.zip")
    assert zipfile.ZipFile(tmp_path / "all.zip").namelist() == ["pictures/a.png"]
    shutil.move(out, tmp_path / "real")
    out.symlink_to(tmp_path / "real")
    assert result_files(out) == []


def test_a_desk_that_cannot_be_opened_says_why(geozone, plans):
    plans.new("x", "empty")
    code, _, err = geozone("desk", plans.root / "x", "--no-browser")
    assert code == 2 and "is a plan, not a folder of plans" in err
    with socket.create_server(("127.0.0.1", 0)) as taken:
        code, _, err = geozone("desk", plans.root, "--no-browser", "--port", taken.getsockname()[1])
    assert code == 2 and "cannot be opened at this port" in err and "--port" in err
    code, _, err = geozone("desk", plans.root / "none", "--read-only")
    assert code == 2 and "no such folder" in err and not (plans.root / "none").exists()
