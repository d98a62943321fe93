"""What dead runs left is taken away; what live ones hold is not; edited results are never replaced in silence."""

import os
import shutil
import sqlite3
import subprocess
import sys
import textwrap
from pathlib import Path

import geopandas as gpd
import pytest
import shapely

from geozone.errors import OutputError
from geozone.files import leftovers
from geozone.files.exchange import exchanged
from geozone.files.folder import check_target, whole_folder
from geozone.files.leftovers import Claim, sweep, turn_at, turn_taken

ROOT = Path(__file__).parents[2]


def write_result(target, text="new"):
    with whole_folder(target) as part:
        (part / "map.html").write_text(text)
        (part / "sites.csv").write_text("site_id\n1\n")


def names(folder):
    return sorted(p.name for p in folder.iterdir())


def dead(folder, name="out", token="0123abcd", content=leftovers._CONTENT):
    """What a killed run leaves: its lock file, which nobody holds."""
    (folder / f".{name}.{token}.lock").write_bytes(content)
    return folder / f".{name}.{token}.part", folder / f".{name}.{token}.before"


def test_the_next_run_takes_away_what_a_dead_one_left(tmp_path):
    for name in ("out", "other"):
        part, _ = dead(tmp_path, name)
        (part / "pictures").mkdir(parents=True)
        (part / "pictures" / "half.png").write_text("x")
    dead(tmp_path, "out", "aaaaaaaa")
    write_result(tmp_path / "out")
    assert names(tmp_path) == ["out"]


def test_a_run_that_was_killed_between_the_two_renames_gets_its_old_result_back(tmp_path):
    part, before = dead(tmp_path)
    part.mkdir()
    before.mkdir()
    (before / "map.html").write_text("old")
    sweep(tmp_path)
    assert names(tmp_path) == ["out"] and (tmp_path / "out" / "map.html").read_text() == "old"


def test_after_both_renames_the_new_result_stays(tmp_path):
    _, before = dead(tmp_path)
    before.mkdir()
    write_result(tmp_path / "out")
    assert names(tmp_path) == ["out"] and (tmp_path / "out" / "map.html").read_text() == "new"


def test_an_old_result_is_kept_beside_a_folder_that_somebody_made_since(tmp_path):
    part, before = dead(tmp_path)
    for folder in (part, before, tmp_path / "out"):
        folder.mkdir()
        (folder / "map.html").write_text(folder.name)
    sweep(tmp_path)
    assert names(tmp_path) == ["out", "out-before-0123abcd"]
    assert (tmp_path / "out-before-0123abcd" / "map.html").read_text() == before.name


@pytest.mark.parametrize("names_there", [
    [".out.0123abcd.part/x", ".out.0123abcd.before/x"],  # no lock file: not known to be ours
    [".out.xyz.lock", ".out.xyz.part/x"], ["out.0123abcd.lock", "out.0123abcd.part/x"], [".0123abcd.lock"],
])
def test_what_is_not_known_to_be_ours_stays(tmp_path, names_there):
    for name in names_there:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(leftovers._CONTENT)
    before = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*"))
    sweep(tmp_path)
    assert sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*")) == before


def test_a_lock_file_of_somebody_elses_stays(tmp_path):
    part, _ = dead(tmp_path, content=b"another program")
    part.mkdir()
    sweep(tmp_path)
    assert len(names(tmp_path)) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_a_live_process_keeps_what_it_writes_and_a_killed_one_does_not(tmp_path):
    script = textwrap.dedent(f"""
        import sys, time
        sys.path.insert(0, {str(ROOT)!r})
        from geozone.files.folder import whole_folder
        with whole_folder({str(tmp_path / "out")!r}) as part:
            (part / "map.html").write_text("half")
            print("writing", flush=True)
            time.sleep(60)
    """)
    process = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout.readline() == "writing\n"
        write_result(tmp_path / "out", "another run at the same time")
        parts = list(tmp_path.glob(".out.*.part"))
        assert len(parts) == 1 and (parts[0] / "map.html").read_text() == "half"
    finally:
        process.kill()
        process.communicate()
    sweep(tmp_path)
    assert names(tmp_path) == ["out"]


