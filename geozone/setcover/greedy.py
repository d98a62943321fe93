"""Covers by the greedy rule: from a list of sets, or from columns that are made when they are asked for."""

from __future__ import annotations

import numpy as np

from .problem import Columns


def greedy(member: np.ndarray) -> np.ndarray:
    """Plain greedy cover: always the set that covers most of what is left, the first of equals.

    Parameters
    ----------
    member : (n_set, n) bool

    Raises
    ------
    ValueError
        If some element is in no set.
    """
    left = np.ones(member.shape[1], bool)
    chosen = []
    while left.any():
        gain = member[:, left].sum(axis=1)
        best = int(np.argmax(gain))
        if gain[best] == 0:
            raise ValueError("an element is in no set")
        chosen.append(best)
        left &= ~member[best]
    return np.array(chosen, np.int64)


def plain_greedy(columns: Columns) -> np.ndarray:
    """The plain greedy cover: always the column that holds most of what is left. (k, width)."""
    left, found = np.ones(columns.n), []
    while left.any():
        total, where, _ = columns.heaviest(left)
        top = int(np.argmax(total))
        if total[top] <= 0:
            break
        best = where[top:top + 1]
        found.append(best)
        left[columns.member(best)[0]] = 0.0
    return np.concatenate(found)


def greedy_columns(columns: Columns) -> np.ndarray:
    """More columns than a greedy cover needs: at every step the heaviest of each family that is worth it. (m, width).

    What is left is counted down by several columns at a step where they do not get in each other's way.
    """
    left, found = np.ones(columns.n), []
    while left.any():
        total, where, family = columns.heaviest(left)
        top = total.max()
        if top <= 0:
            break
        order = np.lexsort((np.arange(total.size), -total, family))
        best = order[np.unique(family[order], return_index=True)[1]]
        some = where[best[total[best] > 0.5 * top]]
        holds = columns.member(some)
        for c in np.argsort(-(holds @ left), kind="stable"):
            if holds[c] @ left > 0.9 * top:
                left[holds[c]] = 0.0
        found.append(some)
    return np.unique(np.concatenate(found), axis=0) if found else columns.heaviest(left)[1][:0]
