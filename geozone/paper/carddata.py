"""What stands on the cards, as plain data for their template and for the phone's page."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ..errors import InputError
from ..grouping.cabinets import cabinet_names, driven_rows
from ..numbers import clock
from ..schema.column import step_decimals
from ..trade.readings import Display, Keyed, readings
from ..trade.slipdifferences import SlipTable, slip_tables
from ..trade.slips import Slip, slips_of
from ..trade.switchclock import ClockKeypad, Keying, best_keying
from .phrases import keyed_words
from .words import Words, words_in

if TYPE_CHECKING:
    from ..answers import Answers
    from ..trade.setting import Setting

#: Rows of differences on a card; the phone's page has all.
ROWS = 12
FORTNIGHT, WEEK = 14, 7
#: Groups around whose setting could have been keyed instead.
OTHER_GROUPS = 6


@dataclass(frozen=True)
class CardOptions:
    """What a user asks of the cards.

    Attributes
    ----------
    size : {"A4", "A6"}
    language : str
    first_day : str
        ISO date of the visit, in the plan's year; "" for its first day.
    """

    size: str = "A4"
    language: str = "en"
    first_day: str = ""

    def __post_init__(self):
        if self.size not in ("A4", "A6"):
            raise InputError("no such card size", value=self.size, rule="A4 or A6")
        if self.first_day:
            try:
                date.fromisoformat(self.first_day)
            except ValueError:
                raise InputError("cards.first_day is no date", value=self.first_day, rule="year-month-day, such as 2027-06-21") from None

    def day_of(self, year: int) -> int:
        """The first day as a day of the plan's year, 0 for 1 January.

        Raises
        ------
        InputError
            If it lies in another year.
        """
        if not self.first_day:
            return 0
        first = date.fromisoformat(self.first_day)
        if first.year != year:
            raise InputError("cards.first_day lies outside the plan's year", value=self.first_day, rule=f"a date of {year}",
                             next_step="make the plan for that year, or name another day")
        return (first - date(year, 1, 1)).days


@dataclass(frozen=True)
class GroupCard:
    """One group with what its crew needs.

    Attributes
    ----------
    name : str
        Group; "" for the one shared setting.
    programmes : tuple of str
        Programmes that its sites run; empty for a job without. Sites of a group whose programmes shift dusk or dawn differently
        have a card each, because other corrections are keyed.
    setting : Setting
        The group's, with the programme's shift added to its offsets: what is keyed.
    keying : Keying
        The clock to key and when it is wrong.
    keyed : Keyed
    slips : tuple of Slip
    table : SlipTable
        For the week of the visit.
    rows : tuple of int
        Its sites as rows of the site table, in driving order.
    events : tuple of (str, str)
        What is keyed for each programme: shifts at dusk and dawn as the sum of the setting's and the programme's.
    """

    name: str
    programmes: tuple[str, ...]
    setting: "Setting"
    keying: Keying
    keyed: Keyed
    slips: tuple[Slip, ...]
    table: SlipTable
    rows: tuple[int, ...] = ()
    events: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class KeyedGroup:
    """What is keyed into the switches of one card; fields as of `GroupCard`, rows in the order of the list."""

    name: str
    programmes: tuple[str, ...]
    setting: "Setting"
    keying: Keying
    rows: tuple[int, ...]
    events: tuple[tuple[str, str], ...]


def keyed_groups(answers: "Answers", clocks: ClockKeypad, words: Words) -> list[KeyedGroup]:
    """What is keyed, card by card."""
    settings = _settings(answers)
    keyings = {zone: best_keying(clock.offsets(zone, answers.year), answers.year, clocks) for zone in sorted({one.legal_zone for _, one in settings})}
    rows, events = _rows_of_sites(answers), _events(answers, words)
    present: dict[str, set[str]] = {}
    for name, programme in rows:
        present.setdefault(name, set()).add(programme)
    return [KeyedGroup(name, programmes, setting, keyings[setting.legal_zone],
                       tuple(sorted(row for programme in programmes or ("",) for row in rows.get((name, programme), ()))),
                       tuple((programme, events.get((name, programme), "")) for programme in programmes))
            for name, plain in settings for programmes, setting in _variants(answers, present.get(name, set()), plain)]


def group_cards(answers: "Answers", options: CardOptions, display: Display, clocks: ClockKeypad) -> list[GroupCard]:
    """A card for each group of the plan, or one for the shared setting where there are no groups."""
    year, first_day = answers.year, options.day_of(answers.year)
    on = date(year, 1, 1) + timedelta(first_day)
    groups = keyed_groups(answers, clocks, words_in(options.language))

    keying_of = {one.name: one.keying for one in groups}
    plain = [(name, keyed_of(setting, keying_of[name], answers.altitude_deg)) for name, setting in _settings(answers) if name in keying_of]
    rights = [keyed_of(one.setting, one.keying, answers.altitude_deg) for one in groups]
    slips = [tuple(slips_of(right, answers.keypad, on, nearest_others(one.name, right, plain))) for one, right in zip(groups, rights, strict=True)]
    tables = slip_tables(list(zip(rights, slips, strict=True)), display, year=year, first_day=first_day)
    answers = replace(answers, sites=answers.sites[_driven_by(answers)])
    return [GroupCard(one.name, one.programmes, one.setting, one.keying, right, mine, table, _driven(answers, one.rows), one.events)
            for one, right, mine, table in zip(groups, rights, slips, tables, strict=True)]


def keyed_of(setting: "Setting", keying: Keying, altitude_deg: float) -> Keyed:
    """What a switch holds with a setting and the clock that follows its legal time best."""
    return Keyed(setting.lat_deg, setting.lon_deg, keying.switch_clock, altitude_deg, setting.dusk_offset_min, setting.dawn_offset_min)


def _settings(answers: "Answers") -> list[tuple[str, "Setting"]]:
    """Settings of the plan by the names of their groups; the shared one has none."""
    return [(one.name, one.setting) for one in answers.groups.plan.settings] if answers.groups is not None else [("", answers.setting)]


def _rows_of_sites(answers: "Answers") -> dict[tuple[str, str], list[int]]:
    """Rows of the site table by group and programme, each "" where the job has none."""
    n = len(answers.sites)
    group = answers.sites["group"].astype(str).tolist() if answers.groups is not None else [""] * n
    programme = answers.sites["programme"].astype(str).tolist() if answers.programmes is not None else [""] * n
    found: dict[tuple[str, str], list[int]] = {}
    for row, key in enumerate(zip(group, programme, strict=True)):
        found.setdefault(key, []).append(row)
    return found


def _driven_by(answers: "Answers") -> list[str]:
    """Columns of the site table that the driving order goes by: taking some rows of all takes far longer than the order."""
    together = answers.groups.keep_together if answers.groups is not None else None
    wanted = {"area", "lat_deg", "lon_deg", *((together, f"{together}_given") if together else ())}
    return [name for name in answers.sites.columns if name in wanted]


def _driven(answers: "Answers", rows: tuple[int, ...]) -> tuple[int, ...]:
    mine = np.array(rows, dtype=int)  # in the order of the list, as `KeyedGroup` has them
    sites = answers.sites.iloc[mine]
    return tuple(mine[driven_rows(sites, cabinets_of(answers, sites))].tolist())


def _events(answers: "Answers", words: Words) -> dict[tuple[str, str], str]:
    """What is keyed by group and programme, in the paper's language."""
    found = answers.programmes
    if found is None:
        return {}
    named = {one.name: one for one in found.programmes}
    pairs = found.sites[["setting_label", "programme"]].drop_duplicates().itertuples(index=False)
    return {("" if answers.groups is None else str(label), str(programme)):
            keyed_words(named[programme], found.settings[label], answers.keypad, words) for label, programme in pairs}


