"""Everything that a person may hand to the program: for each format first inputs, and what reads it.

A reader gives a value or one of our own errors for any bytes at all.
"""

import json
import os
import tempfile
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.owner_file import owner_file, owner_name, owner_questions, unusual
from backporch.engine.chassis.plausible import oddities
from backporch.engine.cli.rigs import save_rig
from backporch.engine.cli.setup import make_workbench
from backporch.engine.errors import BackporchError
from backporch.engine.knowledge.finder import find_symptoms
from backporch.engine.knowledge.kept import cache_folder, kept_yaml
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.rigs import read_rig
from backporch.engine.knowledge.yaml_file import yaml_from_text
from backporch.engine.session.baseline import kept_baseline
from backporch.engine.session.bench_file import load_bench_file
from backporch.engine.session.entry import entry_from, live
from backporch.engine.session.found import read_found
from backporch.engine.session.interview import Interview
from backporch.engine.session.journal import Journal
from backporch.engine.session.questions import command_in
from backporch.engine.session.reading import read_reading
from backporch.engine.session.recorded import entries_of, scenario_of
from backporch.engine.session.scenario import scenario_in
from backporch.engine.session.scenario_text import as_yaml
from backporch.engine.session.watch import watched
from backporch.engine.training.choices import Choices
from backporch.engine.training.course import Course
from backporch.engine.training.lesson import load_lessons, shipped_ladder
from backporch.engine.training.notebook import read_run

ROOT = Path(__file__).parents[3]
TABLES = sorted(n for n, v in vars(Library).items() if isinstance(v, cached_property))
LINES = (
    "V7 pin1 62, boost 310, hold at its end|180-220 wandering|<5 k|repaired C41|correct 3 62 V|! 62|on 12|undo 3|"
    "4k7|0.01 uF|1e400|scope on the integrator|turn vertical hold to 30|name C28 in vertical sync path|test C28"
)


@dataclass(frozen=True)
class Formats:
    """The formats, with one workbench and one folder that all readers share."""

    folder: Path

    @cached_property
    def bench(self):
        """A workbench over a shipped chassis."""
        return make_workbench("plover-17")

    @cached_property
    def choices(self):
        """What a learner may type in a lesson."""
        lessons = shipped_ladder(self.bench.library).lessons.values()
        lesson = next(one for one in lessons if one.chassis == "plover-17")
        return Choices(Course(Interview(self.bench), lesson, 1))

    def file(self, name, data):
        """Write a file into the folder and return its path."""
        path = self.folder / name
        path.write_bytes(data)
        return path

    def scenario(self, data):
        """A scenario, or the readable file of a session: what is read comes back the same when it is written."""
        found = scenario_in(yaml_from_text(data.decode(errors="replace"), "fuzzed.yaml"))
        assert scenario_in(yaml_from_text(as_yaml(found), "again.yaml")) == found

    def chassis(self, data):
        """A chassis file."""
        load_chassis(str(self.file("fuzzed.yaml", data)), self.bench.library)

    def chassis_check(self, data):
        """An owner's chassis file, simulated where it is taken: `chassis check`."""
        oddities(load_chassis(str(self.file("owner.yaml", data)), self.bench.library), self.bench.library)

    def bench_file(self, data):
        """A person's bench file."""
        load_bench_file(self.file("bench.yaml", data), self.bench.library)

    def rig(self, data):
        """A rig: what is read can be saved and is read again the same."""
        found = read_rig(self.file("rig.yaml", data))
        assert read_rig(save_rig("fuzzed", found)).tube == found.tube

    def lessons(self, data):
        """A teacher's lessons."""
        load_lessons(self.file("lessons.yaml", data), self.bench.library)

    def lesson_run(self, data):
        """What is kept of a lesson."""
        read_run(self.file("lesson.json", data))

    def knowledge(self, data):
        """A table of the knowledge base; the first byte says which."""
        table = TABLES[data[0] % len(TABLES)] if data else TABLES[0]
        self.file(f"{table}.yaml", data[1:])
        try:
            getattr(Library(self.folder), table)
        finally:
            (self.folder / f"{table}.yaml").unlink()

    def kept_copy(self, data):
        """A kept copy of a YAML file, which is believed only where it is right."""
        path = self.file("kept.yaml", b"schema: 1\n")
        assert kept_yaml(path).data == {"schema": 1}
        next((cache_folder() / "yaml").glob("kept-*.json")).write_bytes(data)
        assert kept_yaml(path).data == {"schema": 1}

    def journal(self, data):
        """A journal of a session, as the program opens it."""
        folder = self.folder / "sessions" / "fuzzed"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "session.yaml").unlink(missing_ok=True)
        (folder / "journal.jsonl").write_bytes(data)
        with Journal(folder) as journal:
            standing = live(journal.entries)
        if standing:
            entries_of(scenario_of(standing))

    def session_file(self, data):
        """A session whose readable file was changed by hand, opened again."""
        folder = self.folder / "sessions" / "edited"
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "journal.jsonl").write_bytes(b'{"kind": "start", "key": "chassis", "value": "plover-17"}\n')
        (folder / "session.yaml").write_bytes(data)
        with Journal(folder):
            pass

    def entry(self, data):
        """One line of a journal."""
        try:
            plain = json.loads(data)
        except (ValueError, RecursionError):
            return
        entry_from(plain)

    def baseline(self, data):
        """The owner's readings of the working set."""
        self.folder.joinpath("baselines").mkdir(exist_ok=True)
        self.file("baselines/fuzzed.json", data)
        assert all(value == value for value in kept_baseline("fuzzed").values())

    def line(self, data):
        """A line at a prompt: a word, a reading in any unit, readings as found, what is logged in wait."""
        text = data.decode(errors="replace")
        command_in(text)
        for unit in ("V", "ohm", "A", "Hz"):
            self.try_it(read_reading, text, unit)
        self.try_it(read_found, self.bench, text, lambda words: find_symptoms(self.bench.library, words))
        self.try_it(watched, text)

    def lesson_line(self, data):
        """A line in a lesson."""
        text = data.decode(errors="replace")
        self.choices.bench_act(text)
        self.choices.find(text)

    def owner_line(self, data):
        """A line in the interview for an owner's chassis: the file that it makes is read again."""
        text = data.decode(errors="replace").strip()
        like = self.bench.chassis
        taken = {}
        for question in owner_questions(like):
            if self.try_it(unusual, question, text, like, self.bench.library):
                taken[question.key] = text
        name = owner_name(text)
        safety = {"chassis_return": "isolated", "envelope": "glass", "high_voltage_source": "flyback"}
        path = self.file("owned.yaml", owner_file(name, like, safety, taken).encode())
        assert self.try_it(load_chassis, str(path), self.bench.library), path.read_text()

    @staticmethod
    def try_it(read, *arguments):
        """Tell whether something is taken rather than refused in words."""
        try:
            read(*arguments)
        except BackporchError:
            return False
        return True


