"""One output folder, written whole or not at all.

Everything goes to a folder beside the target first and is renamed when complete, so that nobody ever reads a half-written
result and last year's result survives this year's mistake.
"""

from __future__ import annotations

import errno
import json
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import OutputError
from .exchange import exchanged
from .leftovers import Claim, sweep
from .sums import SUMMARY_NAME, SUMS_KEY, changed_files, sealed_summary

MADE_BY = "geozone"

# What desktop programs and file managers drop beside the files they open: no reason to call a folder "in use".
_STRAY_NAMES = {".ds_store", "thumbs.db", "desktop.ini"}
_STRAY_ENDINGS = ("-wal", "-shm", "-journal")


def check_target(path: str | os.PathLike) -> Path:
    """The folder that may be written, or a refusal before any work is done; what killed runs left beside it is taken away.

    Parameters
    ----------
    path : str or path
        The output folder; it need not exist.

    Returns
    -------
    pathlib.Path
        The folder, absolute, links followed.

    Raises
    ------
    OutputError
        If the folder holds anything that geozone did not write or that was edited since, if a file is in the way, or if it
        cannot be looked into.
    """
    try:
        target = Path(path).resolve()
        sweep(target.parent)
        if not target.exists():
            _check_above(target)
            return target
        if not target.is_dir():
            raise OutputError("a file has the name of the output folder", where=str(path),
                              rule="results are written to a folder of their own",
                              next_step="name another folder with -o, or move the file away")
        _check_above(target)
        summary = earlier_summary(target)
        foreign = _foreign(target, summary)
        changed = changed_files(target, summary)
    except RuntimeError:  # Python up to 3.12 for a link that leads to itself
        raise OutputError("the output folder is a link that leads to itself", where=str(path),
                          next_step="name another folder with -o, or delete the link") from None
    except (OSError, ValueError) as error:
        raise cannot_write(path, error) from error
    if foreign:
        raise OutputError("the output folder is in use", where=str(path), value=", ".join(foreign[:3]),
                          rule="only an empty folder, or one with nothing in it but an earlier result, is replaced",
                          next_step="name another folder with -o, or move those files away")
    if changed:
        raise OutputError("the output folder holds files that were edited since geozone wrote them", where=str(path),
                          value=", ".join(changed[:3]) + (f" and {len(changed) - 3} more" if len(changed) > 3 else ""),
                          rule="nobody's work is replaced",
                          next_step="move or rename those files (or the folder) and run again, or name another folder with -o")
    return target


@contextmanager
def whole_folder(path: str | os.PathLike) -> Iterator[Path]:
    """Write a folder whole: a new folder inside the block, the target after it, nothing if the block fails.

    An earlier result of geozone is replaced; anything else is refused. On leaving the block ``summary.json`` gets the keys
    ``made_by``, ``files`` and ``sha256``, by which a later run recognises what it may replace.

    Parameters
    ----------
    path : str or path
        The output folder. Missing folders above it are made, and taken away again if the block fails.

    Yields
    ------
    pathlib.Path
        The folder to write into, beside the target on the same file system.

    Raises
    ------
    OutputError
        As `check_target`; also when the disk refuses (full, read-only, no permission). Every other exception from the
        block passes unchanged. In all cases, an interrupt among them, the old folder is as it was and no file is left over.

    Notes
    -----
    On Linux and macOS old and new change places in one step: whatever happens, the folder is the old one or the new one. Where
    the system cannot do that (Windows, some network disks) there is a moment without a target between two renames. An
    exception in it is undone; a process killed in it is put right by the next run, see `leftovers`.
    """
    target = check_target(path)
    made_above: list[Path] = []
    claim = None
    try:
        _make_folders_above(target, made_above)
        claim = Claim(target)
        claim.part.mkdir()  # mkdir, not mkdtemp: the result gets the permissions any other new folder of this user has
        yield claim.part
        _seal(claim.part)
        check_target(target)  # somebody may have put a file there while we were computing
        put_in_place(claim.part, target, claim.before)
    except BaseException as error:
        if claim is not None:
            shutil.rmtree(claim.part, ignore_errors=True)
            if target.exists():
                shutil.rmtree(claim.before, ignore_errors=True)
            claim.release()
        for folder in reversed(made_above):
            try:
                folder.rmdir()
            except OSError:
                break
        if isinstance(error, OSError):
            raise cannot_write(path, error) from error
        raise
    claim.release()


