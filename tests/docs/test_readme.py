"""The README's commands run, and say what the README says they say."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language="sh"):
    return re.findall(rf"```{language}\n(.*?)```", README, re.S)


def geozone(*arguments, cwd):
    return subprocess.run([sys.executable, "-m", "geozone.cli", *arguments], cwd=cwd, capture_output=True, text=True,
                          encoding="utf-8", timeout=300)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("readme")
    result = geozone("demo", cwd=folder)
    assert result.returncode == 0, result.stderr
    return folder, result


def test_the_demo_command_writes_what_the_readme_names(demo):
    folder, result = demo
    command = README.split("<!-- demo command -->")[1].split("```")[1].removeprefix("sh\n").strip()
    assert command.endswith(".venv/bin/geozone demo")
    assert "geozone-demo/out/map.html` in a browser" in README
    listed = re.findall(r"^\| `([^|]*)` \|", README.split("| file | what is in it |")[1].split("\n\n")[0], re.M)
    names = {name for cell in listed for name in cell.replace("`", "").split(", ")}
    assert names == {path.name for path in (folder / "geozone-demo" / "out").iterdir()}


def test_the_result_shown_is_the_result(demo):
    shown = blocks("text")[0].strip().splitlines()
    for line in shown[:-1]:
        assert line in demo[1].stdout.splitlines()
    # The last line depends on astral's own version in its decimals.
    assert re.sub(r"[\d.]+ s$", "", shown[-1]) in demo[1].stdout


def test_the_ci_runs_the_readmes_test_command():
    marked = README.split("<!-- test command -->")[1].split("```")[1].removeprefix("sh\n").strip()
    assert marked.count("\n") == 0 and "pytest" in marked
    assert "README.md" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_new_then_run(tmp_path):
    made = geozone("new", "my-job", cwd=tmp_path)
    assert made.returncode == 0, made.stderr
    ran = geozone("run", "my-job/job.toml", cwd=tmp_path)
    assert ran.returncode == 0, ran.stderr
    assert (tmp_path / "my-job" / "out" / "map.html").is_file()


def test_times_lines(tmp_path):
    lines = [line.split("#")[0].split("geozone ", 1)[1].split() for block in blocks() for line in block.splitlines()
             if "geozone times" in line]
    assert len(lines) == 2
    one, year = (geozone(*line, cwd=tmp_path) for line in lines)
    # Civil dusk and dawn at the solstice there: sun 6 degrees below the horizon, checked in tests/reference.
    assert one.returncode == 0 and "Australia/Adelaide" in one.stdout and "Dusk" in one.stdout
    assert year.returncode == 0 and len(year.stdout.splitlines()) == 366


def test_every_command_is_in_the_readme():
    from geozone.cli import app

    for command in app.registered_commands:
        assert f"geozone {command.name or command.callback.__name__}" in README


def test_files_that_the_readme_points_to_exist():
    targets = re.findall(r"\]\(([^)#]+)\)", README)
    assert any("://" not in target for target in targets)
    for target in targets:
        if "://" not in target:
            assert (ROOT / target).exists(), target


def test_readme_and_template_name_every_format_that_is_read():
    from geozone.places.codepages import ENCODINGS
    from geozone.places.endings import BOOK_ENDINGS, MAP_FORMATS

    formats = {"CSV", *re.findall(r"\w+", MAP_FORMATS)} - {"or"} | {ending[1:].upper() for ending in BOOK_ENDINGS} - {"XLSM"}
    assert formats >= {"CSV", "XLSX", "GeoJSON", "GeoPackage", "Shapefile"}
    row = next(line for line in README.splitlines() if line.startswith("| site lists |"))
    template = (ROOT / "data" / "template" / "job.toml").read_text(encoding="utf-8")
    comment = next(line for line in template.splitlines() if line.startswith("sites = "))
    for text in (row, comment):
        assert formats <= set(re.findall(r"\w+", text)), text
    assert "one of sixteen older encodings" in row and len(ENCODINGS) == 16


def test_sections_and_keys_that_the_readme_names_are_the_jobs():
    from geozone.jobs.job import JobFile
    from geozone.jobs.keys import keys_of

    keys = keys_of(JobFile)
    text = re.sub(r"```.*?```|<!-- columns.*?<!-- end of columns -->", "", README, flags=re.S)
    sections = re.findall(r"`\[{1,2}([\w.]+)\]{1,2}(?:\s+(\w+))?", text)
    assigned = re.findall(r"`(?:\[\w+\]\s+)?(\w+) = ", text)
    assert len(sections) > 8 and len(assigned) > 5
    for section, name in sections:
        assert section in {key.section for key in keys}, section
        assert not name or (section, name) in {(key.section, key.name) for key in keys}, (section, name)
    assert set(assigned) <= {key.name for key in keys}
