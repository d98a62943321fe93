"""The output folder is written whole or not at all."""

import hashlib
import json
import os
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from geozone.errors import InputError, OutputError
from geozone.files.folder import check_target, whole_folder

ROOT = Path(__file__).parents[2]


def write_result(target, text="new"):
    with whole_folder(target) as part:
        (part / "map.html").write_text(text)
        (part / "summary.json").write_text('{"sites": {"read": 3}}')


def names(folder):
    return sorted(p.name for p in folder.iterdir())


def test_a_new_folder_is_made_with_the_folders_above_it(tmp_path):
    target = tmp_path / "a" / "b" / "out"
    write_result(target)
    assert names(target) == ["map.html", "summary.json"]
    assert names(target.parent) == ["out"]


def test_the_summary_gets_the_marker_and_the_list_of_files_and_keeps_its_own_keys(tmp_path):
    with whole_folder(tmp_path / "out") as part:
        (part / "summary.json").write_text('{"sites": {"read": 3}, "title": "Quaïrn"}')
        (part / "cards").mkdir()
        (part / "cards" / "a.pdf").write_bytes(b"x")
    summary = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    sums = summary.pop("sha256")
    assert summary == {"made_by": "geozone", "sites": {"read": 3}, "title": "Quaïrn",
                       "files": ["cards/a.pdf", "summary.json"]}
    assert list(sums) == ["cards/a.pdf", "summary.json"] and sums["cards/a.pdf"] == hashlib.sha256(b"x").hexdigest()


def test_an_earlier_result_is_replaced_whole(tmp_path):
    target = tmp_path / "out"
    with whole_folder(target) as part:
        (part / "only-in-the-old-one.csv").write_text("x")
    write_result(target)
    assert names(target) == ["map.html", "summary.json"]
    assert names(tmp_path) == ["out"]


def test_an_empty_folder_is_used(tmp_path):
    (tmp_path / "out").mkdir()
    write_result(tmp_path / "out")
    assert (tmp_path / "out" / "map.html").read_text() == "new"


def test_the_result_has_the_permissions_of_any_new_folder(tmp_path):
    write_result(tmp_path / "out")
    (tmp_path / "plain").mkdir()
    assert (tmp_path / "out").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_link_to_a_folder_is_followed_and_stays_a_link(tmp_path):
    (tmp_path / "disk").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "disk")
    write_result(tmp_path / "out")
    assert (tmp_path / "out").is_symlink()
    assert names(tmp_path / "disk") == ["map.html", "summary.json"]


@pytest.mark.parametrize("content", [
    {"notes.txt": "mine"},
    {"summary.json": '{"made_by": "somebody else", "files": ["summary.json"]}'},
    {"summary.json": "not json"},
    {"summary.json": "[]"},
    {"summary.json": '{"made_by": "geozone", "files": 7}'},
    {"job.toml": "[job]", "sites.csv": "site_id"},
])
def test_a_folder_with_anything_else_in_it_is_refused_and_untouched(tmp_path, content):
    target = tmp_path / "out"
    target.mkdir()
    for name, text in content.items():
        (target / name).write_text(text)
    with pytest.raises(OutputError, match="in use"):
        write_result(target)
    assert {p.name: p.read_text() for p in target.iterdir()} == content
    assert names(tmp_path) == ["out"]


def test_a_file_that_a_person_added_to_a_result_is_never_deleted(tmp_path):
    target = tmp_path / "out"
    write_result(target, "old")
    (target / "my remarks.docx").write_text("two hours of work")
    with pytest.raises(OutputError, match="my remarks.docx"):
        write_result(target)
    assert (target / "my remarks.docx").read_text() == "two hours of work"
    assert (target / "map.html").read_text() == "old"


def test_an_empty_subfolder_that_a_person_made_counts_as_well(tmp_path):
    write_result(tmp_path / "out")
    (tmp_path / "out" / "photos").mkdir()
    with pytest.raises(OutputError, match="photos/"):
        check_target(tmp_path / "out")


def test_what_a_desktop_program_drops_beside_our_files_is_no_reason_to_refuse(tmp_path):
    target = tmp_path / "out"
    write_result(target, "old")
    for name in (".DS_Store", "Thumbs.db", "map.html-wal"):
        (target / name).write_text("x")
    write_result(target)
    assert names(target) == ["map.html", "summary.json"]
    (target / "other.gpkg-wal").write_text("somebody's database")
    with pytest.raises(OutputError, match="other.gpkg-wal"):
        write_result(target)


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="a file has the name"):
        write_result(tmp_path / "out")
    assert (tmp_path / "out").read_text() == "a file"


def test_a_file_above_the_folder_is_refused(tmp_path):
    (tmp_path / "a").write_text("a file")
    with pytest.raises(OutputError):
        write_result(tmp_path / "a" / "out")
    assert names(tmp_path) == ["a"]


