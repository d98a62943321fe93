"""The paper made again: the same bytes as the run's, of the same plan only, all or nothing; and what a spoiled file does."""

import errno
import io
import json
import os
import random
import shutil
import signal
import struct
import subprocess
import sys
import zipfile

import numpy as np
import pandas as pd
import pypdfium2
import pytest
import shapely

from geozone.errors import InputError
from geozone.files.folder import check_target
from geozone.files.plainpack import TooLargeError
from geozone.files.sums import SUMS_KEY, changed_files, sealed_summary
from geozone.jobs import paperagain
from geozone.jobs.examples import examples_folder
from geozone.jobs.job import Job, read_job
from geozone.jobs.paperwork import of_the_paper
from geozone.jobs.plan import run
from geozone.paper.keptanswers import kept_bytes, kept_run
from geozone.paper.phrases import area_words
from geozone.paper.words import words_in
from geozone.screens import console

PAPER = {"sheet.pdf", "sheet.svg", "sheet.png", "cards.pdf", "cards.html"}
GROUPED = '''
[job]
title = "Two clocks"
year = 2027
sites = "sites.csv"
backdrop = "roads.geojson"
[dark]
altitude_deg = -4
[tolerance]
dark_min = 3
excess_min = 6
[groups]
keep_together = "cabinet"
curve_to = 3
[programmes]
column = "regime"
[[programme]]
name = "all night"
[[programme.event]]
turn = "on"
at = "dusk"
[[programme.event]]
turn = "off"
at = "dawn"
[[programme]]
name = "late"
[[programme.event]]
turn = "on"
at = "dusk"
shift_min = 10
[[programme.event]]
turn = "off"
at = "23:30"
days = ["mon", "tue"]
season = { from = "04-01", to = "09-30" }
[[programme.event]]
turn = "off"
at = "dawn"
'''


