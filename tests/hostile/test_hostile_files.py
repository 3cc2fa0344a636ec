"""Files from elsewhere: every one gives a value or a sentence, in bounded time and memory, and runs nothing."""

import ast
import json
import os
import time
import tracemalloc
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backporch.engine.chassis.load import load_chassis
from backporch.engine.errors import BackporchError, BadFile
from backporch.engine.knowledge.library import shipped
from backporch.engine.knowledge.yaml_file import read_yaml, yaml_from_text
from backporch.engine.session.entry import entry_from
from backporch.engine.session.journal import Journal
from backporch.engine.session.scenario import Scenario, load_scenario, scenario_in

ROOT = Path(__file__).parents[2]
SOURCES = [p for room in ("engine", "rules") for p in sorted((ROOT / room).rglob("*.py"))]
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
FIELDS = st.sampled_from([*(f.alias or n for n, f in Scenario.model_fields.items()), "schema", "kind", "like"])
SCENARIO_LIKE = st.dictionaries(FIELDS, PLAIN, max_size=8).map(lambda d: {**d, "schema": 2})
BOMBS = {
    "aliases": "a: &a [x, x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}, *a{n - 1}]\n" for n in range(1, 40)),
    "anchor": "said: &x [1]\nsymptoms: *x\n",
    "merge": "a: &a {b: 1}\nc:\n  <<: *a\n",
    "brackets": "[" * 100_000,
    "braces": "{a: " * 50_000,
    "dashes": "- " * 50_000,
    "indents": "\n".join(" " * n + "a:" for n in range(3000)),
    "code": "!!python/object/apply:os.system ['touch /tmp/owned']",
    "tag": "title: !!binary aGk=\n",
    "documents": "a: 1\n---\nb: 2\n",
    "long key": "? " + "a" * 200_000 + "\n: 1\n",
    "long number": "schema: " + "9" * 200_000,
    "controls": "title: \x00\x1b[2J",
    "wide": "\n".join(f"k{n}: {n}" for n in range(8_000)),
    "many": "- a\n" * 250_000,
}


def refused(path):
    """Read a scenario that must be refused; give what is said, with time and memory held to account."""
    tracemalloc.start()
    begun = time.process_time()
    with pytest.raises(BackporchError) as caught:
        load_scenario(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert time.process_time() - begun < 10
    assert peak < 300e6
    return str(caught.value)


class TestBombs:
    @pytest.mark.parametrize("name", BOMBS)
    def test_is_refused_with_its_name_in_little_time_and_memory(self, tmp_path, name):
        """A file made to blow up is refused in a sentence that names it."""
        path = tmp_path / "bomb.yaml"
        path.write_text(BOMBS[name], encoding="utf-8")
        said = refused(path)

        assert "bomb.yaml" in said
        assert len(said.splitlines()[0]) < 2000
        assert not Path("/tmp/owned").exists()

    def test_a_hundred_megabytes_are_refused_unread(self, tmp_path):
        """A huge file is refused by its size, whatever format it claims."""
        path = tmp_path / "huge.yaml"
        with path.open("wb") as file:
            file.truncate(100_000_000)
        assert "too large" in refused(path)
        folder = tmp_path / "sessions" / "huge"
        folder.mkdir(parents=True)
        path.rename(folder / "journal.jsonl")
        with pytest.raises(BadFile, match="no journal"):
            Journal(folder)

    @pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names there")
    def test_a_pipe_or_device_is_not_waited_for(self, tmp_path):
        """What is no regular file is refused and not waited for."""
        os.mkfifo(tmp_path / "pipe.yaml")
        assert "is not a file" in refused(tmp_path / "pipe.yaml")
        assert "is not a file" in refused(Path("/dev/zero"))


class TestAnything:
    @given(SCENARIO_LIKE)
    @settings(max_examples=80, deadline=None)
    def test_any_fields_are_a_scenario_or_a_sentence(self, data):
        """Whatever stands in the fields of a scenario, it is taken or refused in words."""
        with suppress(BackporchError):
            assert scenario_in(yaml_from_text(json.dumps(data), "any.yaml")).title is not None

    @given(st.text(alphabet=st.sampled_from("abc:-[]{}&*!|>'\"#%@`,?\n \t\u2028é0.1"), max_size=200))
    @settings(max_examples=150, deadline=None)
    def test_any_text_is_read_as_yaml_or_refused(self, text):
        """Any text is plain YAML or is refused in words."""
        with suppress(BackporchError):
            yaml_from_text(text, "any.yaml")

    @given(st.binary(max_size=300))
    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_any_bytes_are_a_journal_or_a_sentence(self, tmp_path, data):
        """Whatever bytes stand in a journal, it opens or is refused in words."""
        folder = tmp_path / "sessions" / "any"
        folder.mkdir(parents=True, exist_ok=True)
        for name in ("session.yaml", "journal.jsonl"):
            (folder / name).unlink(missing_ok=True)
        (folder / "journal.jsonl").write_bytes(data)
        with suppress(BackporchError), Journal(folder):
            pass

    @given(PLAIN)
    @settings(max_examples=80, deadline=None)
    def test_any_json_is_an_entry_or_a_sentence(self, data):
        """Whatever stands in a line of a journal, it is an entry or refused in words."""
        with suppress(BackporchError):
            entry_from({"kind": "note", "key": data} if not isinstance(data, dict) else data)

    @given(st.dictionaries(st.sampled_from(["like", "title", "parts", "tubes", "stages", "mains_v"]), PLAIN))
    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_any_chassis_is_loaded_or_refused(self, tmp_path, data):
        """Whatever stands in a chassis file, it is taken or refused in words."""
        path = tmp_path / "any.yaml"
        path.write_text(json.dumps({"schema": 1, **data}), encoding="utf-8")
        with suppress(BackporchError):
            load_chassis(str(path), LIBRARY)


LIBRARY = shipped()


class TestNothingRuns:
    def test_no_code_is_made_from_text_and_nothing_is_fetched(self):
        """No module calls eval or exec, unpickles, starts a shell, loads YAML unsafely or opens a connection."""
        calls = {"eval", "exec", "compile", "system", "popen", "unsafe_load", "full_load"}
        modules = {
            "pickle",
            "marshal",
            "shelve",
            "socket",
            "urllib.request",
            "http.client",
            "requests",
            "subprocess",
        }
        found = []
        for path in SOURCES:
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                name = getattr(getattr(node, "func", None), "id", "") if isinstance(node, ast.Call) else ""
                named = {a.name for a in node.names} if isinstance(node, ast.Import) else set()
                named |= {node.module} if isinstance(node, ast.ImportFrom) else set()
                if name in calls or named & modules:
                    found.append(f"{path.relative_to(ROOT)}:{node.lineno}")

        assert found == []

    def test_yaml_is_read_without_making_objects(self):
        """Only the safe loaders of the YAML library are named anywhere."""
        users = [p for p in SOURCES if "import yaml" in p.read_text(encoding="utf-8")]

        assert users
        for path in users:
            assert "yaml.load(" not in path.read_text(encoding="utf-8")

    def test_a_shipped_file_is_still_read(self):
        """The limits leave room for every file that is shipped."""
        assert all(read_yaml(p).data for p in (ROOT / "scenarios").rglob("*.yaml"))
