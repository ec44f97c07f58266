"""Feed each reader of foreign input with spoilt, invented and random inputs; print what came of it.

    python tests/benchmarks/fuzz.py [--total 1000000] [--seed 1] [--jobs 2] [--minutes M] [--only NAME] [--keep DIR]

The same seed gives the same inputs. A finding is an exception that is not documented, a broken
promise, more than 2 s of computing, a write or read outside, a process or a connection. Its smallest
input is written to the folder of `--keep`. Ends with status 1 if there is a finding.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import sys
import time
from collections import defaultdict
from pathlib import Path

# Not this folder, in which this file is named fuzz too.
sys.path[:1] = [str(Path(__file__).resolve().parent.parent)]

from fuzz.engine import Tally, run  # noqa: E402
from fuzz.targets import TARGETS  # noqa: E402

BATCHES = 40
"""Each target's inputs are split so that no job is left with a long one at the end."""


def batch(task: tuple[str, int, int, float]) -> tuple[str, Tally]:
    """Run one part of a target's inputs, up to a time of the monotonic clock."""
    name, count, seed, until = task
    os.environ["BENCHBOOK_TRACE"] = "1"  # a fault of the program itself must not be worded away
    return name, run(TARGETS[name], count, seed, until)


def main() -> int:
    """Print the table."""
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--total", type=int, default=1_000_000)
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    reader.add_argument("--minutes", type=float, default=600.0, help="end after so long")
    reader.add_argument("--only", choices=sorted(TARGETS))
    reader.add_argument("--keep", type=Path, help="where to write the smallest failing inputs")
    chosen = reader.parse_args()
    targets = [TARGETS[chosen.only]] if chosen.only else list(TARGETS.values())
    shares = sum(target.share for target in targets)
    until = time.monotonic() + 60 * chosen.minutes
    tasks = []
    for target in targets:
        whole = chosen.total * target.share // shares
        for part in range(BATCHES):
            count = whole // BATCHES + (part < whole % BATCHES)
            if count:
                tasks.append((target.name, count, chosen.seed * 1000 + part, until))
    tasks.sort(key=lambda task: task[2])
    tallies: dict[str, Tally] = defaultdict(Tally)
    with multiprocessing.get_context("spawn").Pool(chosen.jobs) as pool:
        for done, (name, tally) in enumerate(pool.imap_unordered(batch, tasks), 1):
            tallies[name].add(tally)
            if sys.stderr.isatty():
                print(f"\r{done} of {len(tasks)}", end="", file=sys.stderr)
    show(tallies)
    if chosen.keep:
        keep(tallies, chosen.keep)
    return 1 if any(tally.findings for tally in tallies.values()) else 0


def show(tallies: dict[str, Tally]) -> None:
    """The table, then each finding with its smallest input."""
    print(f"{'target':22}{'inputs':>10}{'seconds':>10}{'slowest s':>11}{'findings':>10}")
    whole = Tally()
    for name in TARGETS:
        tally = tallies.get(name)
        if tally:
            kinds = len(tally.findings)
            print(
                f"{name:22}{tally.inputs:10,}{tally.seconds:10.0f}{tally.slowest:11.3f}{kinds:10}"
            )
            whole.inputs += tally.inputs
            whole.seconds += tally.seconds
            whole.slowest = max(whole.slowest, tally.slowest)
    kinds = sum(len(tally.findings) for tally in tallies.values())
    print(f"{'all':22}{whole.inputs:10,}{whole.seconds:10.0f}{whole.slowest:11.3f}{kinds:10}")
    for name, tally in tallies.items():
        for kind, finding in tally.findings.items():
            print(f"\n{name}: {kind}, {finding.count} times, seed {finding.seed}")
            print(f"  smallest input: {finding.data[:300]!r}")
            print("  " + finding.what.strip().replace("\n", "\n  "))


def keep(tallies: dict[str, Tally], folder: Path) -> None:
    """Write each smallest failing input to a file."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, tally in tallies.items():
        for number, finding in enumerate(tally.findings.values(), 1):
            (folder / f"{name.replace(' ', '-')}-{number}.bin").write_bytes(finding.data)


if __name__ == "__main__":
    sys.exit(main())
