"""Which column of a list holds what: stated by the user, or guessed from headings and values, and said."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..numbers.clock import valid_zone
from .cellkinds import allows, holds_pairs, sample
from .headings import is_address, plain, rank_of
from .numerals import as_numbers, find_decimal
from .pairs import Pair, named_pair, pairs_of, side_by_side
from .tables import Table, as_text


@dataclass(frozen=True)
class Columns:
    """Which column holds what; None where the table has none.

    `lat` and `lon` are the columns of the north and the east number, degrees or projected;
    `position` is one column with both; neither: the table's own geometry is used. `lat_parts` and `lon_parts` are
    columns whose text belongs behind the number: minutes, seconds, hemisphere. `rivals` are pairs (north, east) of
    which each may be the position, the chosen one first, none where one is plain. `others` are further pairs in the
    list, "lat" (degrees) or "y" (a grid) before each, that can bear witness. `notes` say what was guessed.
    """

    lat: str | None = None
    lon: str | None = None
    position: str | None = None
    lat_parts: tuple[str, ...] = ()
    lon_parts: tuple[str, ...] = ()
    site_id: str | None = None
    name: str | None = None
    legal_zone: str | None = None
    load_w: str | None = None
    rivals: tuple[Pair, ...] = ()
    others: tuple[tuple[str, Pair], ...] = ()
    notes: tuple[str, ...] = ()


def option(name: str, value: str = "...") -> str:
    """The line of the job file that decides, for messages."""
    section = {"crs": "job", "encoding": "reading", "separator": "reading", "decimal": "reading", "layer": "reading"}
    return f'[{section.get(name, "columns")}] {name} = "{value}"'


def find_columns(table: Table, stated: dict[str, str | None]) -> Columns:
    """The columns of a site list.

    Parameters
    ----------
    table : Table
    stated : dict
        Column names by `lat`, `lon`, `position`, `site_id`, `name`, `legal_zone`, `load_w`; None = guess.

    Raises
    ------
    InputError
        If a stated column is missing, if two fit and nothing decides, or if no position can be found.
    """
    given = {what: _stated(table, what, name) for what, name in stated.items() if name is not None}
    notes: list[str] = []
    lat, lon, position = (given.get(what) for what in ("lat", "lon", "position"))
    if position and (lat or lon):
        raise InputError("both position and lat or lon are stated", where=table.where,
                         value=", ".join(filter(None, (position, lat, lon))), rule="a site has one position",
                         next_step="state one column for both, or one for each")
    if bool(lat) != bool(lon):
        half = "lon" if lat else "lat"
        other = _guess(table, half, set(given.values())) or _guess(table, {"lat": "y", "lon": "x"}[half],
                                                                    set(given.values()))
        if other is None:
            raise InputError(f"{'lat' if lat else 'lon'} is stated and {half} cannot be found", where=table.where,
                             value=lat or lon,
                             rule="columns: " + ", ".join(table.frame.columns), next_step="state " + option(half))
        lat, lon = lat or other, lon or other
    rivals: tuple[Pair, ...] = ()
    if not (lat or position) and table.geometry is None:
        lat, lon, position, how, rivals = _find_position(table, set(given.values()))
        notes.append(how)
        if rivals and side_by_side(rivals):
            raise InputError("two lists stand side by side under the same headings", where=table.where,
                             value=f"{named_pair(rivals[0])} and again {named_pair(rivals[1])}",
                             rule="one row is one site", next_step="put the second list below the first, or state "
                             f"{option('lat', rivals[0][0])} and {option('lon', rivals[0][1])} and {option('site_id')}")
    others = tuple((kind, pair) for kind, east in (("lat", "lon"), ("y", "x"))
                   for pair in pairs_of(table, kind, east, {lat, lon, *given.values()} - {None}) if pair not in rivals)
    parts = {what: _parts(table, column, what) for what, column in (("lat", lat), ("lon", lon)) if column}
    for what, found in parts.items():
        if found:
            notes.append(f"the rest of {what} from " + ", ".join(f'"{c}"' for c in found))
    taken = {c for c in (lat, lon, position, *sum(parts.values(), ())) if c} | set(given.values())
    roles: dict[str, str | None] = {}
    unused: tuple[str, ...] = ()
    for what in ("site_id", "load_w", "legal_zone", "name"):
        roles[what] = given[what] if what in given else _guess(table, what, taken)
        if roles[what]:
            taken.add(roles[what])
            if what not in given:
                notes.append(f'{what} from "{roles[what]}"')
        elif what in ("legal_zone", "load_w"):
            unused += _unused(table, what, taken)
    said = (f"{table.where}: columns guessed: " + ", ".join(n for n in notes if n),) if any(notes) else ()
    return Columns(lat, lon, position, parts.get("lat", ()), parts.get("lon", ()), rivals=rivals, others=others,
                   notes=said + unused, **roles)


def _unused(table: Table, what: str, taken: set[str]) -> tuple[str, ...]:
    """Columns that are not used and look as if they should be: said, because the wrong clock or load would follow."""
    said = []
    for column in table.frame.columns:
        rank = rank_of(column, what)
        if column in taken or rank is None and what != "legal_zone":
            continue
        cells = sample(table.frame[column])
        if cells.empty:
            continue
        if rank is None:  # under any heading: names of the tz database
            if not cells.str.contains("/", regex=False).mean() > 0.5 or not cells.map(valid_zone).mean() > 0.5:
                continue
            holds = f'it holds names of legal zones, "{cells[cells.map(valid_zone)].iloc[0]}", under a heading that does not say so'
        elif rank == 3:
            continue  # "zone" may be a district's
        else:
            holds = {"legal_zone": "no cell is a name of the tz database", "load_w": "most cells are no numbers"}[what]
            holds += f' ("{cells.iloc[0]}")'
        effect = {"legal_zone": "legal zones come from the map", "load_w": "loads are left open"}[what]
        said.append(f'{table.where}: column "{column}" is not used: {holds}; {effect}. If it should be, state '
                    f"{option(what, column)}")
    return tuple(said)


def _stated(table: Table, what: str, name: str) -> str:
    if name in table.frame.columns:
        return name
    near = [c for c in table.frame.columns if plain(c) == plain(name)]
    if len(near) == 1:
        return near[0]
    alike = difflib.get_close_matches(name, list(map(str, table.frame.columns)), n=1)
    raise InputError(f"there is no column of the name stated for {what}", where=table.where, value=name,
                     rule="columns: " + ", ".join(map(str, table.frame.columns)),
                     next_step=(f"did you mean {option(what, alike[0])}?" if alike else "state " + option(what))).at(
                         "columns", what)


def _guess(table: Table, what: str, taken: set[str]) -> str | None:
    """The one column whose heading fits best, its values allowing; two that fit alike are refused."""
    ranked: dict[int, list[str]] = {}
    for column in table.frame.columns:
        rank = rank_of(column, what)
        if rank is not None and column not in taken and allows(table.frame[column], what, rank):
            ranked.setdefault(rank, []).append(column)
    if not ranked:
        return None
    best = ranked[min(ranked)]
    if what == "site_id":
        # an id tells sites apart: a column of park or street numbers is none
        apart = {c: as_text(table.frame[c]).nunique() / max(1, len(table.frame)) for c in sum(ranked.values(), [])}
        # (a column named site_id or id is one by its name, and its repeats are rejected)
        fewest = 0.5 if len(table.frame) >= 20 else 0.2
        fitting = [[c for c in ranked[r] if r in (0, 2) or apart[c] > fewest] for r in sorted(ranked)]
        best = next((f for f in fitting if f), [])
        if len(best) > 1 and sum(apart[c] == 1.0 for c in best) == 1:
            best = [c for c in best if apart[c] == 1.0]
    if len(best) > 1 and what in ("name", "load_w"):
        same = [plain(c) for c in best]
        if what == "name":
            best = best[:1]  # a wrong name does no harm: the first, and it is said
        elif len(set(same)) < len(same):
            best = best[:1]
    if len(best) > 1:
        first = table.frame[best[0]]
        if all(table.frame[c].equals(first) for c in best[1:]):
            best = best[:1]
    if len(best) > 1:
        key = {"x": "lon", "y": "lat"}.get(what, what)
        raise InputError(f"two columns may be {key}: {best[0]!r} and {best[1]!r}", where=table.where,
                         value=" and ".join(sample(table.frame[c]).iloc[0] for c in best[:2]), rule="one column each",
                         next_step=f"state {option(key, best[0])} or {option(key, best[1])}")
    return best[0] if best else None


_MINUTES = "min|mins|minute|minutes|minuten|minutos|minuto|minuti|minuut"
_SECONDS = "sec|secs|second|seconds|sek|sekunden|secondes|segundos|secondi|seconden"
_LETTERS = {"lat": ({"N", "S"}, {"ns", "latns", "nors", "northsouth", "latdir", "latref", "lathem", "lathemisphere",
                                 "latitudedirection", "latitudehemisphere", "latitudens", "nordsud"}),
            "lon": ({"E", "W", "O"}, {"ew", "lonew", "longew", "eorw", "eastwest", "londir", "longdir", "lonref", "lonhem",
                                      "lonhemisphere", "longitudedirection", "longitudehemisphere", "longitudeew",
                                      "ow", "ostwest"})}


def _parts(table: Table, column: str, what: str) -> tuple[str, ...]:
    """Columns of minutes, seconds and hemisphere letters that belong to a column of degrees, in this order.

    Left unread they would shift a site by up to a degree, or to the other side of the globe, in silence.
    """
    columns = list(table.frame.columns)
    stem = {"lat": "lat|latitude|breite|latitud|latitudine|breedte", "lon": "lon|long|lng|longitude|lange|laenge|"
            "longitud|longitudine|lengte"}[what]
    found = []
    for unit in (_MINUTES, _SECONDS):
        fits = [c for c in columns if re.fullmatch(rf"(?:{stem})(?:{unit})|(?:{unit})(?:{stem})", plain(c))
                and allows(table.frame[c], what)]
        found += fits[:1]
    letters, headings = _LETTERS[what]
    last = columns.index(found[-1] if found else column)
    for position, heading in enumerate(columns):
        values = set(sample(table.frame[heading]).str.upper())
        if values and values <= letters and (position == last + 1 or plain(heading) in headings):
            found.append(heading)
            break
    return tuple(found)


Found = tuple["str | None", "str | None", "str | None", str, "tuple[Pair, ...]"]


def _find_position(table: Table, taken: set[str]) -> Found:
    """lat, lon, position, what to say, and rival pairs; degrees before one text, before projected numbers."""
    for north, east in (("lat", "lon"), ("y", "x")):
        pairs = pairs_of(table, north, east, taken)
        if len(pairs) > 1:
            return *pairs[0], None, f"lat, lon from {named_pair(pairs[0])}", tuple(pairs)
        lat, lon = _guess(table, north, taken), _guess(table, east, taken)
        if lat and lon:
            return lat, lon, None, f'lat from "{lat}", lon from "{lon}"', ()
        if north == "lat":
            position = _guess(table, "position", taken)
            if position:
                return None, None, position, f'position from "{position}"', ()
            if lat or lon:
                half = "lon" if lat else "lat"
                raise InputError(f"a column of {'latitude' if lat else 'longitude'} was found ({lat or lon!r}) but none "
                                 f"of {'longitude' if lat else 'latitude'}", where=table.where,
                                 value=sample(table.frame[lat or lon]).iloc[0],
                                 rule="columns: " + ", ".join(table.frame.columns), next_step="state " + option(half))
    return *_by_values(table, taken), ()


def _by_values(table: Table, taken: set[str]) -> tuple[str | None, str | None, str | None, str]:
    free = [c for c in table.frame.columns if c not in taken]
    pairs = [c for c in free if holds_pairs(t := sample(table.frame[c])) and len(t)
             and t.str.contains(r"\d\.\d|\u00b0|POINT|[NSEWO]", case=False).mean() > 0.5]
    if len(pairs) == 1:
        return None, None, pairs[0], f'position from "{pairs[0]}" (by its values)'
    if len(pairs) > 1:
        raise InputError(f"two columns may hold the position: {pairs[0]!r} and {pairs[1]!r}", where=table.where,
                         value=" and ".join(sample(table.frame[c]).iloc[0] for c in pairs[:2]), rule="one column each",
                         next_step=f"state {option('position', pairs[0])} or {option('position', pairs[1])}")
    degrees = {}
    for column in free:
        text = sample(table.frame[column])
        if len(text) and text.str.contains(r"\d[.,]\d{3}|\d\s*\u00b0").mean() > 0.7:
            numbers = as_numbers(text, find_decimal([text]) or ".")
            if not np.isnan(numbers).mean() > 0.3 and np.nanmax(np.abs(numbers)) <= 180:
                degrees[column] = float(np.nanmax(np.abs(numbers)))
    if len(degrees) == 2:
        (first, big), (second, other) = degrees.items()
        if (big > 90) != (other > 90):
            lat, lon = (second, first) if big > 90 else (first, second)
            return lat, lon, None, f'lat from "{lat}", lon from "{lon}" (by their values)'
    if len(degrees) >= 2:
        names = list(degrees)
        raise InputError(f"{names[0]!r} and {names[1]!r} look like degrees, and nothing says which is which",
                         where=table.where, value=" and ".join(sample(table.frame[c]).iloc[0] for c in names[:2]),
                         rule="latitude counts north, longitude east", next_step=f"state {option('lat')} and {option('lon')}")
    addresses = [c for c in table.frame.columns if is_address(c) and not sample(table.frame[c]).empty]
    if addresses:
        cells = [sample(table.frame[c]).iloc[0] for c in addresses]
        raise InputError("the list holds addresses and no positions", where=table.where, value=", ".join(cells[:4]),
                         rule="a site needs a latitude and a longitude, or metres east and north in a stated system; "
                         "addresses are not looked up", next_step="have two columns, lat and lon, added: whoever keeps the "
                         "list may have them in a map, or have the addresses geocoded and the points checked on a map. If "
                         f"other columns hold positions, state {option('lat')} and {option('lon')}")
    raise InputError("no column holds positions that can be recognised", where=table.where,
                     value=", ".join(filter(None, (as_text(table.frame[c]).iloc[0].strip() for c in table.frame.columns[:8])))
                     if len(table.frame) else None,
                     rule="columns: " + ", ".join(map(str, table.frame.columns[:30])),
                     next_step=f"state {option('lat')} and {option('lon')}, or {option('position')}")