def grouped_job(folder):
    """Eight invented sites in four cabinets either side of a legal-time border, two programmes, a road."""
    rows = [(f"G{i}", "" if i else "Caf\u00e9 \u201cX\u201d", -35.0 - 0.01 * i, 140.0 if i < 4 else 142.0, f"C{i // 2}", "late" if i % 4 == 3 else "all night")
            for i in range(8)]
    (folder / "sites.csv").write_text("site_id,name,lat,lon,cabinet,regime\n" + "\n".join(",".join(map(str, row)) for row in rows) + "\n", encoding="utf-8")
    road = {"type": "Feature", "properties": {}, "geometry": {"type": "LineString", "coordinates": [[139.9, -35.1], [142.1, -35.0]]}}
    (folder / "roads.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [road]}))
    (folder / "job.toml").write_text(GROUPED)


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    """Finished runs: "plain" is the template without its groups; "grouped" has groups, cabinets and programmes."""
    folder = tmp_path_factory.mktemp("finished")
    job = shutil.copytree(examples_folder() / "template", folder / "plain") / "job.toml"
    text = job.read_text(encoding="utf-8")
    job.write_text(text[:text.index("[groups]")] + text[text.index("# Switching programmes"):], encoding="utf-8")
    (folder / "grouped").mkdir()
    grouped_job(folder / "grouped")
    for name in ("plain", "grouped"):
        run(read_job(folder / name / "job.toml"), folder / name / "out")
    return folder


@pytest.fixture
def plain(finished, tmp_path):
    return shutil.copytree(finished / "plain", tmp_path / "plain") / "job.toml"


@pytest.fixture
def grouped(finished, tmp_path):
    return shutil.copytree(finished / "grouped", tmp_path / "grouped") / "job.toml"


def contents(folder):
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def differing(one, other):
    return {name for name in {*one, *other} if one.get(name) != other.get(name)}


def add(job, text):
    with job.open("a", encoding="utf-8") as stream:
        stream.write(text)


def change(job, old, new):
    text = job.read_text(encoding="utf-8")
    assert old in text
    job.write_text(text.replace(old, new), encoding="utf-8")


def resealed(out):
    """The summary with the sums of what the folder holds now: what somebody could do who wants to be believed."""
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    plain = {key: value for key, value in summary.items() if key != SUMS_KEY}
    (out / "summary.json").write_bytes(sealed_summary(plain, out, summary["files"]))


@pytest.mark.parametrize("name", ["plain", "grouped"])
def test_an_unchanged_job_gives_the_same_bytes_in_every_file(geozone, finished, tmp_path, name):
    shutil.copytree(finished / name, tmp_path / name)
    before = contents(finished / name / "out")
    assert PAPER <= set(before)
    for kind in PAPER:
        (tmp_path / name / "out" / kind).unlink()  # so that none can be the old one
    code, out, err = geozone("paper", tmp_path / name / "job.toml")
    assert code == 0, err
    assert differing(before, contents(tmp_path / name / "out")) == set()
    assert all(kind in out for kind in PAPER) and f"Written     {tmp_path / name / 'out'}" in out
    assert "drawing the sheet" in err and "setting the cards" in err
    assert sorted(path.name for path in (tmp_path / name).iterdir() if path.name.startswith(".")) == []


@pytest.mark.parametrize("name, more", [("plain", '\n[sheet]\nsize = "A4"\norientation = "portrait"\n'),
                                        ("grouped", '\n[sheet]\nper = "area"\ntitle = "Lot 2"\nlanguage = "fr"\n')])
def test_after_a_change_it_is_what_a_whole_run_of_the_changed_job_writes(geozone, finished, tmp_path, name, more):
    job = shutil.copytree(finished / name, tmp_path / name) / "job.toml"
    display = '\ndisplay_hours = 12\ndisplay_offsets = "included"\n'
    if name == "plain":
        change(job, '\n# display_hours = 24 ', f"{display}#")
    else:
        add(job, f"\n[keypad]{display}")
    add(job, more + '\n[cards]\nlanguage = "de"\nsize = "A6"\nfirst_day = "2027-06-21"\n')
    assert geozone("paper", job, "--quiet")[:2] == (0, f"{job.parent / 'out'}\n")
    run(read_job(job), tmp_path / "whole")
    assert differing(contents(job.parent / "out"), contents(tmp_path / "whole")) == set()
    assert differing(contents(finished / name / "out"), contents(tmp_path / "whole")) == {*PAPER, "summary.json"}


@pytest.mark.parametrize("only, others", [("sheet", {"cards.pdf", "cards.html"}), ("cards", {"sheet.pdf", "sheet.svg", "sheet.png"})])
def test_only_a_part(geozone, grouped, only, others):
    folder = grouped.parent / "out"
    before = contents(folder)
    times = {name: (folder / name).stat().st_mtime_ns for name in before}
    add(grouped, '\n[sheet]\nnumber = "17-4"\nlanguage = "es"\n[cards]\nlanguage = "es"\n')
    code, out, _ = geozone("paper", grouped, "--only", only)
    after = contents(folder)
    assert code == 0 and differing(before, after) == {*(PAPER - others), "summary.json"}
    assert not any(name in out for name in others)
    assert all((folder / name).stat().st_mtime_ns == times[name] for name in before if name not in PAPER - others and name != "summary.json")
    # The sums are those of the new files, and the next run may replace the folder.
    assert changed_files(folder, json.loads(after["summary.json"])) == []
    assert check_target(folder) == folder.resolve()
    # The other half then gives the paper that both together do.
    assert geozone("paper", grouped, "--only", {"sheet": "cards", "cards": "sheet"}[only])[0] == 0
    both = contents(folder)
    assert geozone("paper", grouped)[0] == 0 and contents(folder) == both


def test_a_new_number_changes_the_sheet_and_not_the_cards(geozone, plain):
    before = contents(plain.parent / "out")
    add(plain, '\n[sheet]\nnumber = "17-4"\n')
    assert geozone("paper", plain)[0] == 0
    changed = differing(before, contents(plain.parent / "out"))
    assert {"sheet.pdf", "summary.json"} <= changed and not changed & {"cards.pdf", "cards.html", "map.html"}


@pytest.mark.parametrize("old, new, named", [
    ("dark_min = 5", "dark_min = 4", "tolerance.dark_min = 4.0, the run had 5.0"),
    ("year = 2027", "year = 2028", "job.year = 2028, the run had 2027"),
    ("coordinate_step_deg = 0.1", "coordinate_step_deg = 0.2", "keypad.coordinate_step_deg"),
    ("Example: three hamlets", "Example: four hamlets", "[sheet] title changes it on the sheet alone"),
])
def test_a_job_that_asks_for_another_run_is_refused(geozone, plain, old, new, named):
    before = contents(plain.parent / "out")
    change(plain, old, new)
    code, out, err = geozone("paper", plain)
    assert (code, out) == (2, "") and named in err and "the job has changed since its run" in err and "line " in err
    assert f"geozone run {plain}" in err
    assert contents(plain.parent / "out") == before


def test_another_programme_is_another_run(geozone, grouped):
    change(grouped, "shift_min = 10", "shift_min = 11")
    code, _, err = geozone("paper", grouped)
    assert code == 2 and "found: 'programme'" in err


def test_changed_files_of_the_job_are_told(geozone, plain):
    before = contents(plain.parent / "out")
    for name in ("sites.csv", "areas.geojson"):
        whole = (plain.parent / name).read_bytes()
        (plain.parent / name).write_bytes(whole + b"\n")
        code, out, err = geozone("paper", plain)
        assert (code, out) == (2, "") and "the file has changed since the run" in err and name in err and f"geozone run {plain}" in err
        (plain.parent / name).write_bytes(whole)
    (plain.parent / "sites.csv").unlink()
    code, out, _ = geozone("paper", plain)
    assert code == 0 and "sites.csv cannot be read any more; the paper shows it as the run read it" in out
    assert differing(before, contents(plain.parent / "out")) == set()


def test_all_parts_of_a_shapefile_count_and_empty_journals_do_not(tmp_path):
    for ending in (".shp", ".dbf", ".txt"):
        (tmp_path / f"a{ending}").write_bytes(b"x")
    job = Job.of(tmp_path / "a.shp", year=2027, dark={"altitude_deg": -4})
    first = paperagain.source_sums(job)
    (tmp_path / "a.txt").write_bytes(b"y")
    (tmp_path / "a.shx").write_bytes(b"")
    assert paperagain.source_sums(job) == first
    (tmp_path / "a.dbf").write_bytes(b"y")
    assert paperagain.source_sums(job) != first


def test_where_there_is_no_run_to_use(geozone, plain, tmp_path, monkeypatch):
    code, out, err = geozone("paper", plain, "-o", tmp_path / "nowhere")
    assert (code, out) == (2, "") and "there is no finished run in this folder" in err and f"geozone run {plain} -o {tmp_path / 'nowhere'}" in err
    assert not (tmp_path / "nowhere").exists()
    code, _, err = geozone("paper", plain, "-o", plain)
    assert code == 2 and "there is no finished run" in err
    monkeypatch.setattr(paperagain, "__version__", "9.9")
    code, _, err = geozone("paper", plain)
    assert code == 2 and "another version: geozone" in err and "this is 9.9" in err
    monkeypatch.undo()
    monkeypatch.setattr(paperagain.clock, "tz_version", lambda: "2099z")
    assert "another version: tz database" in geozone("paper", plain)[2]
    monkeypatch.undo()
    (plain.parent / "out" / "paper.zip").unlink()
    code, _, err = geozone("paper", plain)
    assert code == 2 and "what the run kept for its paper is gone" in err


def test_a_run_too_large_to_keep_is_said_to_be_made_whole(geozone, plain, monkeypatch):
    """The run leaves `paper.zip` out and says so; so does the command that would need it."""
    def too_large(*_):
        raise TooLargeError("900 MB to keep, at most 200 MB")

    folder = plain.parent / "out"
    monkeypatch.setattr(paperagain, "kept_bytes", too_large)
    code, out, _ = geozone("run", plain)
    assert code == 0 and "paper.zip was left out (900 MB to keep, at most 200 MB)" in out and not (folder / "paper.zip").exists()
    code, _, err = geozone("paper", plain)
    assert code == 2 and "a run that is too large leaves paper.zip out" in err and f"geozone run {plain}" in err and "put it back" not in err


def test_edited_paper_is_not_replaced(geozone, plain):
    folder = plain.parent / "out"
    with (folder / "sheet.pdf").open("ab") as stream:
        stream.write(b"% a remark")
    before = contents(folder)
    code, out, err = geozone("paper", plain)
    assert (code, out) == (2, "") and "sheet.pdf" in err and "nobody's work is replaced" in err and contents(folder) == before
    assert geozone("paper", plain, "--only", "cards")[0] == 0
    assert contents(folder) == before
    (folder / "sheet.pdf").rename(folder / "with remarks.pdf")
    assert geozone("paper", plain)[0] == 0 and (folder / "with remarks.pdf").read_bytes() == before["sheet.pdf"]


def test_what_people_put_into_the_folder_stays_and_is_still_known_as_theirs(geozone, plain):
    folder = plain.parent / "out"
    with (folder / "sites.csv").open("ab") as stream:
        stream.write(b"a remark\r\n")
    (folder / "own").mkdir()
    (folder / "own" / "note.txt").write_text("mine")
    (folder / "map.html").unlink()
    before = contents(folder)
    add(plain, '\n[sheet]\nnumber = "17-4"\n')
    assert geozone("paper", plain)[0] == 0
    assert differing(before, contents(folder)) <= {"sheet.pdf", "sheet.svg", "sheet.png", "summary.json"}
    code, _, err = geozone("run", plain)
    assert code == 2 and "own/note.txt" in err
    shutil.rmtree(folder / "own")
    code, _, err = geozone("run", plain)
    assert code == 2 and "sites.csv" in err and "edited" in err


def test_an_edited_summary_is_not_replaced(geozone, plain):
    path = plain.parent / "out" / "summary.json"
    path.write_bytes(path.read_bytes().replace(b'"used": 6', b'"used": 7', 1).replace(b'"year": 2027', b'"year": 2030', 1))
    code, _, err = geozone("paper", plain)
    assert code == 2 and "summary.json" in err


@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt(), KeyError("group")])
def test_nothing_is_half_written(geozone, plain, monkeypatch, error):
    before = contents(plain.parent)

    def half(job, answers, folder, say, only):
        (folder / "sheet.pdf").write_bytes(b"half")
        raise error

    monkeypatch.setattr(paperagain, "write_paper", half)
    code, out, err = geozone("paper", plain)
    assert code == (130 if isinstance(error, KeyboardInterrupt) else 2) and out == ""
    assert {"OSError": "cannot be written", "KeyboardInterrupt": "stopped; nothing is half-written", "KeyError": "please report it"}[type(error).__name__] in err
    assert contents(plain.parent) == before and not [path for path in plain.parent.iterdir() if path.name.startswith(".")]


