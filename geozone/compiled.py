"""Compilation of the numeric kernels, and where the compiled code is kept.

The compiler's own cache asks only whether the file of a function has changed, not the files of the functions it
calls: after an update it can run old code. So the compiled code lies in a folder named by the content of every
module whose compiled functions are called from another one.

Whoever can write into that folder decides what this user's next run executes. So it is used only where nobody else can, and
each file in it ends with its own checksum: a damaged one is thrown away and compiled again instead of being run.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
import stat
import sys
import tempfile
import time
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path

import numba
from numba.core import dispatcher
from numba.core.caching import FunctionCache, IndexDataCacheFile, NullCache

_PACKAGE = Path(__file__).parent

_OLD_S = 90 * 86400.0

# A test reads the imports of all modules and fails when one is missing here.
CALLED_FROM_OTHERS = ("numbers/comparison.py", "numbers/crossing.py", "numbers/intervals.py", "setcover/bits.py", "trade/latch.py")


# What went wrong with the kept code, in sentences for the end of a run; nothing here ever stops one.
troubles: list[str] = []


def kernel(**options):
    """Decorator: compile for speed, release the interpreter's lock, keep the result for the next run.

    Parameters
    ----------
    **options
        Passed on to `numba.njit`.
    """
    def decorate(function):
        made = numba.njit(nogil=True, error_model="numpy", **options)(function)
        made._cache = _cache_of(function)  # as numba's own cache=True does
        return made
    return decorate


@contextmanager
def library_kernels():
    """A library imported in this block keeps its compiled functions as geozone does, whatever place it would choose itself.

    Its own place may be anybody's, damaged, or impossible: without a home that can be written its import would fail.
    """
    before = dispatcher.FunctionCache
    dispatcher.FunctionCache = _cache_of
    try:
        yield
    finally:
        dispatcher.FunctionCache = before


def _cache_of(function):
    """Where the compiled code of a function is kept; a cache that keeps nothing where there is no place."""
    folder, before = cache_folder(), numba.config.CACHE_DIR
    if folder is None:
        return NullCache()
    numba.config.CACHE_DIR = str(folder)
    try:
        return _KernelCache(function)
    except (OSError, RuntimeError) as why:  # the folder went away: compile every time
        _trouble(f"compiled arithmetic cannot be kept: {why}")
        return NullCache()
    finally:
        numba.config.CACHE_DIR = before


class _SealedFiles(IndexDataCacheFile):
    """The compiler's files, each followed by its checksum; a file that does not match it is as if it were not there."""

    def _load_index(self):
        content = _unsealed(self._index_path)
        if content is None:
            return {}
        version, stamp, overloads = pickle.loads(content)
        return overloads if (version, stamp) == (self._version, self._source_stamp) else {}

    def _save_index(self, overloads):
        with self._open_for_write(self._index_path) as stream:
            stream.write(_sealed(self._dump((self._version, self._source_stamp, overloads))))

    def _load_data(self, name):
        content = _unsealed(self._data_path(name))
        return None if content is None else pickle.loads(content)

    def _save_data(self, name, data):
        with self._open_for_write(self._data_path(name)) as stream:
            stream.write(_sealed(self._dump(data)))


class _KernelCache(FunctionCache):
    """The compiler's cache, which may fail in any way without stopping a run."""

    def __init__(self, function):
        super().__init__(function)
        plain = self._cache_file
        self._cache_file = _SealedFiles(plain._cache_path, plain._index_name.removesuffix(".nbi"), plain._source_stamp)

    def load_overload(self, sig, target_context):
        try:
            return super().load_overload(sig, target_context)
        except Exception as why:
            _trouble(f"compiled arithmetic of an earlier run cannot be used and is compiled again: {why}")
            return None

    def save_overload(self, sig, data):
        try:
            super().save_overload(sig, data)
        except Exception as why:
            _trouble(f"compiled arithmetic cannot be kept, so the next run compiles again: {why}")


def _sealed(content: bytes) -> bytes:
    return content + hashlib.sha256(content).digest()


def _unsealed(path: str) -> bytes | None:
    try:
        raw = Path(path).read_bytes()
    except FileNotFoundError:
        return None
    content, seal = raw[:-32], raw[-32:]
    if hashlib.sha256(content).digest() == seal:
        return content
    _trouble("compiled arithmetic of an earlier run was damaged; it was thrown away and compiled again")
    try:
        os.unlink(path)
    except OSError:
        pass
    return None


