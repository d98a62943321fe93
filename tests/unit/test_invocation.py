"""The command that messages print, as it works where geozone was called from."""

import os
import shlex
import subprocess
import sys
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest

from geozone.invocation import called, command, quoted, shell_at_hand

ROOT = Path(__file__).parents[2]
HOME, OFFICE = PurePosixPath("/home/ann"), PureWindowsPath(r"C:\Users\Ann")


@pytest.mark.parametrize("argv0, python, folder, on_path, expected", [
    (".venv/bin/geozone", ".venv/bin/python3", HOME, None, [".venv/bin/geozone"]),
    ("../x/.venv/bin/geozone", "python3", HOME, None, ["../x/.venv/bin/geozone"]),
    ("/home/ann/.venv/bin/geozone", "python3", HOME, None, [".venv/bin/geozone"]),
    ("/opt/geozone/bin/geozone", "python3", HOME, None, ["/opt/geozone/bin/geozone"]),
    ("/home/ann/geozone", "python3", HOME, None, ["./geozone"]),
    # On the path the kernel hands over the whole name.
    ("/usr/bin/geozone", "python3", HOME, "/usr/bin/geozone", ["geozone"]),
    ("/home/ann/.venv/bin/geozone", "python3", HOME, "/usr/bin/geozone", [".venv/bin/geozone"]),
    ("geozone", "python3", HOME, None, ["geozone"]),
    ("/site-packages/geozone/__main__.py", ".venv/bin/python", HOME, None, [".venv/bin/python", "-m", "geozone"]),
    ("/site-packages/geozone/__main__.py", "python3", HOME, None, ["python3", "-m", "geozone"]),
    # Called from a script of the user's: no command to repeat.
    ("/home/ann/mine.py", "python3", HOME, None, ["geozone"]),
    ("", "python3", HOME, None, ["geozone"]),
    (r"C:\Users\Ann\.venv\Scripts\geozone.exe", "python.exe", OFFICE, None, [r".venv\Scripts\geozone"]),
    (r"C:\Users\Ann\.venv\Scripts\geozone", "python.exe", OFFICE, None, [r".venv\Scripts\geozone"]),
    (r"C:\Users\Ann\.venv\Scripts\geozone-script.py", "python.exe", OFFICE, None, [r".venv\Scripts\geozone"]),
    (r"C:\users\ann\py\Scripts\geozone.exe", "python.exe", OFFICE, r"C:\Users\Ann\py\Scripts\GEOZONE.EXE", ["geozone"]),
    (r"D:\py\lib\geozone\__main__.py", "py", OFFICE, None, ["py", "-m", "geozone"]),
])
def test_called(argv0, python, folder, on_path, expected):
    assert called(argv0, [python, argv0], folder, on_path) == expected


def test_quoted_for_the_shell():
    words = [".venv/bin/geozone", "run", "my job/it's $HOME.toml"]
    assert shlex.split(quoted(words, "posix")) == words
    assert quoted([r".venv\Scripts\geozone", "run", r"my job\job.toml"], "cmd") == r'.venv\Scripts\geozone run "my job\job.toml"'
    assert quoted([r"my venv\geozone", "run", r"it's $x\job.toml"], "powershell") == r"& 'my venv\geozone' run 'it''s $x\job.toml'"
    assert quoted([r"C:\a\geozone", "run", "job.toml"], "powershell") == r"C:\a\geozone run job.toml"


def test_which_shell():
    assert shell_at_hand(False, "a;b;c") == "posix"
    assert shell_at_hand(True, r"C:\Program Files\WindowsPowerShell\Modules;C:\Windows\system32\WindowsPowerShell\v1.0\Modules") == "cmd"
    modules = r"C:\Users\Ann\Documents\WindowsPowerShell\Modules;C:\Program Files\WindowsPowerShell\Modules;C:\Windows\x"
    assert shell_at_hand(True, modules) == "powershell"


def test_the_printed_command_runs(tmp_path):
    """`new` into a folder with a blank in its name; the printed line then goes through the shell as it is."""
    made = subprocess.run([sys.executable, "-m", "geozone", "new", "my job"], cwd=tmp_path, capture_output=True, text=True, check=True,
                          env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"})
    line = next(line for line in made.stdout.splitlines() if line.startswith("Run:")).removeprefix("Run:").strip()
    assert line == f"{shlex.quote(sys.executable)} -m geozone run 'my job/job.toml'"
    help_text = subprocess.run(line.replace("run", "run --help", 1), shell=True, cwd=tmp_path, capture_output=True, text=True,
                               env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"})
    assert help_text.returncode == 0 and "Read a job" in help_text.stdout


def test_messages_print_it(geozone, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert command("new", "DIR") == "geozone new DIR"
    (tmp_path / "empty").mkdir()
    code, _, err = geozone("run", "empty")
    assert code == 2 and "make one with: geozone new DIR" in err
    (tmp_path / "bad.toml").write_text("x = = 1\n", encoding="utf-8")
    assert "geozone new DIR" in geozone("run", "bad.toml")[2]
    assert "there is no such job file" in geozone("run", "nothing.toml")[2]
    assert geozone("new", "my job")[0] == 0
    (tmp_path / "my job" / "job.toml").write_text("changed", encoding="utf-8")
    assert "run your job: geozone run 'my job/job.toml'" in geozone("new", "my job")[2]


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_a_console_in_an_old_code_page_stops_nothing(tmp_path, encoding):
    """Greek and an arrow in the title, in a code page that has neither; what cannot be shown is a question mark."""
    made = subprocess.run([sys.executable, "-m", "geozone", "new", "job"], cwd=tmp_path, capture_output=True, check=True,
                          env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert made.returncode == 0
    path = tmp_path / "job" / "job.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('sites = "sites.csv"', 'sites = "Θήρα → Zürich.csv"'), encoding="utf-8")
    ran = subprocess.run([sys.executable, "-m", "geozone", "run", "job/job.toml"], cwd=tmp_path, capture_output=True,
                         env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"})
    assert ran.returncode == 2 and b"there is no such file" in ran.stderr and b"Traceback" not in ran.stderr
