"""The demo jobs and the template of a new job, as they come with the package."""

from __future__ import annotations

import shutil
from pathlib import Path

from ..errors import OutputError
from ..invocation import command

# What a person asks for -> the folder that holds it.
EXAMPLES = {"demo": "border", "town": "town", "template": "template"}


def examples_folder() -> Path:
    """The folder with the jobs: inside the package when installed, ``data/`` beside it in a source tree."""
    package = Path(__file__).parents[1]
    installed = package / "demo_data"
    return installed if installed.is_dir() else package.parent / "data"


def write_example(name: str, folder: str | Path) -> Path:
    """Copy a job with its data into a folder.

    Parameters
    ----------
    name : {"demo", "town", "template"}
        Which job.
    folder : str or path
        Made if missing. A folder that already holds this very job (and perhaps its results) is left as it is.

    Returns
    -------
    pathlib.Path
        The job file in the folder.

    Raises
    ------
    OutputError
        If the folder holds anything else, or a changed copy of the job, or cannot be written. Nothing is overwritten.
    """
    source = examples_folder() / EXAMPLES[name]
    folder = Path(folder)
    files = sorted(path for path in source.iterdir() if path.is_file())
    try:
        _check_free(folder, files)
        missing = [path for path in files if not (folder / path.name).exists()]
        folder.mkdir(parents=True, exist_ok=True)
        for path in missing:
            shutil.copyfile(path, folder / path.name)
    except OSError as error:
        raise OutputError("the job folder cannot be written", where=str(folder), value=error.strerror or str(error),
                          next_step="name another folder") from error
    return folder / "job.toml"


def _check_free(folder: Path, files: list[Path]) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise OutputError("a file has the name of the job folder", where=str(folder), next_step="name another folder")
    there = {path.name for path in folder.iterdir()}
    if there and "job.toml" not in there:
        raise OutputError("the folder is in use", where=str(folder), value=", ".join(sorted(there)[:3]),
                          rule="a new job goes into a new or empty folder", next_step="name another folder")
    changed = [path.name for path in files
               if path.name in there and (folder / path.name).read_bytes() != path.read_bytes()]
    if changed:
        raise OutputError("the folder holds a job already, and it was changed", where=str(folder), value=", ".join(changed),
                          rule="your changes are never overwritten",
                          next_step=f"name another folder, or run your job: {command('run', folder / 'job.toml')}")
