"""The page of the public names is what the docstrings say, and every example in it and in the modules is run."""

import ast
import doctest
import importlib
import runpy
from pathlib import Path

import pytest

import geozone

PACKAGE = Path(geozone.__file__).parent
MAKER = runpy.run_path(str(Path(__file__).parent / "api_page.py"))
EXAMPLES = sorted(".".join(path.relative_to(PACKAGE).with_suffix("").parts) for path in PACKAGE.rglob("*.py")
                  if ">>> " in path.read_text(encoding="utf-8"))


def test_the_page_is_what_the_docstrings_say():
    written = (PACKAGE / "README.md").read_text(encoding="utf-8")
    assert written == MAKER["page"](), "make it again: python tests/docs/api_page.py"


def test_every_public_name_is_on_the_page_once_with_a_docstring_of_its_own():
    names = [name for topic in MAKER["TOPICS"].values() for name in topic.split()]
    assert sorted(names) == sorted(set(geozone.__all__) - {"__version__"})
    for name in names:
        found = getattr(geozone, name)
        assert len(found.__doc__.split()) > 4 and not found.__doc__.startswith(f"{name}("), name  # dataclasses write their own


def test_the_pages_example_runs():
    """Of the docstrings only what the page shows first; the rest is run below, in the modules."""
    text = (PACKAGE / "README.md").read_text(encoding="utf-8").split("## Names")[0].replace("```python", "").replace("```", "")
    test = doctest.DocTestParser().get_doctest(text, {}, "README.md", "README.md", 0)
    assert len(test.examples) >= 8 and doctest.DocTestRunner().run(test).failed == 0


@pytest.mark.parametrize("module", EXAMPLES)
def test_examples_of_a_module_run(module):
    found = doctest.testmod(importlib.import_module(f"geozone.{module}"))
    assert found.attempted and not found.failed


def test_editors_see_the_names_that_are_loaded_late():
    tree = ast.parse((PACKAGE / "__init__.py").read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING")
    seen = {alias.asname: node.module for node in block.body for alias in node.names if alias.asname == alias.name}
    assert seen == geozone._HOME and (PACKAGE / "py.typed").is_file()


def test_links_of_the_page_lead_to_headings():
    import re

    text = (PACKAGE / "README.md").read_text(encoding="utf-8")
    headings = {head.lower().replace(" ", "-") for head in re.findall(r"(?m)^#{2,3} (.+)$", text)}
    links = set(re.findall(r"\]\(#([^)]+)\)", text))
    assert links and links <= headings


def test_the_key_table_is_in_the_page_whole():
    from geozone.jobs.job import JobFile
    from geozone.jobs.keys import keys_of

    table = (PACKAGE / "README.md").read_text(encoding="utf-8").split("## Keys of the job file")[1]
    for key in keys_of(JobFile):
        section = table.split(f"**{'[[' if key.many else '['}{key.section}{']]' if key.many else ']'}**")[1].split("\n**[")[0]
        assert f"| `{key.name}` | {key.sentence} |" in section, key.dotted
