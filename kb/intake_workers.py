"""Reading many notes in several processes at once.

The processes are started afresh with this module as their program and talk over their standard
input and output, so that nothing of the caller's own program is run again, and the folder in which
it was called is not searched for modules. Whatever goes wrong with them, the caller reads on alone.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

import msgspec
from msgspec import Struct

from kb.intake import NoteIn, Reader, Suspect
from kb.lexicon import BookSource
from kb.notes.vocabulary import Vocabulary
from kb.text.recognise import Name

FEW = 400
"""Fewer notes than this are read sooner than a process has started."""
MOST_PROCESSES = 4
_AT_ONCE = 50
_AHEAD = 2
"""How many portions a process is given before its first answer is taken: they stay well below
what a pipe holds, so that neither side waits for the other for ever."""
_PROGRAM = "from kb.intake_workers import serve; serve()"
_LENGTH = 8
_LONGEST = 1 << 30


class _Start(Struct, array_like=True):
    folder: str
    vocabulary: Vocabulary
    names: tuple[Name, ...]


_encode = msgspec.msgpack.encode
_decode_start = msgspec.msgpack.Decoder(_Start).decode
_decode_suspects = msgspec.msgpack.Decoder(list[Suspect]).decode
_decode_notes = msgspec.msgpack.Decoder(list[NoteIn]).decode


def read_notes(source: BookSource, suspects: Sequence[Suspect]) -> Iterator[NoteIn]:
    """Read the notes in their order, with as many processes as pay."""
    done = 0
    count = processes()
    if len(suspects) >= FEW and count > 1 and sys.executable:
        try:
            for note in _in_processes(source, suspects, count):
                yield note
                done += 1
        except (OSError, EOFError, msgspec.MsgspecError):
            pass  # no process could be had, or one died
    reader = Reader(source.folder, source.vocabulary, source.names)
    for suspect in suspects[done:]:
        yield reader(suspect)


def processes() -> int:
    """How many processes are used where there is enough to do."""
    return min(os.cpu_count() or 1, MOST_PROCESSES)


def serve() -> None:
    """Answer one caller until it closes the pipe."""
    questions, answers = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr
    try:
        start = _decode_start(_receive(questions))
        reader = Reader(Path(start.folder), start.vocabulary, start.names)
        while True:
            _send(answers, _encode(reader.all(_decode_suspects(_receive(questions)))))
    except (EOFError, BrokenPipeError, KeyboardInterrupt):
        os._exit(0)  # without a last word over a pipe that is closed


def _in_processes(source: BookSource, suspects: Sequence[Suspect], count: int) -> Iterator[NoteIn]:
    portions = [suspects[at : at + _AT_ONCE] for at in range(0, len(suspects), _AT_ONCE)]
    start = _encode(_Start(str(source.folder.absolute()), source.vocabulary, source.names))
    processes: list[subprocess.Popen[bytes]] = []
    try:
        for _ in range(count):
            processes.append(_process())
            _send(_pipe(processes[-1].stdin), start)
        for at in range(min(count * _AHEAD, len(portions))):
            _send(_pipe(processes[at % count].stdin), _encode(portions[at]))
        for at in range(len(portions)):
            answer = _decode_notes(_receive(_pipe(processes[at % count].stdout)))
            if len(answer) != len(portions[at]):
                raise EOFError
            if at + count * _AHEAD < len(portions):
                later = _encode(portions[at + count * _AHEAD])
                _send(_pipe(processes[at % count].stdin), later)
            yield from answer
    finally:
        for process in processes:
            process.kill()
            for pipe in (process.stdin, process.stdout):
                with suppress(OSError):
                    _pipe(pipe).close()
            process.wait()


def _process() -> subprocess.Popen[bytes]:
    found = [path for path in sys.path if path and Path(path).is_absolute()]
    return subprocess.Popen(
        [sys.executable, "-P", "-c", _PROGRAM],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(found)},
    )


def _pipe(pipe: BinaryIO | object) -> BinaryIO:
    assert pipe is not None
    return pipe  # type: ignore[return-value]


def _send(pipe: BinaryIO, data: bytes) -> None:
    pipe.write(len(data).to_bytes(_LENGTH, "big"))
    pipe.write(data)
    pipe.flush()


def _receive(pipe: BinaryIO) -> bytes:
    """One message. Raises EOFError where the other side has gone."""
    length = pipe.read(_LENGTH)
    if len(length) < _LENGTH:
        raise EOFError
    size = int.from_bytes(length, "big")
    if size > _LONGEST:
        raise EOFError
    data = pipe.read(size)
    if len(data) < size:
        raise EOFError
    return data