def test_somebody_who_writes_meanwhile_loses_nothing(geozone, plain, monkeypatch):
    folder = plain.parent / "out"

    def disturbed(job, answers, part, say, only):
        (folder / "new.txt").write_text("mine")
        (part / "sheet.pdf").write_bytes(b"new")
        return ()

    monkeypatch.setattr(paperagain, "write_paper", disturbed)
    before = contents(folder)
    code, _, err = geozone("paper", plain)
    assert code == 2 and "was changed while" in err and differing(before, contents(folder)) == {"new.txt"}


@pytest.mark.parametrize("when", ["before the new files", "while they are read"])
def test_another_plan_put_there_meanwhile_keeps_its_own_paper(geozone, plain, grouped, monkeypatch, when):
    """What was kept by one plan is never sealed into the result of another that took its place."""
    folder, other = plain.parent / "out", contents(grouped.parent / "out")

    def exchanged(*_, **__):
        shutil.rmtree(folder)
        shutil.copytree(grouped.parent / "out", folder)

    if when == "before the new files":
        monkeypatch.setattr(console, "prepare", exchanged)
    else:
        checked = paperagain.check_renewable
        monkeypatch.setattr(paperagain, "check_renewable", lambda *given: (exchanged(), checked(*given))[1])
    code, out, err = geozone("paper", plain)
    assert code == 2 and out == "" and "the folder was changed while" in err
    assert contents(folder) == other


