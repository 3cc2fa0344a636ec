"""A thousand answers in one session, and five thousand sessions in the folder; prints, and gates on no seconds."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.interview import Interview
from backporch.engine.session.journal import Journal
from backporch.engine.session.shelf import on_the_shelf

BEGUN = (
    Entry("start", "chassis", "plover-17"),
    Entry("circumstance", "condition", "worked-last-week"),
    Entry("circumstance", "last-event", "unknown"),
    Entry("circumstance", "supply-aid", "full-mains"),
    Entry("circumstance", "company", "accompanied"),
    Entry("circumstance", "source", "generator"),
    Entry("circumstance", "source-proved", "proved"),
    Entry("symptom", "picture-rolls-up"),
    Entry("symptoms-done", ""),
)


def milliseconds(work: Callable[[], object]) -> float:
    """Return the processor time of one call, the best of three."""
    taken = []
    for _ in range(3):
        start = time.process_time()
        work()
        taken.append(1e3 * (time.process_time() - start))
    return min(taken)


def of_the_program(home: Path, *arguments: str, said: bytes = b"") -> float:
    """Return the processor time of the whole program with its start, for one command, best of ten [ms].

    Compiled modules are kept, as those of an installed program are.
    """
    from resource import RUSAGE_CHILDREN, getrusage

    environment = {**os.environ, "BACKPORCH_HOME": str(home), "PYTHONPYCACHEPREFIX": str(home / "compiled")}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    command = [sys.executable, "-c", "from backporch.engine.cli import main; main()", *arguments]
    taken = []
    for _ in range(11):
        before = getrusage(RUSAGE_CHILDREN)
        subprocess.run(command, env=environment, input=said, capture_output=True, check=False)
        after = getrusage(RUSAGE_CHILDREN)
        taken.append(1e3 * (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime))
    return min(taken[1:])


@pytest.mark.benchmark
@pytest.mark.skipif(os.name == "nt", reason="processor time of children is not known there")
def test_long_lived(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All five thousand sessions are listed, and all of a thousand answers stand."""
    root = tmp_path / "sessions"
    with Journal(root / "s0") as journal:
        journal.append(*BEGUN)
    for n in range(1, 5000):
        shutil.copytree(root / "s0", root / f"s{n}")
    bench = make_workbench("plover-17")
    offers = sorted(bench.faults.offers.values(), key=lambda o: o.id)
    said = []
    for n in range(1000):
        offer = offers[n % len(offers)]
        outcomes = list(offer.measurement.outcomes)
        value = "100" if offer.measurement.reading is not None else outcomes[n % len(outcomes)]
        said.append(Entry("answer", offer.id, value, "2026-11-25T10:00:00+00:00"))
    with Journal(root / "long") as journal:
        journal.append(*BEGUN, *said)

    def opened() -> None:
        with Journal(root / "long"):
            pass

    interview = Interview(bench)
    standing = live([*BEGUN, *said])
    interview.turn(standing)
    figures = {
        "list 5,000 sessions": milliseconds(lambda: on_the_shelf(root)),
        "the same, the whole program": of_the_program(tmp_path, "diagnose", "--resume"),
        "the same as JSON": of_the_program(tmp_path, "sessions", "--json"),
        "open a session of 1,000 answers": milliseconds(opened),
        "work out its next question": milliseconds(lambda: interview.turn(standing)),
        "resume it, the whole program": of_the_program(tmp_path, "diagnose", "--resume", "--session", "long"),
        "resume it, up to its next test": of_the_program(
            tmp_path, "diagnose", "--resume", "--session", "long", said=b"full-mains\naccompanied\n"
        ),
        "begin a new one, the whole program": of_the_program(tmp_path, "diagnose", "--session", "new"),
        "explain a term, the whole program": of_the_program(tmp_path, "term", "hold"),
        "help, the whole program": of_the_program(tmp_path, "--help"),
    }
    with capsys.disabled():
        print()
        for name, taken in figures.items():
            print(f"{name}: {taken:.0f} ms")

    assert len(on_the_shelf(root)) >= 5001
    assert len([e for e in standing if e.kind == "answer"]) == len(offers)
