"""Which rows to look at first: one of each neighbourhood, and those that lie farthest out."""

from __future__ import annotations

import numpy as np

# So many times what is near holds everything, or nearly so.
_EVERYTHING = 5000


class Neighbours:
    """Rows by where they lie.

    Parameters
    ----------
    at : (n, 2) float64
    near : float
        Side of a neighbourhood.
    """

    def __init__(self, at: np.ndarray, near: float):
        self.at, self.near = np.asarray(at, float), near
        self.bins = self._bins_of(near)

    def _bins_of(self, size: float) -> np.ndarray:
        """(n,) int: neighbourhood of each row."""
        return np.unique(np.floor(self.at[:, 0] / size) * 100_000 + np.floor(self.at[:, 1] / size), return_inverse=True)[1]

    def outermost(self, directions: int, size: float | None = None) -> np.ndarray:
        """Rows that lie farthest out in their neighbourhood, for so many directions."""
        bins = self.bins if size is None else self._bins_of(size)
        rows, chosen = np.arange(self.at.shape[0]), []
        for angle in np.arange(directions) * 2 * np.pi / directions:
            out = np.round(np.cos(angle) * self.at[:, 1] + np.sin(angle) * self.at[:, 0], 9)
            order = np.lexsort((rows, -out, bins))
            chosen.append(rows[order[np.unique(bins[order], return_index=True)[1]]])
        return np.unique(np.concatenate(chosen))

    def spread(self, most: int) -> np.ndarray:
        """At most so many rows, one of each neighbourhood, the outermost of all among them."""
        size = self.near
        ends = self.outermost(8, _EVERYTHING * self.near)
        while True:
            first = np.unique(self._bins_of(size), return_index=True)[1]
            if first.size + ends.size <= most:
                return np.union1d(first, ends)
            size *= 1.25

    def farthest(self, missed: np.ndarray, per_bin: int = 4) -> np.ndarray:
        """Some of the missed rows, at most a few of each neighbourhood: those that lie farthest apart."""
        new = []
        for b in np.unique(self.bins[missed]):
            mine = missed[self.bins[missed] == b]
            inside = self.bins == b
            start = self.at[inside, 0].mean(), self.at[inside, 1].mean()
            for _ in range(min(per_bin, mine.size)):
                far = np.round(np.hypot(self.at[mine, 0] - start[0], self.at[mine, 1] - start[1]), 9)
                pick = mine[np.argmax(far)]
                new.append(pick)
                start = self.at[pick]
        return np.array(new, np.int64)

    def first_of_each(self, rows: np.ndarray, most: int) -> np.ndarray:
        """The first rows of their neighbourhoods, in the order given, at most so many; sorted."""
        _, first = np.unique(self.bins[rows], return_index=True)
        return np.sort(rows[np.sort(first)[:most]])