def test_a_users_own_file_is_not_taken_for_the_papers(geozone, plain):
    folder = plain.parent / "out"
    for name in ("cards for Monday.txt", "sheet.ods", "cards"):
        (folder / name).write_text("mine")
    before = contents(folder)
    add(plain, '\n[sheet]\nnumber = "17-4"\n')
    code, out, _ = geozone("paper", plain)
    assert code == 0 and "only summary.json" in out
    assert differing(before, contents(folder)) <= {"sheet.pdf", "sheet.svg", "sheet.png", "summary.json"}


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_an_interrupt_is_answered(plain):
    """A real process, interrupted while it works."""
    before = contents(plain.parent)
    process = subprocess.Popen([sys.executable, "-m", "geozone", "paper", str(plain)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                               preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL))  # a shell's background job ignores it
    said = process.stderr.readline() if process.poll() is None else ""
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130 and out == "" and (said + err).rstrip().endswith("stopped; nothing is half-written")
    assert "Traceback" not in err and contents(plain.parent) == before


def test_a_disk_without_links(geozone, plain, monkeypatch):
    def refuse(*_, **__):
        raise OSError(errno.EPERM, "Operation not permitted")

    before = contents(plain.parent / "out")
    monkeypatch.setattr(os, "link", refuse)
    assert geozone("paper", plain)[0] == 0 and differing(before, contents(plain.parent / "out")) == set()


