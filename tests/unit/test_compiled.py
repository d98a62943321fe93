"""Where compiled code is kept."""

import os

import pytest

from geozone import compiled


@pytest.fixture
def fresh(monkeypatch, tmp_path):
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(compiled, "_digest", lambda: "0123")
    monkeypatch.setattr(compiled, "_own_temporary", lambda: tmp_path / "temporary")
    monkeypatch.setattr(compiled, "_user_cache", lambda: tmp_path / "user")
    compiled.cache_folder.cache_clear()
    monkeypatch.setattr(compiled, "troubles", [])
    yield monkeypatch, tmp_path
    compiled.cache_folder.cache_clear()


def test_in_the_users_cache_and_what_is_old_goes(fresh):
    monkeypatch, tmp_path = fresh
    monkeypatch.setattr(compiled, "_PACKAGE", tmp_path / "package")
    old, recent = (tmp_path / "user" / "geozone" / name for name in ("kernels-old", "kernels-recent"))
    for folder in (old, recent):
        folder.mkdir(parents=True)
    os.utime(old, (0, 0))
    assert compiled.cache_folder() == tmp_path / "user" / "geozone" / "kernels-0123"
    assert recent.exists() and not old.exists()
    # An uninstall would leave it behind, and it would hide an editable install.
    assert not (tmp_path / "package").exists()


def test_beside_the_package_where_the_users_cache_cannot_be_written(fresh):
    monkeypatch, tmp_path = fresh
    (tmp_path / "user").write_text("a file, so nothing can be made below it")
    monkeypatch.setattr(compiled, "_PACKAGE", tmp_path / "package")
    assert compiled.cache_folder() == tmp_path / "package" / "__pycache__" / "kernels-0123"


def test_in_the_temporary_folder_where_there_is_no_home(fresh):
    monkeypatch, tmp_path = fresh
    for name in ("package", "user"):
        (tmp_path / name).write_text("a file")
    monkeypatch.setattr(compiled, "_PACKAGE", tmp_path / "package")
    assert compiled.cache_folder() == tmp_path / "temporary" / "kernels-0123"


def test_compiling_without_any_folder_still_works(fresh):
    monkeypatch, tmp_path = fresh
    for name in ("package", "user", "temporary"):
        (tmp_path / name).write_text("a file")
    monkeypatch.setattr(compiled, "_PACKAGE", tmp_path / "package")
    assert compiled.cache_folder() is None

    @compiled.kernel()
    def twice(x):
        return 2 * x

    assert twice(21) == 42


def test_the_folder_changes_with_the_kernels(monkeypatch, tmp_path):
    for name in compiled.CALLED_FROM_OTHERS:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("one")
    monkeypatch.setattr(compiled, "_PACKAGE", tmp_path)
    before = compiled._digest()
    (tmp_path / compiled.CALLED_FROM_OTHERS[0]).write_text("two")
    assert compiled._digest() != before


def made(folder, name="doubled", source="return 2 * x"):
    """Compile a function of a file below `folder`, as a module of the package would."""
    import importlib.util

    path = folder / f"{name}.py"
    path.write_text(f"from geozone import compiled\n\n\n@compiled.kernel()\ndef {name}(x):\n    {source}\n")
    spec = importlib.util.spec_from_file_location(f"{name}_{id(folder)}", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return getattr(module, name)


def kept(tmp_path):
    return sorted((tmp_path / "user").rglob("*.nb[ci]"))


def test_what_is_kept_is_used_again(fresh):
    _, tmp_path = fresh
    assert made(tmp_path)(21) == 42 and len(kept(tmp_path)) == 2
    again = made(tmp_path)
    assert again(21) == 42 and sum(again.stats.cache_hits.values()) == 1 and not compiled.troubles


@pytest.mark.parametrize("damage", ["one bit", "cut", "empty", "rubbish"])
@pytest.mark.parametrize("ending", [".nbc", ".nbi"])
def test_a_damaged_file_is_thrown_away_and_said(fresh, damage, ending):
    _, tmp_path = fresh
    made(tmp_path)(21)
    path, = [p for p in kept(tmp_path) if p.suffix == ending]
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 4
    path.write_bytes({"one bit": bytes(raw), "cut": bytes(raw[:40]), "empty": b"", "rubbish": b"x" * 500}[damage])
    assert made(tmp_path)(21) == 42
    assert any("damaged" in text for text in compiled.troubles)
    compiled.troubles.clear()
    again = made(tmp_path)
    assert again(21) == 42 and sum(again.stats.cache_hits.values()) == 1 and not compiled.troubles


def test_a_full_disk_stops_no_run(fresh):
    monkeypatch, tmp_path = fresh

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(compiled._SealedFiles, "_open_for_write", full)
    assert made(tmp_path)(21) == 42
    assert any("No space left" in text for text in compiled.troubles)


posix = pytest.mark.skipif(not hasattr(os, "getuid"), reason="no owners of this kind here")
root = pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() != 0, reason="only the administrator can give files away")


@posix
def test_a_new_cache_is_this_users_alone(fresh):
    assert compiled.cache_folder().stat().st_mode & 0o777 == 0o700


