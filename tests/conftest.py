"""What tests of several folders share."""

import runpy
from pathlib import Path

import numpy as np
import pytest

from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.plan import compute
from geozone.screens import preparing
from geozone.setcover.bracket import fewest_columns
from geozone.setcover.search import Search


def pytest_configure(config):
    """Whole runs of the tests compile the kernels first, as a first run of the program does, and once for both processes.

    A kernel that a test process compiles itself may round otherwise in the last place than the one that a process of the
    program takes from the cache: files that are compared byte for byte would differ now and then.
    """
    if not hasattr(config, "workerinput") and getattr(config.option, "numprocesses", None):
        preparing.prepare(preparing.PARTS)


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


@pytest.fixture(scope="session")
def example_run():
    """Answers of an example of the package by its name ("town", "border"), each computed once and shared: to look at, not to change."""
    made = {}

    def answers(name):
        if name not in made:
            made[name] = compute(read_job(examples_folder() / name / "job.toml"))
        return made[name]

    return answers