def test_a_disk_that_knows_no_locks_is_left_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(leftovers, "_lock", lambda stream: None)
    part, _ = dead(tmp_path)
    part.mkdir()
    sweep(tmp_path)
    assert len(names(tmp_path)) == 2
    write_result(tmp_path / "out")
    assert (tmp_path / "out" / "map.html").read_text() == "new"


def test_a_claim_that_a_sweeper_took_for_a_dead_one_is_made_again(tmp_path, monkeypatch):
    real, calls = leftovers._lock, []

    def lock(stream):
        calls.append(stream.name)
        if len(calls) == 1:
            os.unlink(stream.name)  # the sweeper was there between the making of the file and its locking
        return real(stream)

    monkeypatch.setattr(leftovers, "_lock", lock)
    claim = Claim(tmp_path / "out")
    assert len(calls) == 2 and len(names(tmp_path)) == 1
    sweep(tmp_path)
    assert len(names(tmp_path)) == 1
    claim.release()
    assert names(tmp_path) == []


def test_two_folders_change_names_in_one_step(tmp_path):
    for name in "ab":
        (tmp_path / name).mkdir()
        (tmp_path / name / "x").write_text(name)
    done = exchanged(tmp_path / "a", tmp_path / "b")
    if sys.platform == "linux":
        assert done or os.environ.get("CI") is None or pytest.skip("the disk cannot do it")
    assert (tmp_path / "a" / "x").read_text() == ("b" if done else "a")
    assert exchanged(tmp_path / "a", tmp_path / "missing") is False


@pytest.mark.parametrize("name", ["map.html", "sites.csv", "summary.json"])
def test_an_edited_file_stops_the_run_and_stays(tmp_path, name):
    target = tmp_path / "out"
    write_result(target, "old")
    content = (target / name).read_bytes()
    (target / name).write_bytes({"map.html": b"0ld", "sites.csv": content + b"2\n", "summary.json": content.replace(b"{", b"{ ", 1)}[name])
    before = {p.name: p.read_bytes() for p in target.iterdir()}
    for attempt in (lambda: check_target(target), lambda: write_result(target)):
        with pytest.raises(OutputError, match="edited since geozone wrote") as stopped:
            attempt()
        assert name in str(stopped.value) and "move or rename" in str(stopped.value)
    assert {p.name: p.read_bytes() for p in target.iterdir()} == before
    # As it was, or away: the run goes on.
    (target / name).write_bytes(content)
    check_target(target)
    if name != "summary.json":
        (target / name).unlink()
        write_result(target)
        assert names(target) == ["map.html", "sites.csv", "summary.json"]


def test_a_file_edited_during_the_run_is_not_lost(tmp_path):
    target = tmp_path / "out"
    write_result(target, "old")
    with pytest.raises(OutputError, match="edited"):
        with whole_folder(target) as part:
            (part / "map.html").write_text("new")
            (target / "sites.csv").write_text("my remarks")
    assert (target / "sites.csv").read_text() == "my remarks" and names(tmp_path) == ["out"]


def test_a_result_of_an_earlier_version_has_no_sums_and_is_replaced(tmp_path):
    target = tmp_path / "out"
    target.mkdir()
    (target / "summary.json").write_text('{"made_by": "geozone", "files": ["map.html", "summary.json"]}')
    (target / "map.html").write_text("old")
    write_result(target)
    assert (target / "map.html").read_text() == "new"


def layers(path, text="a"):
    gpd.GeoDataFrame({"name": [text]}, geometry=[shapely.Point(1, 2)], crs=4326).to_file(path, layer="sites")