def cabinets_of(answers: "Answers", sites) -> list[str]:
    """Cabinet of each of some sites, from the column that keep_together names; "" where there is none."""
    if answers.groups is None or not answers.groups.keep_together:
        return [""] * len(sites)
    return [str(name) for name in cabinet_names(sites, answers.groups.keep_together)]


def nearest_others(name: str, right: Keyed, plain: list[tuple[str, Keyed]]) -> list[tuple[str, Keyed]]:
    """Settings of the groups around, which a crew may have in its hands as well."""
    others = [(other, one) for other, one in plain if other != name]
    return sorted(others, key=lambda one: (abs(one[1].lat_deg - right.lat_deg) + abs((one[1].lon_deg - right.lon_deg + 180) % 360 - 180),
                                           one[0]))[:OTHER_GROUPS]


def _variants(answers: "Answers", present: set[str], setting: "Setting") -> list[tuple[tuple[str, ...], "Setting"]]:
    """What is keyed for each set of programmes of a group that shift dusk and dawn alike."""
    if answers.programmes is None:
        return [((), setting)]
    found: dict[tuple[int, int], list[str]] = {}
    for programme in answers.programmes.programmes:
        if programme.name in present:
            found.setdefault((_shift(programme, "dusk"), _shift(programme, "dawn")), []).append(programme.name)
    return [(tuple(names), replace(setting, dusk_offset_min=setting.dusk_offset_min + dusk, dawn_offset_min=setting.dawn_offset_min + dawn))
            for (dusk, dawn), names in found.items()]


