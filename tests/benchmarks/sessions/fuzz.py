"""Feeds every file format and typed line with inputs that a coverage-guided fuzzer makes up; prints figures.

Usage: python tests/benchmarks/sessions/fuzz.py SECONDS.  Needs the package atheris, which is no dependency of
ours.  An input must give a value or one of our own errors; anything else, an input that takes more than five
seconds, or more than 300 MB of memory ends the run and leaves the input behind.
"""

import contextlib
import json
import re
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

LIMIT_MB = 300


def fuzz(tally, arguments):
    """Run the fuzzer in this process until its time is over; the inputs of each format are counted in a file."""
    import atheris

    with atheris.instrument_imports(include=["backporch", "yaml"]):
        from fuzz_formats import READERS, BackporchError, in_a_folder_of_their_own
    formats = in_a_folder_of_their_own()
    tried = Counter()

    def one(data):
        if not data:
            return
        reader = READERS[data[0] % len(READERS)]
        tried[reader.__name__] += 1
        if sum(tried.values()) % 100 == 0:
            Path(tally).write_text(json.dumps(tried))
        with contextlib.suppress(BackporchError):
            reader(formats, data[1:])

    atheris.Setup([sys.argv[0], *arguments], one)
    atheris.Fuzz()


def run(seconds):
    """Run the fuzzer in a process of its own; give its figures."""
    from fuzz_formats import READERS, first_inputs

    with tempfile.TemporaryDirectory() as folder:
        corpus, tally = Path(folder) / "corpus", Path(folder) / "tally.json"
        corpus.mkdir()
        for n, (reader, data) in enumerate(first_inputs()):
            (corpus / f"{n}").write_bytes(bytes([READERS.index(reader)]) + data)
        limits = [f"-max_total_time={seconds}", "-timeout=5", f"-rss_limit_mb={LIMIT_MB}", "-max_len=8000"]
        command = [sys.executable, __file__, "--inside", str(tally), str(corpus), *limits, "-print_final_stats=1"]
        done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
        tried = json.loads(tally.read_text()) if tally.exists() else {}
    stats = dict(re.findall(r"stat::(\w+):\s+(\d+)", done.stderr))
    return {
        "seconds": seconds,
        "inputs": int(stats.get("number_of_executed_units", 0)),
        "of_each_format": dict(sorted(tried.items(), key=lambda item: -item[1])),
        "peak_mb": int(stats.get("peak_rss_mb", 0)),
        "exit_code": done.returncode,
        "last_words": "" if done.returncode == 0 else done.stdout[-2000:] + done.stderr[-2000:],
    }


if __name__ == "__main__":
    if sys.argv[1] == "--inside":
        fuzz(sys.argv[2], sys.argv[3:])
    else:
        print(json.dumps(run(int(sys.argv[1])), indent=2))
