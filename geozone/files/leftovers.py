"""What a run that was killed left beside its output folder, and how the next run takes it away.

A run that writes holds a lock on a small file beside the target, ``.NAME.xxxxxxxx.lock``. The operating system lets go of the
lock when the process ends, however it ends. So a file of this name that can be locked belongs to a dead run, and what else has
its name may be put in order: nothing of a live one is touched, not of one on another machine that shares the disk either.
Where the disk knows no locks nothing is swept.

A run also holds a lock of this kind from its beginning on, ``.NAME.00000000.lock``, so that a second one for the same folder is told at
once and not after an hour (`Turn`).
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import OutputError

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
_TURN, _PAUSE_S = 8 * "0", 0.02


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


@contextmanager
def turn_at(target: Path) -> Iterator[None]:
    """Be the only one at work for an output folder, until the block is left or the process ends.

    Raises
    ------
    OutputError
        If somebody else is: a desk, or a command in another window.
    """
    stream = _taken_turn(target)
    try:
        yield
    finally:
        if stream is not None:
            _close_turn(stream, target)


def _taken_turn(target: Path):
    """The open file that is locked; None where there is no folder to lock in, or none that may be written: that is said by those who write."""
    for _ in range(_TRIES):
        try:
            stream = _open_turn(target)
        except OSError:
            return None
        if _lock(stream) is not False and _still_there(stream, target):
            return stream
        stream.close()
        time.sleep(_PAUSE_S)  # the one before just takes its file away, or somebody looks whether it is a dead one's
    raise OutputError("somebody else is at work for this output folder", where=str(target), rule="one run at a time, of a desk or of a command in any window",
                      next_step="wait for its end or stop it, or name another folder with -o")


def turn_taken(target: Path) -> bool:
    """Whether somebody is at work for an output folder."""
    try:
        with open(_turn_file(target), "r+b") as stream:
            return _lock(stream) is False
    except OSError:
        return False


def _turn_file(target: Path) -> Path:
    return target.with_name(f".{target.name}.{_TURN}.lock")


def _open_turn(target: Path):
    stream = open(_turn_file(target), "a+b")  # noqa: SIM115 (held until the turn is over)
    if not os.fstat(stream.fileno()).st_size:
        stream.write(_CONTENT)
        stream.flush()
    return stream


def _still_there(stream, target: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(stream.fileno()), os.stat(_turn_file(target)))
    except OSError:
        return False


def _close_turn(stream, target: Path) -> None:
    if os.name == "nt":  # an open file cannot be taken away there
        stream.close()
    try:
        _turn_file(target).unlink(missing_ok=True)
    except OSError:
        pass
    stream.close()


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