def test_a_name_that_no_file_system_takes_is_refused(tmp_path):
    with pytest.raises(OutputError):
        write_result(tmp_path / ("x" * 300))
    assert names(tmp_path) == []


@pytest.mark.skipif(getattr(os, "geteuid", lambda: 1)() == 0, reason="permissions do not bind the superuser")
def test_a_folder_above_without_permission_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(OutputError, match="cannot be written"):
            write_result(tmp_path / "out")
    finally:
        tmp_path.chmod(0o700)


def test_permission_is_asked_before_any_work_is_done(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(OutputError, match="cannot be written"):
        check_target(tmp_path / "out")


@pytest.mark.parametrize("failure, expected", [
    (OSError(28, "No space left on device"), OutputError),
    (KeyboardInterrupt(), KeyboardInterrupt),
    (InputError("bad"), InputError),
    (ZeroDivisionError(), ZeroDivisionError),
])
def test_any_failure_leaves_the_old_result_and_no_litter(tmp_path, failure, expected):
    target = tmp_path / "out"
    write_result(target, "old")
    before = {p.name: p.read_bytes() for p in target.iterdir()}
    with pytest.raises(expected):
        with whole_folder(target) as part:
            (part / "map.html").write_text("half")
            raise failure
    assert {p.name: p.read_bytes() for p in target.iterdir()} == before
    assert names(tmp_path) == ["out"]


def test_a_failure_takes_the_folders_above_away_again(tmp_path):
    with pytest.raises(KeyboardInterrupt):
        with whole_folder(tmp_path / "a" / "b" / "out"):
            raise KeyboardInterrupt
    assert names(tmp_path) == []


def failing_rename(fail_at, failure):
    real, calls = os.rename, []

    def rename(source, destination):
        calls.append(destination)
        if len(calls) == fail_at:
            raise failure
        return real(source, destination)

    return rename


@pytest.mark.parametrize("failure, expected", [(OSError(5, "Input/output error"), OutputError),
                                               (KeyboardInterrupt(), KeyboardInterrupt)])
@pytest.mark.parametrize("fail_at", [1, 2])
def test_a_failing_swap_puts_the_old_result_back(tmp_path, monkeypatch, fail_at, failure, expected):
    target = tmp_path / "out"
    write_result(target, "old")
    monkeypatch.setattr("geozone.files.folder.exchanged", lambda one, other: False)  # a system that renames one at a time
    monkeypatch.setattr("geozone.files.folder.os.rename", failing_rename(fail_at, failure))
    with pytest.raises(expected):
        write_result(target)
    monkeypatch.undo()
    assert (target / "map.html").read_text() == "old"
    assert names(tmp_path) == ["out"]


def test_a_file_put_there_during_the_run_is_not_lost(tmp_path):
    target = tmp_path / "out"
    write_result(target, "old")
    with pytest.raises(OutputError, match="late.txt"):
        with whole_folder(target) as part:
            (part / "map.html").write_text("new")
            (target / "late.txt").write_text("mine")
    assert (target / "late.txt").read_text() == "mine"
    assert (target / "map.html").read_text() == "old"


def run_script(body, tmp_path):
    script = textwrap.dedent(f"""
        import sys
        sys.path.insert(0, {str(ROOT)!r})
        from geozone.files.folder import whole_folder
        target = {str(tmp_path / "out")!r}
    """) + textwrap.dedent(body)
    return subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
def test_control_c_in_a_real_process_leaves_the_old_result_and_no_litter(tmp_path):
    write_result(tmp_path / "out", "old")
    process = run_script("""
        import signal, time
        signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background job ignores it
        with whole_folder(target) as part:
            (part / "map.html").write_text("half")
            print("writing", flush=True)
            time.sleep(60)
    """, tmp_path)
    assert process.stdout.readline() == "writing\n"
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=30)
    assert "KeyboardInterrupt" in errors
    assert (tmp_path / "out" / "map.html").read_text() == "old"
    assert names(tmp_path) == ["out"]


@pytest.mark.skipif(sys.platform == "win32", reason="resource limits")
def test_a_real_refusal_of_the_disk_is_an_output_error(tmp_path):
    """A file-size limit of the operating system stands in for the full disk: write() itself fails."""
    write_result(tmp_path / "out", "old")
    process = run_script("""
        import resource
        from geozone.errors import OutputError
        resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, 10_000))
        try:
            with whole_folder(target) as part:
                (part / "map.html").write_bytes(b"x" * 100_000)
        except OutputError as error:
            print(error)
            sys.exit(2)
    """, tmp_path)
    said, errors = process.communicate(timeout=30)
    assert process.returncode == 2, errors
    assert "cannot be written" in said
    assert (tmp_path / "out" / "map.html").read_text() == "old"
    assert names(tmp_path) == ["out"]
