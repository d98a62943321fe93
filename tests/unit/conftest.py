"""The command line in this process, as several files of tests use it."""

import sys

import pytest

from geozone import cli


@pytest.fixture
def geozone(monkeypatch, capsys):
    def call(*arguments):
        monkeypatch.setattr(sys, "argv", ["geozone", *map(str, arguments)])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        text = capsys.readouterr()
        assert "Traceback" not in text.err + text.out
        return stopped.value.code or 0, text.out, text.err
    return call
