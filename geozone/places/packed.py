"""Zip archives from strangers: looked at before anything is unpacked."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path, PurePosixPath

from ..errors import InputError

#: A million sites make a shapefile of about 300 MB; ten times that is no site list.
MOST_BYTES = 3_000_000_000
MOST_MEMBERS = 2_000
#: Deflate reaches about 1000:1 on nothing but zeros; real tables stay below 100:1.
MOST_RATIO = 200
RATIO_MATTERS_ABOVE = 100_000_000


def check_zip(packed: zipfile.ZipFile, file: str) -> None:
    """Refuse what would fill the disk, leave its folder or need a password.

    Raises
    ------
    InputError
    """
    members = packed.infolist()
    size = sum(m.file_size for m in members)
    stored = max(1, sum(m.compress_size for m in members))
    if len(members) > MOST_MEMBERS or size > MOST_BYTES or (
            size > RATIO_MATTERS_ABOVE and size / stored > MOST_RATIO):
        raise InputError("the archive unpacks to more than a list of sites can be", where=file,
                         value=f"{len(members)} files, {size / 1e6:.0f} MB from {stored / 1e6:.1f} MB",
                         rule=f"at most {MOST_MEMBERS} files and {MOST_BYTES / 1e9:.0f} GB",
                         next_step="unpack it yourself, look at it, and give the file inside")
    for member in members:
        name = member.filename.replace("\\", "/")
        if name.startswith("/") or ".." in PurePosixPath(name).parts or ":" in name.split("/")[0]:
            raise InputError("the archive holds a file that would be written outside its folder", where=file,
                             value=member.filename, next_step="ask for a clean archive; this one was not unpacked")
        if member.flag_bits & 1:
            raise InputError("the archive is protected by a password", where=file,
                             next_step="unpack it yourself and give the file inside")


def unpack(path: Path, folder: Path, endings: tuple[str, ...]) -> list[Path]:
    """Unpack the members with these endings into `folder`; every copy counts what it really writes.

    Folders inside the archive are kept, so that two layers of one name do not overwrite each other.
    Names are made anew from the checked parts. Raises InputError as `check_zip`, and for damage.
    """
    written, done = 0, []
    try:
        with zipfile.ZipFile(path) as packed:
            check_zip(packed, path.name)
            for member in packed.infolist():
                parts = PurePosixPath(member.filename.replace("\\", "/")).parts
                if member.is_dir() or "__MACOSX" in parts or not parts[-1].lower().endswith(endings):
                    continue
                target = folder.joinpath(*parts)
                target.parent.mkdir(parents=True, exist_ok=True)
                with packed.open(member) as source, target.open("wb") as sink:
                    while block := source.read(1 << 20):
                        written += len(block)
                        if written > MOST_BYTES:
                            raise InputError("the archive unpacks to more than it admits", where=path.name,
                                             next_step="unpack it yourself and give the file inside")
                        sink.write(block)
                done.append(target)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError,
            ValueError) as why:
        raise InputError("the archive is damaged and cannot be unpacked", where=path.name, value=str(why),
                         next_step="fetch or pack it again") from None
    return sorted(done)
