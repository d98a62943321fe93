"""The sun of keyed positions, with the years around where the dates that switches hold may be wrong."""

from __future__ import annotations

import numpy as np

from ..numbers.civil import MIN_PER_DAY
from ..numbers.sun import switch_times

#: Years that the sun is computed for, as in `trade.readings`.
_FIRST_YEAR, _LAST_YEAR = 1972, 2098


def day_of_year(y: int, year: int) -> int:
    """1 January of a year, counted from that of another [day]."""
    return int((np.datetime64(f"{y}-01-01") - np.datetime64(f"{year}-01-01")).astype(int))


class KeyedSun:
    """Dusk and dawn of keyed positions [UTC minute from 1 January], with the years around where dates may be wrong."""

    def __init__(self, year: int):
        self.year = year
        self.years = [y for y in range(year - 2, year + 2) if _FIRST_YEAR <= y <= _LAST_YEAR]
        self._row: dict[bool, dict[tuple[float, float, float], int]] = {False: {}, True: {}}
        self._table: dict[tuple[bool, str], np.ndarray] = {}

    def want_far(self, places) -> None:
        """Compute positions that will be asked for with wrong dates together."""
        self._add(True, sorted(places))

    def _add(self, far: bool, places: list[tuple[float, float, float]]) -> None:
        new = [place for place in places if place not in self._row[far]]
        if not new:
            return
        years = self.years if far else [y for y in (self.year - 1, self.year) if y in self.years]
        at = np.array(new)
        begin, end = day_of_year(years[0], self.year), day_of_year(years[-1] + 1, self.year)
        table = {edge: np.full((len(new), end - begin), np.nan) for edge in ("dusk", "dawn")}
        for y in years:
            for altitude in np.unique(at[:, 0]):
                mine = np.flatnonzero(at[:, 0] == altitude)
                times = switch_times(lat_deg=at[mine, 1], lon_deg=at[mine, 2], year=y, altitude_deg=float(altitude))
                start = day_of_year(y, self.year)
                where = slice(start - begin, start - begin + times.dusk_utc_min.shape[1])
                table["dusk"][mine, where] = times.dusk_utc_min + start * MIN_PER_DAY
                table["dawn"][mine, where] = times.dawn_utc_min + start * MIN_PER_DAY
        for place in new:
            self._row[far][place] = len(self._row[far])
        for edge, values in table.items():
            there = self._table.get((far, edge))
            self._table[far, edge] = values if there is None else np.concatenate([there, values])

    def rows(self, altitude, lat, lon, far: np.ndarray) -> np.ndarray:
        """Which row of its table each candidate's position has; what is not there yet is computed."""
        # By a number for each value: rows of three floats take ten times as long to tell apart.
        values, codes = zip(*(np.unique(np.asarray(one, dtype=float), return_inverse=True) for one in (altitude, lat, lon)), strict=True)
        whole = (codes[0] * values[1].size + codes[1]) * values[2].size + codes[2]
        found = np.zeros(whole.size, dtype=np.int64)
        for is_far in (False, True):
            mine = np.flatnonzero(far == is_far)
            if mine.size:
                _, first, inverse = np.unique(whole[mine], return_index=True, return_inverse=True)
                named = list(zip(*(one[code[mine[first]]].tolist() for one, code in zip(values, codes, strict=True)), strict=True))
                self._add(is_far, named)
                found[mine] = np.array([self._row[is_far][place] for place in named])[inverse]
        return found

    def times(self, edge: str, row: np.ndarray, day: np.ndarray, far: np.ndarray) -> np.ndarray:
        """(m, k) times of the nights that begin on days counted from 1 January; beyond the table those of its nearest night."""
        found = np.empty(day.shape)
        for is_far in (False, True):
            mine = np.flatnonzero(far == is_far)
            if mine.size:
                table = self._table[is_far, edge]
                begin = day_of_year(self.years[0] if is_far else max(self.year - 1, self.years[0]), self.year)
                inside = np.clip(day[mine] - begin, 0, table.shape[1] - 1)
                found[mine] = table[row[mine][:, None], inside] + (day[mine] - begin - inside) * MIN_PER_DAY
        return found
