"""Work done by several processes comes to the same as work done by one."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest
from msgspec import Struct

from kb.site import hands

forks = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork a process")


class Sum(Struct, frozen=True, array_like=True):
    value: int
    by: int


def work(item: int) -> Sum:
    return Sum(item * item, os.getpid())


@pytest.fixture(autouse=True)
def many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hands, "FEW", 4)
    monkeypatch.setattr(os, "cpu_count", lambda: 3)


def nothing(number: int) -> None:
    pass


@forks
def test_every_item_is_done_once_and_by_somebody_else() -> None:
    did: list[str] = []
    items = range(1000)
    found = dict(hands.done_by_many(items, work, Sum, nothing, lambda: did.append("meanwhile")))
    assert {place: sum.value for place, sum in found.items()} == {i: i * i for i in items}
    assert did == ["meanwhile"]
    assert len({sum.by for sum in found.values()} - {os.getpid()}) == 3


def test_few_items_are_done_here() -> None:
    found = dict(hands.done_by_many([1, 2, 3], work, Sum, nothing))
    assert {sum.by for sum in found.values()} == {os.getpid()}


@forks
@pytest.mark.parametrize("how", ["an error", "killed"])
def test_what_a_helper_that_died_left_undone_is_done_here(how: str) -> None:
    here = os.getpid()

    def dies(item: int) -> Sum:
        if item == 501 and os.getpid() != here:
            if how == "killed":
                os.kill(os.getpid(), signal.SIGKILL)
            raise OSError("no room")
        return work(item)

    found = dict(hands.done_by_many(range(1000), dies, Sum, nothing))
    assert {place: sum.value for place, sum in found.items()} == {i: i * i for i in range(1000)}
    assert found[501].by == here
    assert found[500].by != here


@forks
def test_an_error_here_stops_the_helpers(tmp_path: Path) -> None:
    def slow(item: int) -> Sum:
        (tmp_path / str(os.getpid())).touch()
        signal.pause()
        return work(item)

    def fails() -> None:
        while len(list(tmp_path.iterdir())) < 3:
            pass
        raise ValueError("mine")

    with pytest.raises(ValueError, match="mine"):
        list(hands.done_by_many(range(9), slow, Sum, nothing, fails))
    for helper in tmp_path.iterdir():
        with pytest.raises(ProcessLookupError):
            os.kill(int(helper.name), 0)


def test_a_system_without_copies_does_the_work_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused() -> int:
        raise OSError("no more processes")

    monkeypatch.setattr(os, "fork", refused, raising=False)
    found = dict(hands.done_by_many(range(10), work, Sum, nothing))
    assert {place: sum.value for place, sum in found.items()} == {i: i * i for i in range(10)}


@forks
def test_a_large_piece_is_done_in_a_copy_and_a_small_one_here() -> None:
    did: list[str] = []
    large = hands.done_beside(lambda: work(7), Sum, 4, lambda: did.append("meanwhile"))
    small = hands.done_beside(lambda: work(7), Sum, 3, lambda: did.append("meanwhile"))
    assert did == ["meanwhile"] * 2
    assert large.value == small.value == 49
    assert small.by == os.getpid() != large.by


@forks
@pytest.mark.parametrize("how", ["an error", "killed"])
def test_a_piece_whose_copy_died_is_done_here(how: str) -> None:
    here = os.getpid()

    def dies() -> Sum:
        if os.getpid() != here:
            if how == "killed":
                os.kill(os.getpid(), signal.SIGKILL)
            raise OSError("no room")
        return work(7)

    assert hands.done_beside(dies, Sum, 4, lambda: None) == Sum(49, here)


@forks
def test_an_error_here_stops_the_copy_beside(tmp_path: Path) -> None:
    def slow() -> Sum:
        (tmp_path / str(os.getpid())).touch()
        signal.pause()
        return work(7)

    def fails() -> None:
        while not list(tmp_path.iterdir()):
            pass
        raise ValueError("mine")

    with pytest.raises(ValueError, match="mine"):
        hands.done_beside(slow, Sum, 4, fails)
    (helper,) = tmp_path.iterdir()
    with pytest.raises(ProcessLookupError):
        os.kill(int(helper.name), 0)
