"""A set cover given as a matrix, for the search: it holds nothing that has to do with lamps, and shares no code with them."""

import itertools

import numpy as np

from geozone.setcover.bits import pack, undominated


class MatrixColumns:
    """Columns over some rows. `families` is how many sets share a family, of which only the heaviest is offered."""

    def __init__(self, member, listable: bool, families: int):
        self.matrix, self.listable, self.families = member, listable, families
        self.n = member.shape[1]

    def heaviest(self, weight):
        total = self.matrix @ weight
        family = np.arange(total.size) // self.families
        order = np.lexsort((-total, family))
        best = order[np.unique(family[order], return_index=True)[1]]
        return total[best], best[:, None], family[best]

    def listed(self, weight, threshold, room):
        if not self.listable:
            return None
        heavy = np.flatnonzero(self.matrix @ weight >= threshold)
        sets = pack(self.matrix[heavy])
        kept = undominated(sets, self.n)
        return None if kept.size > room else (heavy[kept][:, None], sets[kept])

    def member(self, columns):
        return self.matrix[columns[:, 0]]


class MatrixProblem:
    """A `setcover.problem.Problem`.

    member : (n_set, n) bool; wide : the same of wider sets, if they differ; at : (n, 2), else the rows lie in a line.
    listable : whether sets may be listed, or come by weight only.
    """

    def __init__(self, member, wide=None, at=None, near=2.0, listable=True, families=1):
        self.sure = np.asarray(member, bool)
        self.wide = self.sure if wide is None else np.asarray(wide, bool)
        self.n = self.sure.shape[1]
        self.at = np.column_stack((np.arange(self.n), np.zeros(self.n))) if at is None else np.asarray(at, float)
        self.near, self.listable, self.families = near, listable, families

    def columns(self, rows, wide):
        return MatrixColumns((self.wide if wide else self.sure)[:, rows], self.listable, self.families)

    def held(self, columns, wide):
        return (self.wide if wide else self.sure)[columns[:, 0]]


def fewest_by_hand(member):
    """The fewest sets, by trying every choice."""
    for k in range(1, member.shape[0] + 1):
        for some in itertools.combinations(range(member.shape[0]), k):
            if member[list(some)].any(axis=0).all():
                return k


def random_cover(seed, n_set=14, n=11):
    """Random sets of which every element is in one at least."""
    member = np.random.default_rng(seed).random((n_set, n)) < 0.25
    member[np.arange(n) % n_set, np.arange(n)] = True
    return member
