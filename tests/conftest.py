"""What tests of several folders share."""

import runpy
from pathlib import Path

import numpy as np
import pytest

from geozone.setcover.bracket import fewest_columns
from geozone.setcover.search import Search


@pytest.fixture(scope="session")
def matrix_problem():
    """Kernels are compiled before the first test: its seconds are for searching, also beside another test process."""
    problem = runpy.run_path(str(Path(__file__).parent / "matrixproblem.py"))["MatrixProblem"]
    at = np.array([(i, j) for i in range(7) for j in range(7)])
    near = np.abs(at[:, None] - at[None]).sum(axis=2) <= 1
    for listable in (True, False):
        grid = problem(near, at=at, listable=listable, families=3)
        fewest_columns(Search(grid), grid, 0.5)
    return problem