@root
@pytest.mark.parametrize("planted", ["folder", "above", "file"])
def test_what_another_user_planted_is_not_run(fresh, planted):
    monkeypatch, tmp_path = fresh
    monkeypatch.setattr(compiled, "_PACKAGE", tmp_path / "package")
    folder = tmp_path / "user" / "geozone" / "kernels-0123"
    folder.mkdir(parents=True)
    (folder / "x.nbi").write_bytes(b"theirs")
    os.chown({"folder": folder, "above": folder.parent, "file": folder / "x.nbi"}[planted], 12345, 12345)
    found = compiled.cache_folder()
    assert not (found / "x.nbi").exists() and found.stat().st_uid == 0
    assert (found == folder) == (planted == "file")  # what is ours is made anew, what is not is left alone
    assert any("others can" in text or "others could" in text for text in compiled.troubles)


@posix
def test_a_folder_that_all_can_write_to_is_emptied_first(fresh):
    _, tmp_path = fresh
    folder = tmp_path / "user" / "geozone" / "kernels-0123"
    folder.mkdir(parents=True)
    (folder / "x.nbi").write_bytes(b"whose?")
    folder.chmod(0o777)
    assert compiled.cache_folder() == folder and not list(folder.iterdir()) and folder.stat().st_mode & 0o777 == 0o700


@posix
def test_no_cache_below_a_folder_that_all_can_write_to(fresh):
    """Who can write to a folder can rename what lies in it, unless it is marked as /tmp is (sticky, chmod(1))."""
    monkeypatch, tmp_path = fresh
    monkeypatch.setattr(compiled, "_PACKAGE", tmp_path / "package")
    (tmp_path / "user").mkdir()
    (tmp_path / "user").chmod(0o777)
    assert compiled.cache_folder() == tmp_path / "package" / "__pycache__" / "kernels-0123"
    compiled.cache_folder.cache_clear()
    (tmp_path / "user").chmod(0o1777)
    assert compiled.cache_folder() == tmp_path / "user" / "geozone" / "kernels-0123"


@posix
def test_a_link_planted_in_the_temporary_folder_leads_nowhere(fresh):
    monkeypatch, tmp_path = fresh
    for name in ("package", "user"):
        (tmp_path / name).write_text("a file")
    monkeypatch.setattr(compiled, "_PACKAGE", tmp_path / "package")
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs").chmod(0o777)
    (tmp_path / "temporary").symlink_to(tmp_path / "theirs")
    assert compiled.cache_folder() is None


def test_a_relative_cache_folder_is_not_taken(monkeypatch, tmp_path):
    """XDG base directory specification 0.8: "relative paths must be ignored"."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CACHE_HOME", "here")
    if os.name == "posix" and os.uname().sysname == "Linux":
        assert compiled._user_cache() == tmp_path / ".cache"


HOMES = {"no HOME": {"HOME": None}, "HOME that is a file": {"HOME": "/etc/passwd"},
         "NUMBA_CACHE_DIR that is a file": {"NUMBA_CACHE_DIR": "/etc/passwd"},
         "all of them": {"HOME": "/proc/none", "XDG_CACHE_HOME": "/proc/none", "XDG_CONFIG_HOME": "/proc/none",
                         "MPLCONFIGDIR": "/proc/none",
                         "NUMBA_CACHE_DIR": "/proc/none"}}


@posix
@pytest.mark.parametrize("home", HOMES)
def test_a_home_that_cannot_be_written_is_no_traceback(home):
    """The parts that keep something in the home: the compiler's cache and the pictures' fonts."""
    import subprocess
    import sys

    environment = {**os.environ, **{k: v for k, v in HOMES[home].items() if v is not None}}
    for name in (k for k, v in HOMES[home].items() if v is None):
        environment.pop(name, None)
    done = subprocess.run([sys.executable, "-c",
                           "import geozone.numbers.intervals, geozone.places.zoneshapes, geozone.files.looks, geozone.files.yearpicture, "
                           "geozone.compiled as c\n"
                           "from matplotlib.figure import "
                           "Figure\nFigure().add_subplot().set_title('x').get_window_extent()\nprint('whole')"],
                          env=environment, capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "whole" and "Traceback" not in done.stderr


def test_a_librarys_compiled_functions_are_kept_here_too(fresh):
    _, tmp_path = fresh
    path = tmp_path / "foreign.py"
    path.write_text("from numba import njit\n\n\n@njit('int64(int64)', cache=True)\ndef doubled(x):\n    return 2 * x\n")

    def load():
        import importlib.util

        spec = importlib.util.spec_from_file_location("foreign", path)
        module = importlib.util.module_from_spec(spec)
        with compiled.library_kernels():
            spec.loader.exec_module(module)
        return module.doubled

    assert load()(21) == 42 and len(kept(tmp_path)) == 2 and not list(tmp_path.glob("__pycache__/*.nb*"))
    for file in kept(tmp_path):
        file.write_bytes(b"damaged")
    assert load()(21) == 42 and compiled.troubles


def test_the_time_zone_library_is_among_them():
    """timezonefinder compiles at its import; without a place of its own to write to, that import would fail."""
    import subprocess
    import sys

    done = subprocess.run([sys.executable, "-c", "import geozone.places.zoneshapes\nfrom timezonefinder import utils_numba as u\n"
                           "print({type(f._cache).__module__ for f in vars(u).values() if hasattr(f, '_cache')})"],
                          capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "{'geozone.compiled'}", done.stderr
