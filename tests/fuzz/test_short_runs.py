"""A short run of every fuzz target; `tests/benchmarks/fuzz.py` makes the long ones."""

from __future__ import annotations

import contextlib
import os
import socket
import subprocess
from pathlib import Path
from random import Random

import pytest
from fuzz.engine import Target, broken_off, run
from fuzz.guard import Trespass, guarded
from fuzz.mutate import mutated
from fuzz.targets import TARGETS

COUNTS = {
    "book with a note": 6,
    "foreign cache": 6,
    "evidence": 40,
    "command line": 25,
    "vocabulary": 40,
}

posix_only = pytest.mark.skipif(
    os.name == "nt", reason="it makes links and pipes, and needs a timer"
)


@posix_only
@pytest.mark.parametrize("name", TARGETS)
def test_no_input_breaks_a_promise(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BENCHBOOK_TRACE", "1")
    tally = run(TARGETS[name], COUNTS.get(name, 150), seed=2026)
    shown = [f"{kind}: {f.data!r}\n{f.what}" for kind, f in tally.findings.items()]
    assert not shown, "\n".join(shown)


def test_a_seed_gives_the_same_inputs_again() -> None:
    for target in TARGETS.values():
        assert target.make(Random(5)) == target.make(Random(5))
    assert mutated(Random(1), b"case: A", (b"x",)) != mutated(Random(2), b"case: A", (b"x",))


@posix_only
def test_a_run_reports_what_fails_what_is_slow_and_what_hangs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("fuzz.engine.SLOW", 0.01)
    monkeypatch.setattr("fuzz.engine.broken_off", lambda: broken_off(0.05))

    def touchy(data: bytes, _seed: int) -> None:
        if data == b"3":
            raise ValueError("three")
        while data == b"4":
            pass

    tally = run(
        Target("t", lambda chance: str(chance.randrange(5)).encode(), touchy, 1), 40, seed=1
    )
    kinds = sorted(kind.partition(" ")[0] for kind in tally.findings)
    assert kinds == ["Hang", "ValueError", "slow"]
    assert {f.data for f in tally.findings.values()} == {b"3", b"4"}


def test_the_guard_stops_writing_outside_starting_programs_and_asking_a_network(
    tmp_path: Path,
) -> None:
    inside, outside = tmp_path / "in", tmp_path / "out"
    inside.mkdir()
    outside.mkdir()
    (outside / "mine").write_text("mine")
    (inside / "link").symlink_to(outside / "mine")

    def stopped(act: object) -> bool:
        assert callable(act)
        try:
            with guarded([inside], [inside]):
                act()
        except Trespass:
            return True
        return False

    assert not stopped(lambda: (inside / "new").write_text("x"))
    assert not stopped(lambda: (inside / "new").unlink())
    assert stopped(lambda: (outside / "new").write_text("x"))
    assert stopped(lambda: (inside / "link").write_text("x"))
    assert stopped(lambda: (outside / "mine").read_text())
    assert stopped(lambda: (outside / "mine").unlink())
    assert stopped(lambda: (inside / ".." / "out" / "mine").rename(inside / "x"))
    assert stopped(lambda: subprocess.run(["true"], check=False))
    assert stopped(lambda: os.system("true"))
    assert stopped(socket.socket)
    assert (outside / "mine").read_text() == "mine"


def test_what_is_stopped_and_swallowed_is_reported_all_the_same(tmp_path: Path) -> None:
    def swallowing() -> None:
        with guarded(), contextlib.suppress(BaseException):
            (tmp_path / "x").write_text("x")

    with pytest.raises(Trespass):
        swallowing()
