"""The job's [sheet] and [cards] sections carried out: sheet, cards and the phone's page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..numbers.cores import on_all_cores
from ..paper.carddata import CardOptions, group_cards
from ..paper.fonts import without_letters
from ..paper.options import Revision, SheetOptions
from ..paper.sizes import Paper
from ..paper.words import words_in
from ..trade.readings import Display
from .job import Job

if TYPE_CHECKING:
    import pandas as pd

    from ..answers import Answers

#: Files of the paper.
SHEET, CARDS, PHONE = ("sheet.pdf", "sheet.svg", "sheet.png"), "cards.pdf", "cards.html"


def sheet_options(job: Job) -> SheetOptions:
    """The sheet that a job asks for.

    Raises
    ------
    InputError
        For a language that there is no catalogue of, or a date that is none.
    """
    asked = job.sheet
    words_in(asked.language)
    fields = asked.model_dump(include={"scale", "crs", "language", "title", "supplement", "owner", "department", "reference",
                                       "document_type", "status", "number", "revision", "creator", "approver"})
    return SheetOptions(paper=Paper(asked.size, asked.orientation), issued=asked.date, per=asked.per or "",
                        revisions=tuple(Revision(one.index, one.what, one.date, one.by) for one in asked.revisions), **fields)


def card_options(job: Job) -> CardOptions:
    """The cards that a job asks for.

    Raises
    ------
    InputError
        For a language that there is no catalogue of, or a first day outside the plan's year.
    """
    words_in(job.cards.language)
    options = CardOptions(job.cards.size, job.cards.language, job.cards.first_day)
    options.day_of(job.job.year)
    return options


def display_of(job: Job) -> Display:
    """How the job's switches show dusk and dawn."""
    keypad = job.keypad
    return Display(includes_offsets={"included": True, "left out": False, "unknown": None}[keypad.display_offsets],
                   dawn=None if keypad.display_dawn == "unknown" else keypad.display_dawn,
                   error_min=keypad.display_error_min, hours=keypad.display_hours)


def check_paper(job: Job) -> None:
    """Refuse what cannot be printed before anything is computed."""
    sheet_options(job)
    card_options(job)


def of_the_paper(only: str = "") -> Callable[[str], bool]:
    """Whether a file of the output folder, by its name, is one that `write_paper` writes."""
    return {"": (*SHEET, CARDS, PHONE), "sheet": SHEET, "cards": (CARDS, PHONE)}[only].__contains__


def write_paper(job: Job, answers: "Answers", folder: Path, say: Callable[[str], None], only: str = "") -> tuple[str, ...]:
    """Write the paper into an existing folder.

    Parameters
    ----------
    job : Job
    answers : Answers
    folder : pathlib.Path
    say : callable
        Told in one line what is being done.
    only : {"", "sheet", "cards"}

    Returns
    -------
    tuple of str
        Sentences for the user: letters that the paper's fonts do not have. Usually empty.

    Raises
    ------
    InputError
        For a scale at which the area has no room.
    OSError
        If the disk refuses.
    """
    from ..paper.cards import cards_pdf
    from ..paper.sheet import sheet_files
    from ..screens.cardpage import draw_cards

    def draw_sheet() -> None:
        for kind, content in sheet_files(answers, sheet_options(job)).items():
            (folder / f"sheet.{kind}").write_bytes(content)

    def make_cards() -> None:
        options, display = card_options(job), display_of(job)
        cards = group_cards(answers, options, display, job.basis.keypad.clocks)
        on_all_cores(lambda make: make(), (lambda: (folder / CARDS).write_bytes(cards_pdf(answers, cards, options, display)),
                                           lambda: (folder / PHONE).write_bytes(draw_cards(answers, cards, options, display).encode("utf-8"))))

    wanted = []
    if only in ("", "sheet"):
        say("drawing the sheet")
        wanted.append(draw_sheet)
    if only in ("", "cards") and answers.listed:
        say("setting the cards")
        wanted.append(make_cards)
    # Side by side: the typesetter works in processes of its own.
    on_all_cores(lambda make: make(), wanted)
    return letters_missing(answers, job)


def write_visit_cards(job: Job, answers: "Answers", visited: set[str], folder: Path, say: Callable[[str], None]) -> None:
    """Cards of the groups in which sites are to be visited, with just these sites on them: cards.pdf and cards.html.

    Parameters
    ----------
    job : Job
    answers : Answers
    visited : set of str
        Their ids; nothing is written where there are none.
    folder : pathlib.Path
    say : callable
    """
    from ..paper.cards import cards_pdf
    from ..screens.cardpage import draw_cards

    mine = answers.sites["site_id"].astype(str).isin(visited).to_numpy()
    if not mine.any():
        return
    say("setting the cards")
    options, display = card_options(job), display_of(job)
    cards = [replace(card, rows=rows) for card in group_cards(answers, options, display, job.basis.keypad.clocks)
             if (rows := tuple(row for row in card.rows if mine[row]))]
    if answers.groups is not None:
        # A site of no group has no card, which is said of those that are visited: any other has a group that no card names.
        sites = answers.sites.copy()
        sites["group"] = sites["group"].astype(str).where(mine | (sites["group"].astype(str) != ""), "-")
        answers = replace(answers, sites=sites)
    (folder / CARDS).write_bytes(cards_pdf(answers, cards, options, display))
    (folder / PHONE).write_bytes(draw_cards(answers, cards, options, display).encode("utf-8"))


def crew_list(job: Job, answers: "Answers") -> "pd.DataFrame | None":
    """The crew lead's list, as `geozone.paper.crewlist.crew_table` makes it; None where there is nothing to drive to."""
    if not answers.listed:
        return None
    from ..paper.crewlist import crew_table

    return crew_table(answers, job.basis.keypad.clocks)


def letters_missing(answers: "Answers", job: Job) -> tuple[str, ...]:
    """A sentence on letters of names that the fonts do not have, and so stand as question marks on the paper."""
    sites = answers.sites
    texts = [answers.title, *sites["site_id"].astype(str), *sites["name"].astype(str), *answers.areas["area"].astype(str),
             *(str(value) for value in sheet_options(job).__dict__.values())]
    missing = without_letters(texts)
    if not missing:
        return ()
    letters, first = "".join(missing), next(iter(missing.values()))[0]
    return (f"The paper's fonts do not have {len(missing):,} letters of the names ({letters[:20]}{' …' if len(letters) > 20 else ''}, as in "
            f"“{first[:60]}”): on sheet and cards they stand as question marks; all other files have them.",)
