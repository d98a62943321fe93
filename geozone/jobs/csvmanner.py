"""How the CSV files of a run are written: plainly, or as the user's list is."""

from __future__ import annotations

from ..places.delimited import separator_meant
from ..places.manners import Manner
from ..places.sites import SiteList
from .job import Job


def csv_manner(job: Job, listed: SiteList) -> tuple[Manner, tuple[str, ...]]:
    """What [writing] asks for, and a note where the list decides or would have to.

    A key of its own wins over what the list shows. Of the list only separator and decimal sign are taken: in a code page not
    every name of a zone, a place or a person could be written.
    """
    asked = job.writing
    stated = {name: value for name, value in (("separator", asked.separator and separator_meant(asked.separator)),
                                              ("decimal", asked.decimal)) if value is not None}
    if asked.csv == "plain":
        return Manner(**stated, encoding=asked.encoding), ()
    shown = {name: value for name, value in (("separator", listed.separator), ("decimal", listed.decimal)) if value is not None}
    manner = Manner(**{**shown, **stated}, encoding=asked.encoding)
    lacks = [name for name in ("separator", "decimal") if name not in shown and name not in stated]
    why = ""
    if lacks and "separator" not in shown:
        why = f"{job.job.sites} is no text with several columns and shows no manner. "
    elif lacks:
        why = f"{job.job.sites} holds no number with a decimal sign. "
    remedy = " and ".join(f"[writing] {name}" for name in lacks)
    return manner, (f"{why}CSV files are written with {manner.words}{f'; {remedy} would change that' if lacks else ''}.",)
