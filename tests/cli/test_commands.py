"""The commands as a user meets them: output, JSON, exit status, and never a traceback."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from typing import NamedTuple

import pytest
from click.testing import CliRunner

from kb.cli import COMMANDS, group, main
from kb.resources import sample_book


class Ended(NamedTuple):
    """What a command left: its exit status and what it printed."""

    returncode: int
    stdout: str
    stderr: str


def run(*words: str, cache, book=None, cwd=None, **environment: str) -> Ended:
    """Run the command line as its entry point does, in this process: starting one costs a second."""
    place = ["--book", str(book)] if book else []
    encoding = environment.pop("PYTHONIOENCODING", "utf-8")
    printed = [io.TextIOWrapper(io.BytesIO(), encoding=encoding, write_through=True) for _ in "oe"]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["benchbook", "--cache", str(cache), *place, *words])
        patch.setattr(sys, "stdout", printed[0])
        patch.setattr(sys, "stderr", printed[1])
        for name, value in {"COLUMNS": "80", **environment}.items():
            patch.setenv(name, value)
        if cwd:
            patch.chdir(cwd)
        with pytest.raises(SystemExit) as ended:
            main()
    texts = [stream.buffer.getvalue().decode(encoding) for stream in printed]
    code = ended.value.code
    return Ended(code if isinstance(code, int) else 0 if code is None else 1, *texts)


def test_the_program_itself_starts_and_answers(small):
    """Once in a process of its own, as installed."""
    result = subprocess.run(
        [sys.executable, "-c", "from kb.cli import main; main()", "--cache", str(small.cache),
         "--book", str(small.folder), "search", "crackles", "--json"],
        capture_output=True, text=True, encoding="utf-8",
    )  # fmt: skip
    assert result.returncode == 0, result.stderr
    assert json.loads(result.stdout)["total"] == 2
    assert result.stderr == ""


@pytest.fixture(scope="session")
def cache(tmp_path_factory):
    return tmp_path_factory.mktemp("cli-cache")


def as_json(*words: str, cache, book=None):
    result = run(*words, "--json", cache=cache, book=book or sample_book())
    assert result.returncode == 0, result.stderr
    return json.loads(result.stdout)


# ---------------------------------------------------------------- the JSON contract


def test_search_prints_the_json_of_the_contract(cache):
    answer = as_json("search", "crackles", "when", "warm", "--limit", "3", cache=cache)
    assert set(answer) >= {"total", "hits", "suggestion"}
    assert len(answer["hits"]) == 3
    keys = {"case", "score", "family", "title", "received", "root_causes", "snippet"}
    assert all(set(hit) >= keys for hit in answer["hits"])


def test_diagnose_prints_the_json_of_the_contract(cache):
    answer = as_json("diagnose", "crackles once it is warm", cache=cache)
    assert set(answer) >= {"causes", "unseen", "level", "next_checks", "cautions"}
    total = sum(c["probability"] for c in answer["causes"]) + answer["unseen"]
    assert total == pytest.approx(1, abs=1e-9)
    cause = answer["causes"][0]
    assert set(cause) >= {"cause", "label", "probability", "interval", "cases", "why"}
    assert set(cause["why"][0]) >= {"evidence", "log_odds"}
    check = answer["next_checks"][0]
    assert set(check) >= {"check", "access", "minutes", "bits", "outcomes", "hazards"}
    assert sum(check["outcomes"].values()) == pytest.approx(1, abs=1e-9)


def test_weak_points_prints_the_json_of_the_contract(cache):
    answer = as_json("weak-points", cache=cache)
    for family in answer["families"]:
        assert set(family) >= {"family", "cases", "causes"}
        for cause in family["causes"]:
            assert set(cause) >= {
                "cause", "count", "share", "share_interval", "expected", "ratio", "ratio_low",
                "flag", "trend", "comebacks",
            }  # fmt: skip
            assert set(cause["trend"]) >= {"direction", "p"}


def test_check_and_index_print_the_json_of_the_contract(cache):
    assert as_json("check", cache=cache) == {"problems": []}
    answer = as_json("index", cache=cache)
    assert set(answer) >= {"notes", "added", "changed", "removed", "refused", "seconds"}


def test_show_prints_a_case_as_json(cache):
    assert as_json("show", "2020-0001", cache=cache)["case"] == "2020-0001"


# ---------------------------------------------------------------- what a person sees


@pytest.mark.parametrize(
    "words",
    [
        ("search", "hum"),
        ("diagnose", "crackles once it is warm", "--family", "drover-22", "--access", "live"),
        ("weak-points",),
        ("weak-points", "drover-22"),
        ("show", "2020-0001"),
        ("index",),
        ("check",),
    ],
)
def test_the_output_fits_eighty_columns(cache, words):
    result = run(*words, cache=cache, book=sample_book())
    assert result.returncode == 0, result.stderr
    body = result.stdout if words[0] != "show" else result.stdout.partition("\n\n")[0]
    assert max(map(len, body.splitlines())) <= 80


def test_every_command_has_help(cache):
    for name in COMMANDS:
        answer = CliRunner().invoke(group, [name, "--help"])
        assert answer.exit_code == 0
        assert len(answer.output.splitlines()) > 4


def test_every_command_and_option_stands_in_the_docs():
    text = (sample_book().parent / "docs" / "commands.md").read_text(encoding="utf-8")
    for name in COMMANDS:
        assert f"benchbook {name}" in text
        command = group.get_command(None, name)
        for parameter in command.params:
            for option in parameter.opts if parameter.param_type_name == "option" else ():
                assert option in text, f"{name} {option}"


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "latin-1"])
def test_output_survives_a_terminal_that_cannot_print_an_ohm_sign(cache, encoding):
    result = run("show", "2020-0001", cache=cache, book=sample_book(), PYTHONIOENCODING=encoding)
    assert result.returncode == 0
    ohm = "Ω" if encoding == "cp437" else "ohm"
    assert re.search(rf"earth-bond [0-9.]+ {ohm}", result.stdout)


# ---------------------------------------------------------------- when something is wrong


def test_a_faulty_note_ends_check_with_1_and_the_others_with_0(small):
    small.write("A1", "---\ncase: A1\nfamly: x\n---\n")
    checked = run("check", cache=small.cache, book=small.folder)
    assert checked.returncode == 1
    assert (
        "cases/2024/A1.md:3:1: unknown key in the note 'famly' (did you mean family?)"
        in checked.stdout
    )
    found = run("search", "crackles", "--json", cache=small.cache, book=small.folder)
    assert found.returncode == 0
    assert json.loads(found.stdout)["total"] == 1
    assert "left out because of a fault" in found.stderr


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        (("search", "hum", "--family", "drover-2"), 1, "did you mean drover-22?"),
        (("show", "A9"), 1, "there is no case 'A9'"),
        (("diagnose", "hum", "--check", "tap-valves=loud"), 1, "no-change"),
        (("diagnose", "hum", "--check", "tap-valves"), 2, "CHECK=OUTCOME"),
        (("diagnose", "hum", "--access", "inside"), 2, "'inside' is not one of"),
        (("search",), 2, "Missing argument"),
        (("search", "hum", "--since", "yesterday"), 2, "not a date"),
        (("search", "hum", "--limit", "0"), 2, "0"),
        (("nonsense",), 2, "No such command"),
        (("weak-points", "nobody"), 1, "unknown family"),
    ],
)
def test_a_wrong_question_gets_a_plain_answer(small, words, status, says):
    result = run(*words, cache=small.cache, book=small.folder)
    assert result.returncode == status
    assert says in result.stderr
    assert "Traceback" not in result.stderr
    assert result.stdout == ""


def test_outside_a_book_the_way_to_one_is_said(tmp_path):
    result = run("check", cache=tmp_path / "c", cwd=tmp_path)
    assert result.returncode == 1
    assert "benchbook demo" in result.stderr


def test_the_book_is_found_from_a_folder_inside_it(small):
    result = run("search", "crackles", cache=small.cache, cwd=small.folder / "cases" / "2024")
    assert result.returncode == 0
    assert "A1" in result.stdout


def test_the_book_can_come_from_the_environment(small, tmp_path):
    result = run("check", cache=small.cache, cwd=tmp_path, BENCHBOOK=str(small.folder))
    assert result.returncode == 0


def test_a_site_is_not_written_over_something_else(small, tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "thesis.txt").write_text("years of work", encoding="utf-8")
    result = run("site", str(tmp_path / "mine"), cache=small.cache, book=small.folder)
    assert result.returncode == 1
    assert "thesis.txt" in result.stderr
    assert [p.name for p in (tmp_path / "mine").iterdir()] == ["thesis.txt"]


def test_a_fault_of_the_program_itself_shows_no_traceback(small):
    code = (
        "import kb.book\n"
        "def broken(*a, **k): raise ZeroDivisionError('x')\n"
        "kb.book.Book.check = broken\n"
        "from kb.cli import main; main()"
    )
    result = subprocess.run(
        [sys.executable, "-c", code, "--book", str(small.folder), "check"],
        capture_output=True,
        text=True,
    )
    assert result.returncode == 1
    assert "Traceback" not in result.stderr
    assert "a fault in benchbook itself" in result.stderr
