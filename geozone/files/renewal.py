"""Some files of a finished result made again, all of them or none; whatever else lies in its folder stays as it is.

The folder is built beside the old one from links to its files and the new ones, and takes its place in one step, as in `folder`.
"""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import OutputError
from .folder import cannot_write, earlier_summary, files_in, put_in_place
from .leftovers import Claim, sweep
from .sums import SUMMARY_NAME, SUMS_KEY, changed_files, sealed_summary


def check_renewable(path: Path, belongs: Callable[[str], bool]) -> dict:
    """The summary of a result some of whose files may be replaced.

    Parameters
    ----------
    path : Path
        The folder of a result.
    belongs : callable
        Whether a file, by its name relative to the folder, is one of those to be replaced.

    Raises
    ------
    OutputError
        If one of them, or the summary, is not as geozone wrote it, or cannot be read.
    """
    try:
        sweep(path.parent)
        summary = earlier_summary(path)
        sums = summary.get(SUMS_KEY) or {}
        mine = {name: was for name, was in sums.items() if belongs(name) or name == SUMMARY_NAME}
        changed = changed_files(path, {SUMS_KEY: mine})
        changed += [name for name in files_in(path) if belongs(name) and name not in sums]
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise cannot_write(path, error if isinstance(error, OSError) else ValueError(str(error)), "") from error
    if changed:
        raise OutputError("files that would be replaced were edited since geozone wrote them", where=str(path),
                          value=", ".join(sorted(changed)[:3]), rule="nobody's work is replaced",
                          next_step="move or rename those files, then make the paper again"
                          if SUMMARY_NAME not in changed else f"put {SUMMARY_NAME} back as it was, or run the job again into another folder with -o")
    return summary


@contextmanager
def renewed(path: str | os.PathLike, belongs: Callable[[str], bool], known: dict | None = None) -> Iterator[Path]:
    """Replace some files of a result: inside the block a folder to write them into, after it they are in their place.

    Files that belong to them and were not written again are gone. All others stay, also such as somebody edited or put there;
    their sums in ``summary.json`` stay too, so that the next run still knows an edited one.

    Parameters
    ----------
    path, belongs
        As `check_renewable`.
    known : dict, optional
        The summary that `check_renewable` gave when what the new files are made of was read.

    Raises
    ------
    OutputError
        As `check_renewable`; if the folder was changed while the block ran, or since `known` was read; if the disk refuses. Every other exception from the
        block passes. In all cases the folder is as it was.
    """
    target = Path(path).resolve()
    changed = OutputError("the folder was changed while its paper was made again", where=str(path), rule="nothing was replaced",
                          next_step="make the paper again")
    claim = None
    try:
        claim = Claim(target)
        # The state first: a change after it is seen at the end, one before it in the summary.
        before = _state(target)
        summary = check_renewable(target, belongs)
        if known is not None and summary != known:
            raise changed
        _linked(target, claim.part, lambda name: belongs(name) or name == SUMMARY_NAME)
        yield claim.part
        _sealed(claim.part, summary, belongs)
        if _state(target) != before:
            raise changed
        put_in_place(claim.part, target, claim.before)
    except BaseException as error:
        if claim is not None:
            shutil.rmtree(claim.part, ignore_errors=True)
            if target.exists():
                shutil.rmtree(claim.before, ignore_errors=True)
            claim.release()
        if isinstance(error, OSError):
            raise cannot_write(path, error, "") from error
        raise
    claim.release()


def _state(folder: Path) -> dict[str, tuple[int, int, int]]:
    """What would differ if somebody wrote into the folder: which files there are, their sizes and times."""
    found = {}
    for name in files_in(folder):
        there = (folder / name).lstat()
        found[name] = (there.st_ino, there.st_size, there.st_mtime_ns)
    return found


def _linked(folder: Path, target: Path, left_out: Callable[[str], bool]) -> None:
    """The same files in another folder: links where the disk has them, which take no room and no time, else copies."""
    for above, folders, files in os.walk(folder):
        here = target / Path(above).relative_to(folder)
        here.mkdir()
        for name in [*files, *(one for one in folders if (Path(above) / one).is_symlink())]:
            source = Path(above) / name
            if left_out(source.relative_to(folder).as_posix()):
                continue
            try:
                os.link(source, here / name, follow_symlinks=False)
            except (OSError, NotImplementedError):
                shutil.copy2(source, here / name, follow_symlinks=False)
        os.chmod(here, stat.S_IMODE(os.stat(above).st_mode) | stat.S_IRWXU)


def _sealed(part: Path, summary: dict, belongs: Callable[[str], bool]) -> None:
    new = {name for name in files_in(part) if belongs(name)}
    files = sorted({*(name for name in summary["files"] if not belongs(name)), *new})
    known = {name: was for name, was in summary[SUMS_KEY].items() if name not in new}
    plain = {key: value for key, value in summary.items() if key not in ("files", SUMS_KEY)}
    (part / SUMMARY_NAME).write_bytes(sealed_summary({**plain, "files": files}, part, files, known))
