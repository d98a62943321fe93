"""A list of another kind than a Shapefile in a zip archive, as portals hand them out."""

from __future__ import annotations

import zipfile
from pathlib import Path, PurePosixPath

from ..errors import InputError
from .packed import unpack


def lone_list(path: Path, wanted: str | None, endings: tuple[str, ...]) -> str | None:
    """The one member of an archive that is a list; None where it holds a Shapefile or nothing that is read.

    Raises
    ------
    InputError
        If it holds several lists and none is stated.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            names = [m.filename for m in packed.infolist() if not m.is_dir() and "__MACOSX" not in m.filename]
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return None  # the Shapefile reader says what is wrong with it
    if any(name.lower().endswith(".shp") for name in names):
        return None
    lists = [n for n in names if n.lower().endswith(endings) and not n.lower().endswith((".zip", ".shp"))
             and not PurePosixPath(n).name.startswith(".")]
    if wanted is not None and any(wanted in (n, PurePosixPath(n).name) for n in lists):
        lists = [n for n in lists if wanted in (n, PurePosixPath(n).name)]
    if len(lists) > 1:
        raise InputError("the archive holds several lists", where=path.name, value=", ".join(lists[:6]),
                         rule="one is the site list", next_step=f'state it as [reading] layer = "{lists[0]}", or give it unpacked')
    return lists[0] if lists else None


def unpacked(path: Path, member: str, folder: Path) -> Path:
    """The member on disk in `folder`; archives that cannot be trusted are refused as `packed.unpack` does."""
    name = PurePosixPath(member.replace("\\", "/")).name
    for done in unpack(path, folder, (name.lower(),)):
        if done.name == name and done.relative_to(folder).as_posix() == PurePosixPath(member.replace("\\", "/")).as_posix():
            return done
    raise InputError("the archive does not hold what its list of contents says", where=path.name, value=member,
                     next_step="fetch or pack it again")
