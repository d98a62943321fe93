"""What tests of several folders share."""

import runpy
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def matrix_problem():
    return runpy.run_path(str(Path(__file__).parent / "matrixproblem.py"))["MatrixProblem"]
