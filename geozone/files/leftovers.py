"""What a run that was killed left beside its output folder, and how the next run takes it away.

A run that writes holds a lock on a small file beside the target, ``.NAME.xxxxxxxx.lock``. The operating system lets go of the
lock when the process ends, however it ends. So a file of this name that can be locked belongs to a dead run, and what else has
its name may be put in order: nothing of a live one is touched, not of one on another machine that shares the disk either.
Where the disk knows no locks nothing is swept.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None
    import msvcrt

_CONTENT = b"geozone writes the folder beside this file\n"
_LOCK_NAME = re.compile(r"\.(?P<name>.+)\.(?P<token>[0-9a-f]{8})\.lock")
# Windows locks bytes and keeps others from reading them: one far behind the content.
_LOCKED_BYTE = 4096
_TRIES = 20


class Claim:
    """The names beside a target that one run writes under, and the lock that says it is alive.

    Attributes
    ----------
    part, before : Path
        The folder being written, and the old result while the two change places.

    Raises
    ------
    OSError
        If no file can be made beside the target.
    """

    def __init__(self, target: Path):
        for _ in range(_TRIES):
            token = secrets.token_hex(4)
            self._path = target.with_name(f".{target.name}.{token}.lock")
            self._stream = open(self._path, "x+b")  # noqa: SIM115 (held until close)
            try:
                self._stream.write(_CONTENT)
                self._stream.flush()
                held = self._held()
            except BaseException:
                self._stream.close()
                self._path.unlink(missing_ok=True)
                raise
            if held:
                break
            self._stream.close()  # a sweeping run was quicker and takes it for a dead one's
        self.part, self.before = (target.with_name(f".{target.name}.{token}.{kind}") for kind in ("part", "before"))

    def _held(self) -> bool:
        locked = _lock(self._stream)
        if locked:
            try:
                return os.path.samestat(os.fstat(self._stream.fileno()), os.stat(self._path))
            except OSError:
                return False
        return locked is None

    def release(self) -> None:
        """Let go. What could not be taken away keeps its lock file, by which a later run finds it."""
        self._stream.close()
        if not self.part.exists() and not self.before.exists():
            try:
                self._path.unlink(missing_ok=True)
            except OSError:
                pass


def sweep(folder: Path) -> None:
    """Take away what dead runs left in a folder; an old result that a kill caught half-way comes back to its place.

    Never raises: what cannot be taken away stays.
    """
    try:
        names = [name for name in os.listdir(folder) if _LOCK_NAME.fullmatch(name)]
    except OSError:
        return
    for name in names:
        try:
            _sweep_one(folder, name)
        except OSError:
            continue


def _sweep_one(folder: Path, name: str) -> None:
    found = _LOCK_NAME.fullmatch(name)
    target = folder / found["name"]
    part, before = (folder / f".{found['name']}.{found['token']}.{kind}" for kind in ("part", "before"))
    with open(folder / name, "r+b") as stream:
        if stream.read(len(_CONTENT) + 1) not in (_CONTENT, b"") or not _lock(stream):
            return
        if before.exists() and not target.exists():
            os.rename(before, target)
        elif before.exists() and part.exists():
            # The run died before its own result was in place, and somebody made a new folder since: both are kept.
            os.rename(before, folder / f"{found['name']}-before-{found['token']}")
        for left in (part, before):
            shutil.rmtree(left, ignore_errors=True)
        if part.exists() or before.exists():
            return
        if os.name == "nt":  # an open file cannot be taken away there
            stream.close()
        os.unlink(folder / name)


def _lock(stream) -> bool | None:
    """Lock an open file without waiting: True, False if somebody else holds it, None where the disk knows no locks."""
    if fcntl is None:
        stream.seek(_LOCKED_BYTE)
        try:
            msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
    try:
        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return None
    return True
