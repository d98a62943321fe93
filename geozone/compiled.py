"""Compilation of the numeric kernels, and where the compiled code is kept.

The compiler's own cache asks only whether the file of a function has changed, not the files of the functions it
calls: after an update it can run old code. So the compiled code lies in a folder named by the content of every
module whose compiled functions are called from another one.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
import tempfile
import time
from functools import lru_cache
from pathlib import Path

import numba

_PACKAGE = Path(__file__).parent

_OLD_S = 90 * 86400.0

# A test reads the imports of all modules and fails when one is missing here.
CALLED_FROM_OTHERS = ("numbers/comparison.py", "numbers/crossing.py", "numbers/intervals.py", "setcover/bits.py", "trade/latch.py")


def kernel(**options):
    """Decorator: compile for speed, release the interpreter's lock, keep the result for the next run.

    Parameters
    ----------
    **options
        Passed on to `numba.njit`.
    """
    def decorate(function):
        folder = cache_folder()
        before = numba.config.CACHE_DIR
        numba.config.CACHE_DIR = str(folder or "")
        try:
            return numba.njit(nogil=True, error_model="numpy", cache=folder is not None, **options)(function)
        finally:
            numba.config.CACHE_DIR = before
    return decorate


@lru_cache(maxsize=1)
def cache_folder() -> Path | None:
    """Where compiled kernels are kept: in the user's cache, else beside the package, else in the temporary folder.

    Not beside the package first: an uninstall leaves there what it did not install, and what is left of a package
    folder hides one that is installed elsewhere later (an editable install after a plain one).
    None if no folder can be written at all: every run then compiles again.
    """
    name = f"kernels-{_digest()}"
    chosen = os.environ.get("NUMBA_CACHE_DIR")
    for base in [Path(chosen)] if chosen else [_user_cache() / "geozone", _PACKAGE / "__pycache__", _own_temporary()]:
        folder = base / name
        try:
            folder.mkdir(parents=True, exist_ok=True)
            probe = folder / f".probe-{os.getpid()}"
            probe.touch()
            probe.unlink()
        except OSError:
            continue
        _forget_old(base, folder)
        return folder
    return None


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
    return hashlib.sha256(content + numba.__version__.encode() + sys.version.encode()).hexdigest()[:16]


def _user_cache() -> Path:
    try:
        home = Path.home()
    except RuntimeError:  # a service account without a home
        return _own_temporary()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    if sys.platform == "darwin":
        return home / "Library" / "Caches"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache")


def _own_temporary() -> Path:
    # Named by user, so that on a shared machine nobody runs code that somebody else left there.
    return Path(tempfile.gettempdir()) / f"geozone-{os.getuid() if hasattr(os, 'getuid') else 'cache'}"
