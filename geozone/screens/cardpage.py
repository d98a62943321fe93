"""The cards as one sealed page for a phone without a network."""

from __future__ import annotations

import html

from ..answers import Answers
from ..paper.carddata import CardOptions, GroupCard
from ..paper.phonedata import phone_data
from ..paper.words import words_in
from ..trade.readings import Display
from .mappage import WEB, as_json, sealed

_CARDS = WEB / "cards"


def draw_cards(answers: Answers, cards: list[GroupCard], options: CardOptions, display: Display) -> str:
    """The page: scripts, styles and data inside, nothing fetched; the same answers give the same text."""
    words = words_in(options.language)
    data = phone_data(answers, cards, display, words)
    parts = {"{language}": html.escape(words.language), "{title}": html.escape(f"{words('cards_title')}: {answers.title}"),
             "{styles}": (_CARDS / "cards.css").read_text(encoding="utf-8"),
             "{scripts}": "\n".join(["var geozone = {};", *((_CARDS / name).read_text(encoding="utf-8") for name in ("readings.js", "cards.js"))]),
             "{data}": as_json(data)}
    page = (_CARDS / "cards.html").read_text(encoding="utf-8")
    # Piece by piece, so that a text of the user that looks like a place to be filled in stays text.
    before, found = [], page
    for place in ("{language}", "{title}", "{styles}", "{data}", "{scripts}"):
        head, found = found.split(place, 1)
        before += [head, parts[place]]
    return sealed("".join([*before, found]))
