"""What a user sees, and waits for, when the package is imported."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path


def test_nobody_sees_warnings_about_the_source_of_libraries(tmp_path: Path) -> None:
    # Whoosh is compiled anew here, which is when Python remarks on it.
    ran = subprocess.run(
        [sys.executable, "-W", "default", "-c", "import kb.text.index"],
        env={**os.environ, "PYTHONPYCACHEPREFIX": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ran.returncode, ran.stderr) == (0, "")


def test_reading_a_sentence_needs_no_index_and_no_markdown() -> None:
    ran = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; from kb.text import Recogniser, stems, parse;"
            "print(*(m for m in ('whoosh.index', 'markdown_it', 'urllib.request')"
            "        if m in sys.modules))",
        ],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stdout.strip() == ""