def test_the_paper_writes_no_file_under_another_name(finished):
    for name in ("plain", "grouped"):
        assert {one for one in contents(finished / name / "out") if of_the_paper()(one)} == PAPER


def test_a_job_in_memory_has_no_sums_and_its_run_keeps_what_the_paper_needs(tmp_path):
    import geopandas

    sites = geopandas.GeoDataFrame({"name": ["A", "B"]}, geometry=geopandas.points_from_xy([141.0, 141.2], [-35.0, -35.1]), crs=4326)
    job = Job.of(sites, year=2027, dark={"altitude_deg": -4.0})
    run(job, tmp_path / "out")
    before = contents(tmp_path / "out")
    made = paperagain.make_again(job, tmp_path / "out", lambda text: None, "", "geozone run")
    assert set(made.files) == PAPER and contents(tmp_path / "out") == before
    assert kept_run(tmp_path / "out" / "paper.zip", "").sources == {}


# Spoiled files.

def members(path):
    with zipfile.ZipFile(path) as archive:
        return {one.filename: archive.read(one) for one in archive.infolist()}


def archive_of(parts, how=zipfile.ZIP_STORED):
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", how) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return target.getvalue()


def refused(path, content):
    path.write_bytes(content)
    with pytest.raises(InputError) as why:
        kept_run(path, "make the run")
    assert why.value.where == str(path) and why.value.rule and why.value.next_step == "make the run"
    return str(why.value)


