"""What a user asks of the paper: the fields of the title block, size, scale, language."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from ..errors import InputError
from .sizes import Paper


@dataclass(frozen=True)
class Revision:
    """A row of the revision table."""

    index: str
    what: str = ""
    date: str = ""
    by: str = ""


@dataclass(frozen=True)
class SheetOptions:
    """The sheet as asked for.

    Attributes
    ----------
    paper : Paper
    scale : int or None
        Ground metres per paper metre; None: the largest round one at which all has room.
    crs : str or None
        Such as "EPSG:32754"; None: chosen from the area.
    language : str
    owner, department, reference, document_type, status, title, supplement, number, revision, creator, approver, issued : str
        Fields of the title block, in the manner of ISO 7200; empty ones stay empty boxes to be filled in by hand.
    revisions : tuple of Revision
    per : {"", "area"}
        "area": an overview sheet and one sheet an outline.
    """

    paper: Paper = field(default_factory=Paper)
    scale: int | None = None
    crs: str | None = None
    language: str = "en"
    owner: str = ""
    department: str = ""
    reference: str = ""
    document_type: str = ""
    status: str = ""
    title: str = ""
    supplement: str = ""
    number: str = ""
    revision: str = ""
    creator: str = ""
    approver: str = ""
    issued: str = ""
    revisions: tuple[Revision, ...] = ()
    per: str = ""

    def __post_init__(self):
        if self.per not in ("", "area"):
            raise InputError("sheet.per is not known", value=self.per, rule='"area", or left out')
        if self.issued:
            try:
                date.fromisoformat(self.issued)
            except ValueError:
                raise InputError("sheet.date is no date", value=self.issued, rule="year-month-day, such as 2027-02-01") from None
        if self.scale is not None and not 100 <= self.scale <= 100_000_000:
            raise InputError("sheet.scale is out of range", value=self.scale, rule="ground metres per paper metre, 100 to 100,000,000",
                             next_step="scale = 25000 for 1:25,000")