def _trouble(text: str) -> None:
    if text not in troubles:
        troubles.append(text)


@lru_cache(maxsize=1)
def cache_folder() -> Path | None:
    """Where compiled kernels are kept: in the user's cache, else beside the package, else in the temporary folder.

    Not beside the package first: an uninstall leaves there what it did not install, and what is left of a package
    folder hides one that is installed elsewhere later (an editable install after a plain one).
    None if no folder can be written, or none that others cannot write into: every run then compiles again.
    """
    name = f"kernels-{_digest()}"
    chosen = os.environ.get("NUMBA_CACHE_DIR")
    for base in [Path(chosen)] if chosen else [_user_cache() / "geozone", _PACKAGE / "__pycache__", _own_temporary()]:
        try:
            folder = _private((base / name).absolute())
            if folder is None:
                continue
            probe = folder / f".probe-{os.getpid()}"
            probe.touch()
            probe.unlink()
        except (OSError, ValueError):
            continue
        _forget_old(folder.parent, folder)
        return folder
    _trouble("there is no folder that only you can write to; compiled arithmetic is not kept, so each run compiles again")
    return None


def _private(folder: Path) -> Path | None:
    """The folder, made if missing, links followed; None where another user could change what lies in it."""
    missing = [above for above in (folder, *folder.parents) if not above.exists()]
    for above in reversed(missing):
        above.mkdir(mode=0o700, exist_ok=True)  # as the XDG base directory specification asks of a cache
    folder = folder.resolve(strict=True)
    if not hasattr(os, "getuid"):  # on Windows these folders belong to the user's profile
        return folder
    stranger = next((above for above in folder.parents if not _only_ours(above)), None)
    if stranger is not None:
        _trouble(f"others can change {stranger}, so compiled arithmetic is not kept below it")
        return None
    if not _only_ours(folder) or not all(_only_ours(part) and not part.is_symlink() for part in folder.rglob("*")):
        _trouble(f"others could change {folder}, so what lay in it is not used")
        if os.stat(folder).st_uid != os.getuid():
            return None
        shutil.rmtree(folder)
        folder.mkdir(mode=0o700)
    return folder


def _only_ours(path: Path) -> bool:
    """Whether only this user or the administrator can change a file, or what a folder lists under its names."""
    found = os.lstat(path)
    if found.st_uid not in (os.getuid(), 0):
        return False
    if stat.S_ISDIR(found.st_mode) and found.st_mode & stat.S_ISVTX:
        return True  # as /tmp: others may add names, not change ours
    return not (found.st_mode & stat.S_IWOTH or found.st_mode & stat.S_IWGRP and not _own_group(found.st_gid))


def _own_group(gid: int) -> bool:
    """Whether a group has no member but this user, as the private groups of many systems."""
    try:
        import grp
        import pwd

        group, user = grp.getgrgid(gid), pwd.getpwuid(os.getuid())
    except (ImportError, KeyError):
        return False
    return gid == user.pw_gid and set(group.gr_mem) <= {user.pw_name} and group.gr_name == user.pw_name


def _forget_old(base: Path, kept: Path) -> None:
    """Take away what earlier versions left; another one in use now and then keeps its folder fresh by compiling."""
    for old in base.glob("kernels-*"):
        try:
            if old != kept and time.time() - old.stat().st_mtime > _OLD_S:
                shutil.rmtree(old, ignore_errors=True)
        except OSError:
            continue


def _digest() -> str:
    content = b"\0".join((_PACKAGE / name).read_bytes() for name in CALLED_FROM_OTHERS
                          if (_PACKAGE / name).exists())
    return hashlib.sha256(b"sealed" + content + numba.__version__.encode() + sys.version.encode()).hexdigest()[:16]


def _user_cache() -> Path:
    try:
        home = Path.home()
    except RuntimeError:  # a service account without a home
        return _own_temporary()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    if sys.platform == "darwin":
        return home / "Library" / "Caches"
    chosen = os.environ.get("XDG_CACHE_HOME", "")
    return Path(chosen) if os.path.isabs(chosen) else home / ".cache"  # the specification ignores relative ones


def _own_temporary() -> Path:
    # Named by user; whether it is this user's is asked by `_private`.
    return Path(tempfile.gettempdir()) / f"geozone-{os.getuid() if hasattr(os, 'getuid') else 'cache'}"
