"""The rules of a plan in words: what a claim of "fewest" holds under, and what keeps two witnesses apart."""

from __future__ import annotations

from dataclasses import dataclass

from .planrecords import Witnesses


@dataclass(frozen=True)
class GroupRules:
    """What a plan had to keep to beside tolerance, keypad and clocks.

    Attributes
    ----------
    keep_together, within : str
        Names of the columns; "" if the rule was not asked for.
    offsets : bool
        Whether offsets could be keyed.
    """

    keep_together: str = ""
    within: str = ""
    offsets: bool = True

    @property
    def condition(self) -> str:
        """ if no group leaves its "district" ...; "" without rules. Set behind "fewer cannot"."""
        parts = [f"each “{self.keep_together}” stays together"] if self.keep_together else []
        parts += [f"no group leaves its “{self.within}”"] if self.within else []
        parts += [] if self.offsets else ["no offsets are keyed"]
        return f" if {_and(parts)}" if parts else ""

    @property
    def no_setting(self) -> str:
        """no setting; no setting without offsets."""
        return "no setting" if self.offsets else "no setting without offsets"


def headline(count: int, lower_bound: int, n: int, without: int, rules: GroupRules = GroupRules(), proved: bool = True) -> str:
    """The answer in one sentence: settings, the bound and its conditions, sites, and how many are in no group.

    `proved`: no setting of the keypad serves those; else none was found.
    """
    if without >= n:
        whom = f"any “{rules.keep_together}” of the {n:,} sites whole" if rules.keep_together and n > 1 else \
            "the one site" if n == 1 else f"any of the {n:,} sites"
        return f"N{rules.no_setting[1:]} that the keypad holds serves {whom}." if proved else \
            f"N{rules.no_setting[1:]} was found that serves {whom}."
    whom = f"{n - without:,} of {n:,} sites" if without else \
        "the one site" if n == 1 else "both sites" if n == 2 else f"all {n:,} sites"
    words = f"{count:,} settings serve {whom}" if count > 1 else f"One setting serves {whom}"
    if lower_bound < count:
        words += f"; at least {lower_bound:,} {'is' if lower_bound == 1 else 'are'} needed{rules.condition}"
    elif count > 1:
        words += f", and fewer cannot{rules.condition}"
    if without and rules.keep_together:
        words += f"; the other {'one is' if without == 1 else f'{without:,} are'} in no group"
    elif without:
        words += f"; {rules.no_setting} {'serves' if proved else 'was found for'} the other {'one' if without == 1 else f'{without:,}'}"
    return words + "."


def what_keeps_apart(witnesses: Witnesses, rules: GroupRules) -> str:
    """Which rules part the witnesses, in a sentence or two; "" where there is nothing to part.

    Only pairs of one clock and one value of `within` are parted by the tolerance: any others may be served by one setting
    and are parted by the rule.
    """
    by, said = witnesses.apart_by, []
    if "clock" in by:
        said.append("A setting holds one clock.")
    if "within" in by:
        said.append(f"No group leaves its “{rules.within or 'within'}”.")
    if witnesses.kind == "apart" and "tolerance" in by:
        same = _and([text for name, text in (("clock", "on one clock"), ("within", f"in one “{rules.within or 'within'}”")) if name in by])
        whom = f"Any two{' ' + same if same else ' of them'}"
        whom += f", each with the sites of its “{rules.keep_together or 'unit'}”," if witnesses.units else ""
        keyed = "whatever is keyed" if rules.offsets else "whatever position is keyed"
        said.append(f"{whom} would break the tolerance on some night, {keyed}.")
    return " ".join(said)


def kept_apart_by(witnesses: Witnesses, rules: GroupRules) -> str:
    """`what_keeps_apart` on one short line."""
    if witnesses.kind != "apart" or not witnesses.apart_by:
        return what_keeps_apart(witnesses, rules)
    names = {"tolerance": "the tolerance", "clock": "their clocks", "within": f"the rule that no group leaves its “{rules.within or 'within'}”"}
    return f"They are kept apart by {_and([names[name] for name in ('clock', 'within', 'tolerance') if name in witnesses.apart_by])}."


def _and(texts: list[str]) -> str:
    return " and ".join([", ".join(texts[:-1]), texts[-1]] if len(texts) > 1 else texts)
