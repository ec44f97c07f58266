"""The project as a whole: its layers, its folders, its two doors, its start-up."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent


def test_each_layer_knows_only_what_lies_below_it():
    code = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    result = subprocess.run(
        [sys.executable, "-c", code], cwd=TOP, capture_output=True, text=True, encoding="utf-8"
    )
    assert result.returncode == 0, result.stdout + result.stderr


def tracked() -> list[Path]:
    if shutil.which("git") is None:
        pytest.skip("needs git, which knows which files are the project's")
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=TOP, capture_output=True, text=True, encoding="utf-8"
    )
    if listed.returncode or not listed.stdout:
        pytest.skip("not a git checkout, so there is no list of the project's files")
    return [TOP / name for name in listed.stdout.split("\0") if name]


def test_nothing_lies_at_the_top_but_what_belongs_there():
    top = {path.relative_to(TOP).parts[0] for path in tracked()}
    allowed = {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "kb", "entries_demo", "site_templates",
        "tests", "docs",
    }  # fmt: skip
    assert {name for name in top if not name.startswith(".")} <= allowed


def test_no_file_names_a_folder_of_one_machine():
    pattern = re.compile(r"/(?:work|root|home)/[a-z]|\.\./shared")
    for path in tracked():
        if path.suffix in {
            ".py",
            ".md",
            ".yaml",
            ".toml",
            ".html",
            ".css",
            ".js",
            "",
        } and path != Path(__file__):
            text = path.read_text(encoding="utf-8")
            assert not pattern.search(text), path


def test_both_doors_lead_to_the_same_book():
    import kb

    benchbook = pytest.importorskip(
        "benchbook", reason="the package is not installed, only on the path"
    )
    assert benchbook.Book is kb.Book


def test_the_version_stands_in_one_piece():
    import kb

    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == kb.__version__
    assert project["license"] == "MIT"
    assert "MIT" in (TOP / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("heavy", ["scipy", "jinja2", "markdown_it"])
def test_a_question_is_answered_without_heavy_imports(heavy, small):
    code = (
        "import sys; from kb.book import Book\n"
        f"book = Book.open({str(small.folder)!r}, {str(small.cache)!r})\n"
        "book.diagnose('crackles', family='drover-22')\n"
        f"sys.exit({heavy!r} in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


def test_help_is_printed_without_the_database_or_the_text_index():
    code = (
        "import sys, runpy; sys.argv = ['benchbook', '--help']\n"
        "try:\n    from kb.cli import main; main()\nexcept SystemExit: pass\n"
        "sys.exit(any(m in sys.modules for m in ('sqlalchemy', 'whoosh', 'scipy')))"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True).returncode == 0
