"""Kills a running diagnosis at random moments and goes on with it; prints what became of every answer.

Usage: killing.py COUNT SEED, with BACKPORCH_HOME set.  Each session runs in a fork of this process, so that
one costs some tens of milliseconds.  Prints one JSON document: kills, how many fell inside a run, answers
acknowledged and lost, sessions that ended as an undisturbed one does.
"""

import functools
import io
import json
import os
import random
import select
import signal
import sys
import time

from backporch.engine.cli import main, session_start
from backporch.engine.session.entry import live
from backporch.engine.session.journal import Journal, session_folder
from backporch.engine.session.scenario import load_session

LINES = [
    "worked-last-week",
    "unknown",
    *(f"note number {n} äöü" for n in range(8)),
    "undo",
    "note once more",
    "correct 2 moved",
    *(f"photo below-{n}.jpg" for n in range(4)),
]


def start(name, lines):
    """Run a session in a fork; give its number and where its output is read."""
    out_read, out_write = os.pipe()
    in_read, in_write = os.pipe()
    child = os.fork()
    if child == 0:
        for end, number in ((in_read, 0), (out_write, 1), (os.open(os.devnull, os.O_WRONLY), 2)):
            os.dup2(end, number)
        os.close(out_read)
        os.close(in_write)
        sys.stdin = os.fdopen(0, encoding="utf-8", closefd=False)
        sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
        main(["diagnose", "--session", name])
        os._exit(0)
    os.close(out_write)
    os.close(in_read)
    os.write(in_write, "".join(f"{line}\n" for line in lines).encode())
    os.close(in_write)
    return child, out_read


def output_of(child, out, after=None, delay=0.0):
    """Read what a session prints until it ends, or until it is killed, ``delay`` s after so many bytes."""
    seen, until = b"", None
    while True:
        if after is not None and len(seen) >= after:
            after, until = None, time.monotonic() + delay
        wait = None if until is None else max(until - time.monotonic(), 0.0)
        ready, _, _ = select.select([out], [], [], wait)
        if not ready:
            os.kill(child, signal.SIGKILL)
            until = None
            continue
        more = os.read(out, 65536)
        if not more:
            break
        seen += more
    os.close(out)
    os.waitpid(child, 0)
    return seen.decode(errors="replace")


def said(name):
    """Open a session again; give what was said, and what stands."""
    with Journal(session_folder() / name) as journal:
        kept = [e for e in journal.entries if e.kind not in ("start", "resumed", "found", "caution")]
        standing = [(e.kind, e.key, e.value) for e in live(journal.entries) if e in kept]
        if journal.entries and journal.readable.exists():
            load_session(journal.readable)
    return len(kept), standing


def run(count, seed):
    """Kill ``count`` sessions; give the figures."""
    moments = random.Random(seed)
    begun = time.monotonic()
    length = len(output_of(*start("undisturbed", LINES)).encode())
    pause = (time.monotonic() - begun) / len(LINES)
    whole = said("undisturbed")[1]
    figures = {"kills": count, "inside": 0, "acknowledged": 0, "lost": 0, "as_undisturbed": 0, "seconds": 0.0}
    for number in range(count):
        name = f"killed-{number}"
        after, delay = moments.random() * length, moments.random() * pause
        shown = output_of(*start(name, LINES), after=after, delay=delay)
        acknowledged = max(shown.count("\n> ") - 1, 0)
        kept = said(name)[0] if (session_folder() / name).exists() else 0
        figures["inside"] += 0 < kept < len(LINES)
        figures["acknowledged"] += acknowledged
        figures["lost"] += max(acknowledged - kept, 0)
        output_of(*start(name, LINES[kept:]))
        figures["as_undisturbed"] += said(name)[1] == whole
    figures["seconds"] = round(time.monotonic() - begun, 1)
    return figures


if __name__ == "__main__":
    session_start.make_workbench = functools.cache(session_start.make_workbench)
    sys.stdin, shown = io.StringIO("\n".join(LINES)), sys.stdout
    sys.stdout = io.StringIO()
    main(["diagnose", "--session", "warm"])
    sys.stdout = shown
    print(json.dumps(run(int(sys.argv[1]), int(sys.argv[2]))))
