"""What a run has read and placed, kept for the next one: what did not change is neither read nor placed again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from .job import Job
from .paperagain import source_sums
from .steps import Placed, Read, place, read


@dataclass(frozen=True, eq=False)
class Kept:
    """A job's files, read and placed.

    Attributes
    ----------
    files : Read
    placed : Placed
    depends : tuple
        All that they hang on.
    """

    files: Read
    placed: Placed
    depends: tuple

    def fits(self, job: Job, setting_too: bool = True) -> bool:
        """Whether a job would read and place the very same: its files by their content.

        Parameters
        ----------
        job : Job
        setting_too : bool
            The setting's position says where the sites must be, so remarks hang on it; sites, clocks and outlines do not.
        """
        return not job.frames and self.depends[setting_too is False:] == depends_on(job)[setting_too is False:]


def keep(job: Job, say: Callable[[str], None] = lambda text: None) -> Kept:
    """Read a job's files and place them.

    Raises
    ------
    InputError
    """
    # Before they are read: a file that changes meanwhile then does not fit.
    depends = depends_on(job)
    say("reading the site list" if job.job.sites else "reading the outlines")
    files = read(job)
    say("finding legal zones and clocks")
    return Kept(files, place(files.sites, files.areas, job.basis.year), depends)


def depends_on(job: Job) -> tuple:
    """What reading and placing hang on: where the job lies, its year, how its files are read, and their sums."""
    named = job.job.model_dump(exclude={"title", "years"})
    return ((job.shared.lat_deg, job.shared.lon_deg), job.called, named, job.columns.model_dump(), job.reading.model_dump(), job.writing.model_dump(),
            job.file_of("along"), source_sums(job))
