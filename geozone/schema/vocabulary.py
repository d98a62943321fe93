"""Words that stand in tables and on the map as codes: results, events, kinds of lines, rows and nights.

A code that is not declared raises where it is looked up, so that no screen can explain one thing with the words of another.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import UndeclaredError


@dataclass(frozen=True)
class Term:
    """One code.

    Attributes
    ----------
    code : str
        As it stands in tables.
    words : str
        For people, where the code itself is too short.
    sentence : str
        What it means, in one plain sentence.
    sign : str
        How the map shows it: a shape, a line. "" where it does not.
    """

    code: str
    words: str
    sentence: str
    sign: str = ""


@dataclass(frozen=True)
class Vocabulary:
    """Codes of one kind.

    Attributes
    ----------
    name : str
    terms : tuple of Term
        In the order in which people list them.
    blank : bool
        True if an empty cell is allowed: "none".
    """

    name: str
    terms: tuple[Term, ...]
    blank: bool = False

    def __post_init__(self) -> None:
        if len(set(self.codes)) != len(self.codes) or not all(t.words and t.sentence.endswith(".") for t in self.terms):
            raise UndeclaredError(f"vocabulary {self.name}: a code twice, or one without words")

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(term.code for term in self.terms)

    def __getitem__(self, code: str) -> Term:
        for term in self.terms:
            if term.code == code:
                return term
        raise UndeclaredError(f"{code!r} is no {self.name}; declared: {', '.join(self.codes)}")

    def checked(self, codes) -> None:
        """Raise `UndeclaredError` for the first code that is not declared."""
        for code in dict.fromkeys(codes):
            if not (self.blank and code == ""):
                self[code]

    def words(self) -> dict[str, str]:
        """Words by code, for the page."""
        return {term.code: term.words for term in self.terms}


VERDICT = Vocabulary("result", (
    Term("within", "Within tolerance", "The shared setting serves the site on every night that is judged.", "warm disc with a dark rim"),
    Term("beyond", "Beyond tolerance", "The shared setting is unlit or lit too long beyond the tolerance on some night.", "dark lozenge"),
    Term("other clock", "Keeps another clock", "The site keeps another legal clock than the shared setting.", "white square with hands"),
))
EDGE = Vocabulary("edge", (
    Term("dusk", "dusk", "Switching at dusk."),
    Term("dawn", "dawn", "Switching at dawn."),
    Term("night", "whole night", "The sun does not pass the dark threshold, at the site or for the setting: no switching to compare."),
    Term("clock", "clock time", "Switching at a clock time of the programme."),
), blank=True)
ZONE_SOURCE = Vocabulary("zone source", (
    Term("boundary data", "boundary data", "The zone whose outline holds the site."),
    Term("site list", "site list", "The zone that the site list gives."),
    Term("nearest land", "nearest land", "The zone of the nearest land: the site lies off the coast of the boundary data."),
))
LINE = Vocabulary("line", (
    Term("tolerance", "tolerance line", "Where the shared setting reaches the tolerance, by position alone.", "thick line"),
    Term("drift", "equal minutes off", "Where the worst minutes off, unlit or lit too long, are the same share of the tolerance with the "
         "shared setting, by position alone.", "thin line"),
    Term("dusk", "equal dusk", "Where dusk falls at one time, on the night on which dusk is furthest apart.", "dotted line"),
))
LEVEL = Vocabulary("level", (
    Term("programme", "programme", "Adds the sites that run one programme."),
    Term("group", "group", "Adds the sites of one group."),
    Term("programme and group", "programme and group", "Adds the sites of one group that run one programme."),
    Term("site", "site", "One site."),
))
WAY = Vocabulary("way", (
    Term("own setting", "each on its own position", "Every switch holds its own position, as far as its keypad can."),
    Term("groups", "with these groups", "Every switch holds the setting of its group."),
    Term("one shared setting", "with one shared setting", "Every switch holds the shared setting."),
    Term("dusk to dawn", "from dusk to dawn everywhere, each on its own position",
         "Every switch holds its own position and is on from dusk to dawn."),
))
TURN = Vocabulary("turn", (Term("on", "on", "Switches the lamps on."), Term("off", "off", "Switches the lamps off.")))
FAULTY_NIGHT = Vocabulary("faulty night", (
    Term("on after dawn", "dawn has come before this event: the lamps stay on through the day",
         "An event switches on after the last event that switches off."),
    Term("off before on", "the lamps are switched off before they are on, and then stay on",
         "An event that switches off comes before the one that switches on."),
    Term("on before off", "the lamps are switched on before the event that switches them off, and then stay off",
         "An event that switches on comes before the one that switches off, which leaves the night dark."),
    Term("no dusk or dawn", "the sun does not pass the dark threshold, and nothing turns the lamps back",
         "An event at dusk or dawn does not come that night."),
    Term("never happens", "the event never comes in this year", "The event is due on no night of the year."),
    Term("left out by the clock", "the clock is put forward over this time", "The clock time does not exist that night."),
    Term("twice on the clock", "the clock is put back over this time and shows it twice", "The clock time comes twice that night."),
    Term("other", "the light is not what is meant", "The light differs from what is meant in another way."),
))
READING_STATE = Vocabulary("reading state", (
    Term("agrees", "agrees", "The right setting reads, or switches, so. That does not prove that it is keyed."),
    Term("differs", "differs", "The right setting does not read so; slips that explain it are named."),
    Term("no known slip", "no known slip", "The right setting does not read so, and neither does any slip or pair of slips that is known."),
    Term("not read", "not read", "Nothing that can be used was read at this site."),
))
AUDIT_RESULT = Vocabulary("audit result", (
    Term("within", "within tolerance", "The year's light is within tolerance: with the right setting where the reading agrees, with every single slip "
         "that explains it where it differs (pairs where none does)."),
    Term("beyond", "beyond tolerance", "The same, beyond tolerance."),
    Term("open", "open", "With some explanations it is within tolerance and with others not, or there are more than were reckoned."),
    Term("not known", "not known", "Nothing was read, or nothing explains what was read."),
))
LOG_STATE = Vocabulary("log state", (
    Term("agrees", "agrees", "The right setting switches so. That does not prove that it is keyed."),
    Term("differs", "differs", "The right setting does not switch so; slips that do are counted and named."),
    Term("no known slip", "no known slip", "The right setting does not switch so, and neither does any slip or pair of slips that is known."),
    Term("light sensor", "light sensor", "The times scatter together with those of neighbours, as under one sky, and follow no setting."),
    Term("scatters", "scatters", "The times scatter and follow no setting: a light sensor, or a switch that scatters for security."),
    Term("too few nights", "too few nights", "Fewer than seven nights, or than ten switchings at dusk and dawn: nothing is concluded."),
    Term("not used", "not used", "Nothing is concluded: the programme has no event at dusk or dawn, or the times are not legal time."),
), blank=True)
WATCH_REASON = Vocabulary("watch reason", (
    Term("hidden slip", "slip that cannot be seen yet", "The reading fits slips as well that show from this date."),
    Term("clock rule", "keyed clock parts from the law", "The clock that the keypad can hold differs from legal time from this date."),
))
LAW_CHANGE = Vocabulary("change of law", (
    Term("visit", "another clock to key", "The keyed clock does not show legal time any more from a date, and another one is to be keyed."),
    Term("stays", "legal time changes, the keyed clock stays", "Legal time changes, but no clock of the keypad follows it better over a year than "
         "the one that is keyed."),
    Term("same", "no change", "Both laws are the same in the years that are compared."),
    Term("not known", "not known", "One of the two databases does not have the zone."),
))

VOCABULARIES = {one.name: one for one in (VERDICT, EDGE, ZONE_SOURCE, LINE, LEVEL, WAY, TURN, FAULTY_NIGHT, READING_STATE, AUDIT_RESULT, LOG_STATE, WATCH_REASON,
                                          LAW_CHANGE)}
