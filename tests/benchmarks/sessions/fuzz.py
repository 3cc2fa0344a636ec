"""Feeds every file format and typed line with inputs that a coverage-guided fuzzer makes up; prints figures.

Usage: python tests/benchmarks/sessions/fuzz.py SECONDS.  Needs the package atheris, which is no dependency of
ours.  An input must give a value or one of our own errors; anything else, an input that takes more than five
seconds, or more than 300 MB of memory ends the run and leaves the input behind.
"""

import contextlib
import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[3]
LIMIT_MB = 300


def seeds(folder):
    """Write what is shipped as first inputs, each behind the number of the format that reads it."""
    for n, path in enumerate(sorted((ROOT / "scenarios").rglob("*.yaml"))[:20]):
        (folder / f"scenario-{n}").write_bytes(b"\0" + path.read_bytes())
    for n, path in enumerate(sorted((ROOT / "kb" / "chassis").glob("*.yaml"))):
        (folder / f"chassis-{n}").write_bytes(b"\1" + path.read_bytes()[:6000])
    entry = b'{"kind": "answer", "key": "turn-vertical-hold", "value": "locks", "of": "skip x"}\n'
    (folder / "journal").write_bytes(b"\2" + entry * 3)
    lines = "V7 pin1 62, boost 310, hold at its end|180-220 wandering|<5 k|repaired C41|correct 3 62 V|! 62|on 12"
    for n, line in enumerate(lines.split("|")):
        (folder / f"line-{n}").write_bytes(b"\3" + line.encode())


def fuzz(arguments):
    """Run the fuzzer in this process until its time is over."""
    import atheris

    with atheris.instrument_imports(include=["backporch", "yaml"]):
        from backporch.engine.chassis.load import load_chassis
        from backporch.engine.cli.setup import make_workbench
        from backporch.engine.errors import BackporchError
        from backporch.engine.knowledge.finder import find_symptoms
        from backporch.engine.knowledge.yaml_file import yaml_from_text
        from backporch.engine.session.entry import entry_from, live
        from backporch.engine.session.found import read_found
        from backporch.engine.session.questions import command_in
        from backporch.engine.session.reading import read_reading
        from backporch.engine.session.recorded import entries_of, scenario_of
        from backporch.engine.session.scenario import scenario_in
        from backporch.engine.session.scenario_text import as_yaml
        from backporch.engine.session.watch import watched
    bench = make_workbench("plover-17")
    scratch = Path(tempfile.mkdtemp()) / "fuzzed.yaml"

    def scenario(data):
        found = scenario_in(yaml_from_text(data.decode(), "fuzzed.yaml"))
        assert scenario_in(yaml_from_text(as_yaml(found), "again.yaml")) == found

    def chassis(data):
        scratch.write_bytes(data)
        load_chassis(str(scratch), bench.library)

    def journal(data):
        entries = [entry_from(json.loads(line)) for line in data.split(b"\n") if line.strip()]
        standing = live(entries)
        if standing:
            entries_of(scenario_of(standing))

    def line(data):
        text = data.decode(errors="replace")
        command_in(text)
        for read in (
            lambda: [read_reading(text, unit) for unit in ("V", "ohm", "A", "Hz")],
            lambda: read_found(bench, text, lambda words: find_symptoms(bench.library, words)),
            lambda: watched(text),
        ):
            try:
                read()
            except BackporchError:
                continue

    formats = (scenario, chassis, journal, line)
    refusals = ((UnicodeDecodeError,), (), (UnicodeDecodeError, json.JSONDecodeError, RecursionError), ())
    # What the journal and read_text turn into one of our own errors themselves.

    def one(data):
        if not data:
            return
        number = data[0] % len(formats)
        with contextlib.suppress(BackporchError, *refusals[number]):
            formats[number](data[1:])

    atheris.Setup([sys.argv[0], *arguments], one)
    atheris.Fuzz()


def run(seconds):
    """Run the fuzzer in a process of its own; give its figures."""
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder)
        seeds(corpus)
        limits = [f"-max_total_time={seconds}", "-timeout=5", f"-rss_limit_mb={LIMIT_MB}", "-max_len=8000"]
        command = [
            sys.executable,
            __file__,
            "--inside",
            str(corpus),
            *limits,
            "-print_final_stats=1",
            "-verbosity=1",
        ]
        done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=os.getcwd())
    stats = dict(re.findall(r"stat::(\w+):\s+(\d+)", done.stderr))
    return {
        "seconds": seconds,
        "inputs": int(stats.get("number_of_executed_units", 0)),
        "peak_mb": int(stats.get("peak_rss_mb", 0)),
        "ended_well": done.returncode == 0,
        "last_words": "" if done.returncode == 0 else done.stderr[-3000:],
    }


if __name__ == "__main__":
    if sys.argv[1] == "--inside":
        fuzz(sys.argv[2:])
    else:
        print(json.dumps(run(int(sys.argv[1])), indent=2))