def is_device(name: str) -> bool:
    """Whether Windows keeps a name for a device, whatever its ending (https://learn.microsoft.com/windows/win32/fileio/naming-a-file)."""
    return re.fullmatch(r"con|prn|aux|nul|com\d|lpt\d", name.split(".")[0].casefold()) is not None


def earlier_summary(folder: Path) -> dict:
    """The summary of an earlier result of geozone; empty if there is none."""
    try:
        summary = json.loads((folder / SUMMARY_NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    ours = isinstance(summary, dict) and summary.get("made_by") == MADE_BY and isinstance(summary.get("files"), list)
    return summary if ours else {}


def _foreign(folder: Path, summary: dict) -> list[str]:
    """Names in the folder that no earlier result of geozone accounts for, sorted."""
    ours = {str(name) for name in summary.get("files", ())}
    return [name for name in files_in(folder) if name not in ours and not _is_stray(name, ours)]


def _is_stray(name: str, ours: set[str]) -> bool:
    if name.rsplit("/", 1)[-1].lower() in _STRAY_NAMES:
        return True
    return any(name.endswith(ending) and name[: -len(ending)] in ours for ending in _STRAY_ENDINGS)


def files_in(folder: Path) -> list[str]:
    """All files below the folder as sorted relative names with "/"; empty folders end in "/"."""
    names = []
    for above, folders, files in os.walk(folder, onerror=_raise):
        relative = Path(above).relative_to(folder)
        # A link to a folder is listed as a folder but not walked: report it as a thing of its own.
        links = [name for name in folders if (Path(above) / name).is_symlink()]
        names += [(relative / name).as_posix() for name in [*files, *links]]
        if not files and not folders and relative != Path("."):
            names.append(relative.as_posix() + "/")
    return sorted(names)


def _raise(error: OSError) -> None:
    raise error


def _seal(part: Path) -> None:
    """Put the marker, the list of files and their sums into summary.json."""
    summary_path = part / SUMMARY_NAME
    summary = json.loads(summary_path.read_text(encoding="utf-8")) if summary_path.exists() else {}
    files = sorted({*files_in(part), SUMMARY_NAME})
    summary = {"made_by": MADE_BY, **{k: v for k, v in summary.items() if k not in ("made_by", "files", SUMS_KEY)}, "files": files}
    summary_path.write_bytes(sealed_summary(summary, part, files))


def put_in_place(part: Path, target: Path, before: Path) -> None:
    """Put `part` in the place of `target`; if that fails the target is back."""
    if not target.exists():
        os.rename(part, target)
        return
    if exchanged(part, target):
        shutil.rmtree(part, ignore_errors=True)
        return
    try:
        os.rename(target, before)
        os.rename(part, target)
    except BaseException:
        if before.exists() and not target.exists():
            os.rename(before, target)
        raise
    shutil.rmtree(before, ignore_errors=True)


def _make_folders_above(target: Path, made: list[Path]) -> None:
    missing = []
    above = target.parent
    while not above.exists():
        missing.append(above)
        above = above.parent
    for folder in reversed(missing):
        folder.mkdir()
        made.append(folder)


def _check_above(target: Path) -> None:
    """Say early what mkdir would say after a long computation."""
    above = next((folder for folder in target.parents if folder.exists()), target)
    if not above.is_dir():
        raise OutputError("a file is in the way of the output folder", where=str(target), value=str(above),
                          next_step="name another folder with -o")
    if not os.access(above, os.W_OK | os.X_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(above))


def cannot_write(path: str | os.PathLike, error: OSError | ValueError, or_else: str = ", or name another folder with -o") -> OutputError:
    """The error for a disk that refuses; `or_else` ends its advice."""
    reason = getattr(error, "strerror", None) or str(error)
    return OutputError("the output folder cannot be written", where=str(path), value=reason,
                       rule="nothing was left half-written; an earlier result is as it was",
                       next_step=f"close programs that have its files open, check its permissions and the free space{or_else}")
