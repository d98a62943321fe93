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