def test_a_changed_file_is_told_before_it_is_read(geozone, plain):
    path = plain.parent / "out" / "paper.zip"
    whole = bytearray(path.read_bytes())
    whole[len(whole) // 2] ^= 1
    path.write_bytes(whole)
    code, out, err = geozone("paper", plain)
    assert (code, out) == (2, "") and "was changed since" in err and f"geozone run {plain}" in err
    path.write_bytes(whole[:100])
    resealed(plain.parent / "out")
    code, out, err = geozone("paper", plain)
    assert (code, out) == (2, "") and "is damaged" in err


def _spoilt(random, value):
    """A JSON value with one part of it made another."""
    if not isinstance(value, (dict, list)) or not value or random.random() < 0.03:
        return random.choice([None, True, -1, 1e300, "x", [], {}, float("nan"), "\ud800", 10**30, [[]]])
    copy = value.copy()
    key = random.choice(list(value)) if isinstance(value, dict) else random.randrange(len(value))
    if random.random() < 0.1:
        del copy[key]
    else:
        copy[key] = _spoilt(random, copy[key])
    return copy


@pytest.mark.parametrize("name", ["plain", "grouped"])
def test_spoiled_files_are_refused_or_read_and_nothing_else(finished, tmp_path, name):
    whole = (finished / name / "out" / "paper.zip").read_bytes()
    parts, path, answered = members(finished / name / "out" / "paper.zip"), tmp_path / "paper.zip", {"flipped": 0, "cut": 0, "members": 0, "json": 0}
    for seed in range(250):
        r, kind = random.Random(seed), list(answered)[seed % 4]
        content = bytearray(whole)
        if kind == "flipped":
            for _ in range(r.randint(1, 8)):
                content[r.randrange(len(content))] ^= 1 << r.randrange(8)
        elif kind == "cut":
            content = content[:r.randrange(len(content))]
        else:
            mine = dict(parts)
            one, other = r.choice(list(mine)), r.choice(list(mine))
            if kind == "json":
                mine["document.json"] = json.dumps(_spoilt(r, json.loads(mine["document.json"]))).encode()
            elif seed % 3 == 0:
                mine[one], mine[other] = mine[other], mine[one]
            elif seed % 3 == 1:
                del mine[one]
            else:
                changed = bytearray(mine[one])
                for _ in range(r.randint(1, 8)):
                    if changed:
                        changed[r.randrange(len(changed))] = r.randrange(256)
                mine[one] = bytes(changed)
            content = archive_of(mine)
        path.write_bytes(content)
        try:
            kept_run(path, "make the run")
        except InputError as why:
            assert why.rule and why.next_step, seed
            answered[kind] += 1
    # Each kind is really refused, not only survived; a cut or flipped archive nearly always.
    assert answered["cut"] >= 60 and answered["flipped"] >= 55 and answered["members"] >= 30 and answered["json"] >= 20, answered


def test_bombs_and_strange_archives(finished, tmp_path, monkeypatch):
    path, parts = tmp_path / "paper.zip", members(finished / "plain" / "out" / "paper.zip")
    assert "no archive" in refused(path, b"")
    assert "packed in a way" in refused(path, archive_of({**parts, "document.json": b" " * 60_000_000}, zipfile.ZIP_DEFLATED))
    assert "packed in a way" in refused(path, archive_of(parts, zipfile.ZIP_LZMA))
    assert "a part that no run writes" in refused(path, archive_of({**parts, "run.py": b"print()"}))
    assert "is missing" in refused(path, archive_of({k: v for k, v in parts.items() if k != "sites/name.text"}))
    with pytest.warns(UserWarning, match="Duplicate name"):
        twice = io.BytesIO(archive_of(parts))
        with zipfile.ZipFile(twice, "a") as archive:
            archive.writestr("document.json", b"{}")
    assert "two parts of one name" in refused(path, twice.getvalue())
    assert "form" in refused(path, archive_of({**parts, "document.json": json.dumps({**json.loads(parts["document.json"]), "form": 99}).encode()}))
    assert "damaged" in refused(path, archive_of({**parts, "document.json": b"[" * 100_000}))
    assert "damaged" in refused(path, archive_of({**parts, "document.json": b'{"form": 1, "job": ' + b"[" * 100_000}))
    from geozone.files import plainpack
    monkeypatch.setattr(plainpack, "MOST_BYTES", 1000)
    assert "unpacks to more than" in refused(path, archive_of(parts))


def test_shapes_in_shapes_without_end(finished, tmp_path):
    """The library that reads WKB calls itself for each: a million of them end the process, so they are counted first."""
    path, parts = tmp_path / "paper.zip", members(finished / "plain" / "out" / "paper.zip")
    deep = struct.pack("<BII", 1, 7, 1) * 1_000_000 + struct.pack("<BIdd", 1, 1, 1.0, 2.0)
    rows = len(parts["areas/geometry.shape"]) // 8
    for bad in (deep, struct.pack("<BII", 1, 6, 0x7fffffff), struct.pack("<BIdd", 1, 1, np.inf, 2.0), struct.pack("<BId", 1, 1, 1.0),
                shapely.to_wkb(shapely.Point(1, 2, 3), byte_order=1, output_dimension=3), shapely.to_wkb(shapely.Point(1, 2)) + b"x"):
        lengths = np.array([len(bad)] + [0] * (rows - 1), dtype="<i8").tobytes()
        assert "damaged" in refused(path, archive_of({**parts, "areas/geometry.shape": lengths, "areas/geometry.bytes": bad}))


@pytest.mark.parametrize("part, values", [
    ("sites/lat_deg.number", [np.nan]), ("sites/lat_deg.number", [91.0]), ("sites/lon_deg.number", [1e9]), ("sites/group.text", [10**15]),
    ("sites/group.text", [-1]), ("lit/start.number", [-1e300]), ("clocks/start_utc_min.number", [0.0]), ("clocks/offset_min.number", [np.nan]),
    ("settings/sites.whole", []), ("boundaries/same_clock.flag", None)])
def test_numbers_that_no_run_has(finished, tmp_path, part, values):
    parts = members(finished / "grouped" / "out" / "paper.zip")
    kind = part.rpartition(".")[2]
    if values is None:
        assert len(parts[part]) > 0
        spoilt = b"\x07" * len(parts[part])
    else:
        old = np.frombuffer(parts[part], {"number": "<f8"}.get(kind, "<i8")).copy()
        old[:len(values)] = values
        spoilt = old.tobytes() if values else old.tobytes() + bytes(8)
    assert "damaged" in refused(tmp_path / "paper.zip", archive_of({**parts, part: spoilt}))


def test_nothing_executable_and_no_folder_of_this_machine_is_kept(finished):
    for name in ("plain", "grouped"):
        parts = members(finished / name / "out" / "paper.zip")
        assert {part.rpartition(".")[2] for part in parts} <= {"json", "number", "whole", "flag", "text", "shape", "bytes"}
        assert str(finished).encode() not in b"".join(parts.values())
        document = json.loads(parts["document.json"])
        assert not any(key.startswith(("sheet", "cards", "keypad.display_")) for key in document["job"]) and "job.year" in document["job"]


def test_the_same_answers_are_kept_in_the_same_bytes(finished):
    kept = kept_run(finished / "grouped" / "out" / "paper.zip", "")
    again = kept_bytes(kept.answers, kept.job, kept.sources)
    assert again == (finished / "grouped" / "out" / "paper.zip").read_bytes()
    assert isinstance(kept.answers.sites, pd.DataFrame) and len(kept.answers.sites) == 8 and kept.answers.programmes.programmes[1].events[1].season.first == 401


@pytest.mark.parametrize("outlined", [True, False])
def test_only_the_programs_own_name_of_the_ground_is_translated(tmp_path, outlined):
    """An outline that its owner called "service area" keeps its name, also on paper that is made again."""
    grouped_job(tmp_path)
    box = {"type": "Polygon", "coordinates": [[[139, -36], [143, -36], [143, -34], [139, -34], [139, -36]]]}
    (tmp_path / "areas.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": {"area": "service area"}, "geometry": box}]}))
    if outlined:
        change(tmp_path / "job.toml", 'sites = "sites.csv"', 'sites = "sites.csv"\nareas = "areas.geojson"')
    add(tmp_path / "job.toml", '\n[cards]\nlanguage = "de"\n')
    run(read_job(tmp_path / "job.toml"), tmp_path / "out")
    kept = kept_run(tmp_path / "out" / "paper.zip", "").answers
    assert kept.outlined is outlined
    said = area_words("service area", kept.outlined, words_in("de"))
    assert said == ("service area" if outlined else words_in("de")("service_area")) and words_in("de")("service_area") != "service area"
    page = pypdfium2.PdfDocument(tmp_path / "out" / "cards.pdf")[0].get_textpage().get_text_bounded()
    assert said in page
