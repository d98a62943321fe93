"""The figures of two finished runs side by side, from their summaries: a run and the one before, or two plans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from .nested import value_at

# Where a figure stands in summary.json, its words, its unit and its decimals.
_FIGURES = (
    (("job", "year"), "Year", "", 0), (("job", "dark_threshold"), "Counts as dark", "", 0),
    (("job", "dark_min"), "Tolerance: unlit", "min", 1), (("job", "excess_min"), "Tolerance: lit too long", "min", 1),
    (("sites", "used"), "Sites used", "", 0), (("sites", "rejected"), "Rows that cannot be used", "", 0),
    (("groups", "count"), "Fewest settings: found", "", 0), (("groups", "lower_bound"), "Fewest settings: needed at least", "", 0),
    (("zones", "count"), "Lighting zones", "", 0),
    (("drift", "sites_within"), "Shared setting: sites within", "", 0), (("drift", "sites_beyond"), "Shared setting: sites beyond", "", 0),
    (("drift", "sites_other_clock"), "Shared setting: sites on another clock", "", 0),
    (("drift", "same_clock", "worst_dark_min"), "Shared setting: worst unlit", "min", 1),
    (("drift", "same_clock", "worst_excess_min"), "Shared setting: worst lit too long", "min", 1),
    (("hours", "lit_h"), "Operating hours of all sites in a year", "h", 0), (("hours", "kwh"), "Energy in a year", "kWh", 0),
    (("hours", "cost"), "Cost in a year", "currency", 0), (("hours", "dark_h"), "Unlit in a year, all sites together", "h", 0),
    (("hours", "excess_h"), "Lit too long in a year, all sites together", "h", 0),
)


@dataclass(frozen=True)
class Compared:
    """One figure of two runs; `more` is how much the second has more, "" where that is nothing to count."""

    words: str
    unit: str
    one: str
    other: str
    more: str

    @property
    def same(self) -> bool:
        return self.one == self.other and not self.more


def compared(one: dict, other: dict) -> list[Compared]:
    """Figures that at least one of two summaries has.

    Examples
    --------
    >>> [(row.words, row.one, row.other, row.more) for row in compared({"groups": {"count": 4}}, {"groups": {"count": 3}})]
    [('Fewest settings: found', '4', '3', '-1')]
    """
    rows = []
    for path, words, unit, decimals in _FIGURES:
        first, second = value_at(one, path), value_at(other, path)
        if first is None and second is None:
            continue
        both = all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in (first, second))
        said = _currency(one, other) if unit == "currency" else unit
        if said is None:  # two currencies: no sum of them means anything
            both, said = False, ""
        more = f"{second - first:+,.{decimals}f}" if both and path != ("job", "year") else ""
        first_text, second_text = (str(value) if path == ("job", "year") and value is not None else _said(value, decimals) for value in (first, second))
        rows.append(Compared(words, said, first_text, second_text, "" if more.strip("+-0.,") == "" else more))
    return rows


def _currency(one: dict, other: dict) -> str | None:
    """The currency of both, or of the one that has a cost; None where they differ."""
    found = {str(value_at(summary, ("hours", "currency")) or "") for summary in (one, other) if value_at(summary, ("hours", "cost")) is not None}
    return found.pop() if len(found) == 1 else None


def _said(value: Any, decimals: int) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return str(value)
    return f"{value:,.{decimals}f}"