READERS = (
    Formats.scenario,
    Formats.chassis,
    Formats.chassis_check,
    Formats.bench_file,
    Formats.rig,
    Formats.lessons,
    Formats.lesson_run,
    Formats.knowledge,
    Formats.kept_copy,
    Formats.journal,
    Formats.session_file,
    Formats.entry,
    Formats.baseline,
    Formats.line,
    Formats.lesson_line,
    Formats.owner_line,
)
_OWNER = (
    b"schema: 1\nname: mine\ntitle: Mine\nlike: plover-17\nchassis_return: isolated\nenvelope: glass\n"
    b'high_voltage_source: flyback\nmains_v: "117"\nparts:\n  C41: {value: "0.05 uF"}\n  R35: {value: "22k"}\n'
)
_BENCH = b"schema: 1\nhas: [spare-tubes]\nlacks: [oscilloscope]\nminutes: {chassis-open: 3}\nsearch_minutes: 90\n"
_RIG = b"schema: 1\ntube: 21EP4A\nhorizontal_yoke: 30 mH\nlead: 50 cm\nfoil: 300 cm2\nheater: own-supply\n"
_RUN = (
    b'{"schema": 1, "lesson": "x", "seed": 1, "learner": "me", "acts": [{"kind": "test", "key": "b-plus"}], '
    b'"ended": "", "result": null}'
)
_ENTRY = b'{"kind": "answer", "key": "turn-vertical-hold", "value": "locks", "at": "2026-11-25", "of": "x"}\n'
_START = b'{"kind": "start", "key": "chassis", "value": "plover-17"}\n'
_BASELINE = b'{"schema": 1, "chassis": "plover-17", "readings": {"b-plus.dc": 260.0}}'


def first_inputs():
    """Give (reader, bytes) for what is shipped and what a person would write."""
    scenarios = [p.read_bytes() for p in sorted((ROOT / "scenarios").rglob("*.yaml"))[::8]]
    yield from ((Formats.scenario, data) for data in scenarios)
    yield from ((Formats.session_file, data) for data in scenarios[:4])
    yield from ((Formats.chassis, p.read_bytes()[:6000]) for p in sorted((ROOT / "kb/chassis").glob("*.yaml")))
    yield from ((Formats.lessons, p.read_bytes()[:6000]) for p in sorted((ROOT / "kb/lessons").glob("*.yaml"))[:3])
    for number, table in enumerate(TABLES):
        for path in [*sorted((ROOT / "kb" / table).glob("*.yaml")), ROOT / "kb" / f"{table}.yaml"][:1]:
            if path.is_file():
                yield Formats.knowledge, bytes([number]) + path.read_bytes()[:3000]
    for line in LINES.encode().split(b"|"):
        yield from ((reader, line) for reader in (Formats.line, Formats.lesson_line, Formats.owner_line))
    for name in (b"plover-17", b"dunlin-24", b"curlew-19", b"teal-14"):
        yield Formats.chassis, _OWNER.replace(b"plover-17", name)
    yield from (
        (Formats.chassis_check, _OWNER),
        (Formats.bench_file, _BENCH),
        (Formats.rig, _RIG),
        (Formats.lesson_run, _RUN),
        (Formats.kept_copy, b"0" * 64 + b'\n{"schema": 2}'),
        (Formats.journal, _START + _ENTRY * 3),
        (Formats.entry, _ENTRY),
        (Formats.baseline, _BASELINE),
    )


def in_a_folder_of_their_own():
    """Return the formats over a new folder, which also holds sessions and copies that are made on the way."""
    folder = Path(tempfile.mkdtemp(prefix="fuzzed-"))
    formats = Formats(folder)
    _ = formats.bench.faults, formats.choices  # Built with the dictionary that is kept for everybody.
    os.environ["BACKPORCH_HOME"], os.environ["BACKPORCH_CACHE"] = str(folder), str(folder / "cache")
    return formats
