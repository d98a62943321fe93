"""The installed package has everything it needs, and nothing of the machine it was built on."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Built in pip's own clean environment, from a copy, so that no build folder is left in the tree."""
    work = tmp_path_factory.mktemp("wheel")
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout: the files that belong to the package cannot be told apart")
    for name in listed.stdout.decode().split("\0"):
        if name and (ROOT / name).is_file():
            target = work / "src" / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes((ROOT / name).read_bytes())
    done = subprocess.run([sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", work, work / "src"],
                          capture_output=True, text=True, timeout=300)
    if "No matching distribution found for setuptools" in done.stderr:
        pytest.skip("pip cannot fetch the build tool: no network")
    assert done.returncode == 0, done.stderr
    assert "would be ignored" not in done.stderr, "a folder is missing from the package list"
    (path,) = work.glob("*.whl")
    return path


def test_the_demo_jobs_the_page_and_the_licences_are_inside(wheel):
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
    for folder, home in (("data", "geozone/demo_data"), ("geozone/screens/web", "geozone/screens/web"),
                         ("geozone/screens/vendor", "geozone/screens/vendor")):
        listed = subprocess.run(["git", "ls-files", folder], cwd=ROOT, capture_output=True, text=True, check=True)
        assert listed.stdout.count("\n") > 5, folder
        for name in listed.stdout.split():
            if "/" in name.removeprefix("data/"):  # data/README.md explains the source tree, not the package
                assert home + name.removeprefix(folder) in inside, name
    assert any(name.endswith("licenses/geozone/screens/vendor/leaflet/LICENSE") for name in inside)
    assert not [name for name in inside if "__pycache__" in name or name.endswith((".pyc", ".nbi", ".nbc"))]


def test_an_installed_copy_writes_the_demo_job_without_the_source_tree(wheel, tmp_path):
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "site")
    code = "from geozone.jobs.examples import write_example; import sys; print(write_example('demo', sys.argv[1]))"
    done = subprocess.run([sys.executable, "-B", "-c", code, tmp_path / "job"], cwd=tmp_path, capture_output=True, text=True,
                          env={"PYTHONPATH": str(tmp_path / "site")}, timeout=60)
    assert done.returncode == 0, done.stderr
    assert Path(done.stdout.strip()) == tmp_path / "job" / "job.toml"
    assert (tmp_path / "job" / "sites.csv").read_bytes() == (ROOT / "data" / "border" / "sites.csv").read_bytes()