def test_looking_at_a_geopackage_is_no_edit_but_changing_a_row_is(tmp_path):
    target = tmp_path / "out"
    with whole_folder(target) as part:
        layers(part / "geozone.gpkg")
    written = (target / "geozone.gpkg").read_bytes()
    # Desktop programs switch the kind of journal when they open it, and back when they close it: the bytes change.
    database = sqlite3.connect(target / "geozone.gpkg")
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("SELECT * FROM sites").fetchall()
    check_target(target)
    database.execute("PRAGMA journal_mode = DELETE")
    database.close()
    assert (target / "geozone.gpkg").read_bytes() != written
    check_target(target)
    database = sqlite3.connect(target / "geozone.gpkg")
    database.execute("PRAGMA journal_mode = WAL")
    # (GDAL's triggers need functions that only it has)
    for (trigger,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        database.execute(f'DROP TRIGGER "{trigger}"')
    database.execute("UPDATE sites SET name = 'edited'")
    database.commit()
    # The edit still lies in the journal beside the file.
    with pytest.raises(OutputError, match="geozone.gpkg"):
        check_target(target)
    database.close()
    with pytest.raises(OutputError, match="geozone.gpkg"):
        check_target(target)
    shutil.move(target / "geozone.gpkg", tmp_path / "mine.gpkg")
    check_target(target)


def test_the_same_where_the_system_locks_bytes_instead_of_files(tmp_path, monkeypatch):
    """Windows, as far as it can be tried elsewhere: locking a byte that another stream holds is refused."""
    held = {}

    class Bytes:
        LK_NBLCK = 2

        @staticmethod
        def locking(descriptor, mode, count):
            file = os.fstat(descriptor).st_ino
            owner = held.get(file)
            try:
                alive = owner is not None and os.fstat(owner).st_ino == file
            except OSError:  # closed, and so let go
                alive = False
            if alive and owner != descriptor:
                raise PermissionError(13, "Permission denied")
            assert os.lseek(descriptor, 0, os.SEEK_CUR) == leftovers._LOCKED_BYTE and (mode, count) == (2, 1)
            held[file] = descriptor

    monkeypatch.setattr(leftovers, "fcntl", None)
    monkeypatch.setattr(leftovers, "msvcrt", Bytes, raising=False)
    monkeypatch.setattr("geozone.files.folder.exchanged", lambda one, other: False)
    part, _ = dead(tmp_path)
    part.mkdir()
    with whole_folder(tmp_path / "out") as mine:
        assert not part.exists()
        (mine / "map.html").write_text("half")
        write_result(tmp_path / "out", "another run at the same time")
        assert (mine / "map.html").read_text() == "half"
    assert (tmp_path / "out" / "map.html").read_text() == "half" and names(tmp_path) == ["out"]
    write_result(tmp_path / "out")
    assert names(tmp_path) == ["out"]


def test_the_second_at_one_folder_is_told_and_the_third_after_a_kill_is_not(tmp_path):
    target, hold = tmp_path / "out", textwrap.dedent("""
        import sys, time
        from pathlib import Path
        from geozone.files.leftovers import turn_at
        with turn_at(Path(sys.argv[1])):
            print("mine", flush=True)
            time.sleep(60)
    """)
    other = subprocess.Popen([sys.executable, "-c", hold, target], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert other.stdout.readline() == "mine\n" and turn_taken(target) and not turn_taken(tmp_path / "elsewhere")
    with pytest.raises(OutputError, match="somebody else is at work"), turn_at(target):
        raise AssertionError("two at one folder")
    sweep(tmp_path)
    assert turn_taken(target)  # what a live one holds is left alone
    with turn_at(tmp_path / "elsewhere"):
        pass
    other.kill()
    other.wait()
    other.stdout.close()
    assert not turn_taken(target)
    with turn_at(target):
        write_result(target)
        assert turn_taken(target)
    assert names(tmp_path) == ["out"]


def test_no_folder_to_lock_in_is_no_hindrance(tmp_path):
    with turn_at(tmp_path / "not" / "there"):
        assert not turn_taken(tmp_path / "not" / "there")
    assert names(tmp_path) == []