def _shift(programme, edge: str) -> int:
    """The shift that a programme's events at dusk or dawn have in common; 0 where they differ: then it is keyed event by event."""
    shifts = {event.shift_min for event in programme.events if event.at == edge}
    return shifts.pop() if len(shifts) == 1 else 0


def clock_text(minute: float, display: Display, words: Words) -> str:
    """A reading, rounded to the minute, as the display's face shows it."""
    if math.isnan(minute):
        return words("readings_none")
    whole = math.floor(minute + 0.5) % 1440
    if display.hours == 24:
        return f"{whole // 60:02d}:{whole % 60:02d}"
    return f"{(whole // 60 - 1) % 12 + 1}:{whole % 60:02d} {'a.m.' if whole < 720 else 'p.m.'}"


def reading_days(card: GroupCard, year: int, display: Display) -> dict[str, np.ndarray]:
    """Readings of a year by column: "dusk", "dawn" and, where the display is not known, the others that it may show."""
    return reading_days_of([card], year, display)[0]


def reading_days_of(cards: list[GroupCard], year: int, display: Display) -> list[dict[str, np.ndarray]]:
    """`reading_days` of several cards, which is quicker: the sun is computed for all of them together."""
    found: list[dict[str, np.ndarray]] = [{} for _ in cards]
    modes = {True: [("", True)], False: [("", False)], None: [("", True), ("without_", False)]}[display.includes_offsets]
    for prefix, offsets in modes if cards else ():
        read = readings([card.keyed for card in cards], year, offsets=offsets)
        for i, (card, columns) in enumerate(zip(cards, found, strict=True)):
            if prefix and not (card.setting.dusk_offset_min or card.setting.dawn_offset_min):
                continue
            columns[f"{prefix}dusk"] = read.dusk_min[i]
            columns[f"{prefix}dawn"] = (read.coming_dawn_min if display.dawn == "coming" else read.dawn_min)[i]
            if display.dawn is None:
                columns[f"{prefix}coming"] = read.coming_dawn_min[i]
    return found


def change_days(card: GroupCard, year: int) -> set[int]:
    """Days of the year on which the keyed clock is changed."""
    sequence = card.keying.sequence
    days = set()
    for start, before in zip(sequence.start_utc_min[1:], sequence.offset_min[:-1], strict=True):
        days.add(int((start + before) // 1440))
    return {day for day in days if 0 <= day < 366}


def slip_words(slip: Slip, words: Words) -> str:
    """A slip in words."""
    return words(f"slip_{slip.key}", **slip_values(slip, words))


def slip_values(slip: Slip, words: Words) -> dict[str, str]:
    """Figures of a slip with the language's decimal sign."""
    return {name: words.figure(value) for name, value in slip.values}


def joined_slips(slips, words: Words, most: int = 4) -> str:
    """Several slips in one line; numbers of one kind run together."""
    by_key: dict[str, list[Slip]] = {}
    for slip in slips:
        by_key.setdefault(slip.key, []).append(slip)
    texts = []
    for mine in by_key.values():
        # What holds for one slip of a row must not seem to hold for its neighbours.
        right = f" ({words('lamps_right')})" if all(slip.right_lamps for slip in mine) else ""
        texts.append(slip_words(mine[0], words) + right + (f" ({words('and_more', n=len(mine) - 1)})" if len(mine) > 1 else ""))
    if len(texts) > most:
        return f"{words('or').join(texts[:most - 1])}; {words('and_more', n=len(texts) - most + 1)}"
    return words("or").join(texts)


def difference_text(low: float, high: float) -> str:
    """A difference from the right reading in minutes: +60, −3 … −9, 0."""
    if np.isnan(low):
        return "–"
    first, last = int(np.round(low)), int(np.round(high))
    if high - low <= 2.0:
        first = last = int(np.round((low + high) / 2))
    texts = [f"{value:+d}".replace("-", "\u2212") if value else "0" for value in (first, last)]
    return texts[0] if texts[0] == texts[1] else " … ".join(texts)


def digits_text(value: float, limit: int, step_deg: float) -> str:
    """A position as the digits that a keypad without a point takes, leading noughts included."""
    places = step_decimals(step_deg)
    return f"{round(abs(value) * 10 ** places):0{len(str(limit)) + places}d}"


def degrees_minutes(value: float) -> str:
    """Degrees and whole minutes: 34° 30'."""
    minutes = round(abs(value) * 60)
    return f"{minutes // 60}° {minutes % 60:02d}'"

