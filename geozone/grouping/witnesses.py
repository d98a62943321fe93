"""Witness sites: a short list that shows why fewer settings will not do."""

from __future__ import annotations

import math
import time

import numpy as np

from ..setcover.bits import pack, shared_sets, unpack
from ..setcover.exact import exact
from .fewestsettings import Fewest
from .planrecords import Witnesses

_MOST_ROWS = 260
_CLIQUE_NODES = 200_000
_SHORT = 12
_ROOM = 60_000


def proof_rows(found: Fewest, deadline: float):
    """Rows that prove the lower bound of one part: (rows, weights, kind as in `Witnesses`)."""
    k = found.lower_bound
    if found.search is None:
        return found.relaxed.rows[:max(1, k)], np.ones(max(1, min(k, found.relaxed.rows.size))), "apart"
    if k <= 1:
        return found.problem.rows[:1], np.ones(1), "apart"
    picked = _candidates(found)
    rows = found.problem.rows[picked]
    listed = found.problem.columns(picked, True).listed(np.ones(picked.size), 0.5, _ROOM)
    if listed is not None:
        sets = listed[1]
        apart = _clique(shared_sets(sets, rows.size), rows.size, k)
        if apart is not None:
            return rows[apart], np.ones(k), "apart"
        few = _thinned(sets, rows.size, k, deadline)
        if few is not None:
            return rows[few], np.ones(few.size), "together"
    return found.problem.rows[found.relaxed.rows], found.relaxed.weight, "weights"


def _candidates(found: Fewest) -> np.ndarray:
    """Rows of the problem, by number, that are likely to prove the bound."""
    heavy = found.relaxed.rows[np.argsort(-found.relaxed.weight, kind="stable")][:_MOST_ROWS]
    active = found.search.active
    room = max(0, _MOST_ROWS - heavy.size)
    others = np.setdiff1d(active, heavy)
    return np.concatenate((heavy, others[:: max(1, -(-others.size // room))] if room else others[:0]))


def _clique(mates, n: int, k: int):
    """k elements of which no two are in one set, or None: depth first, first elements first."""
    together = unpack(mates, n)
    apart = ~together
    np.fill_diagonal(apart, False)
    nodes = 0

    def grow(chosen, open_to):
        nonlocal nodes
        nodes += 1
        if len(chosen) == k:
            return chosen
        if len(chosen) + open_to.sum() < k or nodes > _CLIQUE_NODES // 100:
            return None
        for v in np.flatnonzero(open_to):
            got = grow(chosen + [int(v)], open_to & apart[v] & (np.arange(n) > v))
            if got is not None:
                return got
        return None

    # A clique is likeliest among elements that are apart from many.
    order = np.argsort(-apart.sum(axis=1), kind="stable")
    for start in range(2):
        ranked = np.arange(n) if start == 0 else order
        apart = (~together)[np.ix_(ranked, ranked)]
        np.fill_diagonal(apart, False)
        nodes = 0
        got = grow([], np.ones(n, bool))
        if got is not None:
            return ranked[np.array(got)]
    return None


def _thinned(sets, n: int, k: int, deadline: float):
    """A subset of elements that k - 1 sets cannot cover, thinned one by one; None if that is not settled."""
    member = unpack(sets, n)

    def needs(index):
        return exact(pack(np.unique(member[:, index], axis=0)), index.size, k - 1, np.zeros(index.size), 30_000)[0] is False

    kept = np.arange(n)
    if not needs(kept):
        return None
    size = n // 2
    while size >= 1:
        at = 0
        while at < kept.size:
            if time.monotonic() > deadline:
                return kept
            trial = np.delete(kept, slice(at, at + size))
            if trial.size and needs(trial):
                kept = trial
            else:
                at += size
        size //= 2
    return kept


def told(ids: list, weight: list, kinds: list, bounds: list, homes: list | None = None, units: bool = False) -> Witnesses:
    """One record for several parts (clock rules, values of `within`), which share no settings anyway.

    Parameters
    ----------
    ids, weight, kinds, bounds : list
        For each part its witnesses, their weights, the kind of proof and the bound.
    homes : list of (int, str), optional
        Clock rule and value of `within` of each part; left out: one clock and one value.
    units : bool
        A site may stand for a unit that shares one setting.
    """
    total = sum(bounds)
    every = tuple(i for part in ids for i in part)
    if total == 0:
        return Witnesses()
    if total == 1:
        return Witnesses(every[:1], "none", (1.0,), "Every plan needs at least one setting.")
    # What the weights alone say: where an exact search raised the bound further, they fall short of it.
    shown = sum(bound if kind != "weights" else min(bound, math.ceil(float(np.sum(w)) - 1e-6))
                for bound, kind, w in zip(bounds, kinds, weight))
    if "weights" not in kinds:
        kind = "apart" if all(k == "apart" for k in kinds) else "together"
    else:
        kind = "together" if "together" in kinds else "weights"
    n, each = len(every), " (each with those that must share its setting)" if units else ""
    these = f"{'This' if n == 1 else 'These'} {n:,} site{'' if n == 1 else 's'}{each}"
    names = ": " + ", ".join(str(i) for i in every) if n <= _SHORT else ""
    if kind == "apart":
        text = f"{these} need {total:,} settings, as no two of them can share one{names}."
    elif kind == "together":
        text = f"{these} alone need {_settings(shown)}: {shown - 1:,} cannot serve them all{names}."
    else:
        lent = sum(float(np.sum(w)) for w in weight)
        text = (f"{these} carry weights that add up to {lent:,.2f}, and no setting can serve more than weight 1 of them: "
                f"at least {_settings(shown)} are needed.") if len(ids) == 1 else (
                f"{these} carry weights, and no setting can serve more than weight 1 of them. Rounded up for each clock and each "
                f"limit that no group crosses, that makes at least {_settings(shown)}.")
    if shown < total:
        text += f" A search through all plans with {total - 1:,} settings found none that serves all sites."
    return Witnesses(every, kind, tuple(float(v) for part in weight for v in part) if kind == "weights" else (1.0,) * n, text,
                     _apart_by(ids, homes or [(0, "")] * len(ids)), units)


def _settings(count: int) -> str:
    return f"{count:,} setting{'' if count == 1 else 's'}"


def _apart_by(ids: list, homes: list) -> tuple[str, ...]:
    """See `Witnesses.apart_by`."""
    pairs = [(homes[a], homes[b]) for a in range(len(ids)) for b in range(a)]
    found = {"tolerance": any(len(part) > 1 for part in ids), "clock": any(a[0] != b[0] for a, b in pairs),
             "within": any(a[0] == b[0] for a, b in pairs)}
    return tuple(name for name, there in found.items() if there)
