"""The page's scripts: the pure ones by themselves (node), all of them read by eslint and by TypeScript's checker (npm).

Their behaviour on the page is tested in tests/browser.
"""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

import geozone

HERE = Path(__file__).parent
SCRIPTS = Path(geozone.__file__).parent / "screens" / "web"
DESK = Path(geozone.__file__).parent / "desk" / "web"
TESTS = sorted(path.name for path in HERE.glob("*.test.mjs"))


def program(name):
    found = shutil.which(name)
    if not found:
        assert not os.environ.get("CI"), f"{name} is missing: .ci/run installs it"
        pytest.skip(f"{name} is not there")
    return found


def ran(*command, cwd, seconds=120):
    done = subprocess.run([*map(str, command)], cwd=cwd, capture_output=True, text=True, encoding="utf-8", timeout=seconds)
    return done.returncode, done.stdout + done.stderr


def test_every_pure_script_has_its_tests():
    assert TESTS == ["almanac.test.mjs", "readings.test.mjs", "trial.test.mjs", "unpack.test.mjs", "words.test.mjs", "yearpicture.test.mjs"]


@pytest.mark.parametrize("name", TESTS)
def test_pure_scripts(name):
    code, said = ran(program("node"), "--test", name, cwd=HERE)
    assert code == 0 and "# fail 0" in said.replace("ℹ", "#"), said


@pytest.fixture(scope="module")
def tools(tmp_path_factory):
    """A folder with the checkers, at the versions of package.json, and a copy of the scripts."""
    npm, node = program("npm"), program("node")
    folder = tmp_path_factory.mktemp("web")
    for name in ("package.json", "eslint.config.mjs", "tsconfig.json", "page.d.ts"):
        shutil.copy(HERE / name, folder)
    shutil.copytree(SCRIPTS, folder / "scripts")
    shutil.copytree(DESK, folder / "scripts" / "desk")
    code, said = ran(npm, "install", "--no-audit", "--no-fund", "--no-package-lock", "--ignore-scripts", cwd=folder)
    if code:
        assert not os.environ.get("CI"), said
        pytest.skip("npm cannot fetch the checkers: no network")
    return lambda script, *more: ran(node, folder / "node_modules" / script, *more, cwd=folder), folder / "scripts"


def eslint(run):
    return run("eslint/bin/eslint.js", "scripts")


def types(run):
    return run("typescript/bin/tsc", "--project", ".")


def test_scripts_are_free_of_lint(tools):
    code, said = eslint(tools[0])
    assert code == 0, said


def test_scripts_agree_with_the_browser_and_the_maps_library(tools):
    code, said = types(tools[0])
    assert code == 0, said


def test_the_checkers_find_faults(tools):
    run, scripts = tools
    faulty = scripts / "faulty.js"
    faulty.write_text('(function (gz) {\n  "use strict";\n  gz.one = () => nowhere;\n  gz.two = () => L.circleMarkr([0, 0]);\n'
                      '  gz.three = text => { let k = 0; return text == k; };\n})(geozone);\n', encoding="utf-8")
    try:
        code, said = eslint(run)
        assert code and all(rule in said for rule in ("no-undef", "eqeqeq", "prefer-const")), said
        code, said = types(run)
        assert code and "circleMarkr" in said and "nowhere" in said, said
    finally:
        faulty.unlink()
