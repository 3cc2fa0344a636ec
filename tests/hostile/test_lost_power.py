"""A kill, a full disk or lost power costs at most the answer that was being typed."""

import errno
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from backporch.engine.errors import BadFile
from backporch.engine.session.entry import Entry, live
from backporch.engine.session.journal import Journal
from backporch.engine.session.scenario import load_session

KILLS = 100
ENTRIES = [Entry("start", "chassis", "plover-17"), *(Entry("note", "", f"note {n} äöü") for n in range(6))]


@pytest.fixture
def folder(tmp_path):
    """A session with some notes, closed."""
    with Journal(tmp_path / "sessions" / "one") as journal:
        for entry in ENTRIES:
            journal.append(entry)
    return tmp_path / "sessions" / "one"


def reopened(folder):
    """What a session has when it is opened again."""
    with Journal(folder) as journal:
        return journal.entries


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
class TestKilled:
    def test_no_answer_is_lost_at_a_hundred_random_moments(self):
        """Killed anywhere, every answer after which something was shown is there, and the session goes on."""
        memory = "/dev/shm" if Path("/dev/shm").is_dir() else None
        with tempfile.TemporaryDirectory(dir=memory) as home:
            environment = {**os.environ, "BACKPORCH_HOME": home, "PYTHONUTF8": "1"}
            script = Path(__file__).with_name("killing.py")
            command = [sys.executable, str(script), str(KILLS), "7"]
            done = subprocess.run(
                command, env=environment, capture_output=True, text=True, timeout=300, check=True
            )
        figures = json.loads(done.stdout)

        assert figures["inside"] >= KILLS // 4
        assert figures["acknowledged"] > KILLS
        assert figures["lost"] == 0
        assert figures["as_undisturbed"] == KILLS


class TestLostPower:
    def test_a_journal_cut_anywhere_gives_all_whole_answers(self, folder):
        """Wherever the last write was cut off, the answers before it stand and the session goes on."""
        whole = (folder / "journal.jsonl").read_bytes()
        text = (folder / "session.yaml").read_text(encoding="utf-8")
        for end in range(whole.index(b"\n") + 1, len(whole), 7):
            (folder / "journal.jsonl").write_bytes(whole[:end])
            (folder / "session.yaml").unlink(missing_ok=True)
            assert reopened(folder) == ENTRIES[: whole[:end].count(b"\n")]
        (folder / "journal.jsonl").write_bytes(whole)
        (folder / "session.yaml").write_text(text, encoding="utf-8")
        assert reopened(folder) == ENTRIES

    def test_a_tail_of_zeros_is_cut_off(self, folder):
        """Zeros that a file system leaves at the end after lost power are no answers."""
        with (folder / "journal.jsonl").open("ab") as file:
            file.write(b"\0" * 300)
        assert reopened(folder) == ENTRIES
        with Journal(folder) as journal:
            journal.append(Entry("note", "", "after"))
        assert reopened(folder)[-1].value == "after"

    def test_a_readable_file_that_was_not_finished_is_never_in_place(self, folder):
        """What a crash leaves of the next readable file does not disturb the one that is there."""
        (folder / "session.yaml.new").write_text("schema: 2\nsaid: [", encoding="utf-8")
        with Journal(folder) as journal:
            journal.append(Entry("note", "", "after"))

        assert load_session(folder / "session.yaml").said[-1].value == "after"
        assert not (folder / "session.yaml.new").exists()

    def test_damage_inside_is_named_with_its_line(self, folder):
        """A damaged line before the end is not passed over in silence."""
        lines = (folder / "journal.jsonl").read_bytes().split(b"\n")
        lines[2] = b"{]"
        (folder / "journal.jsonl").write_bytes(b"\n".join(lines))
        with pytest.raises(BadFile, match=r"journal\.jsonl:3"):
            Journal(folder)


def keep_twenty(journal):
    """Keep notes one after another."""
    for n in range(20):
        journal.append(Entry("note", "", f"more {n}"))


class TestFullDisk:
    @pytest.mark.parametrize("room", [0, 10, 200, 900])
    def test_what_was_saved_stays_and_the_message_says_what_to_do(self, folder, monkeypatch, room):
        """When the disk fills in the middle of a write, everything before is kept and can be read again."""
        left, write = [room], os.write

        def full(handle, data):
            if left[0] <= 0:
                raise OSError(errno.ENOSPC, "No space left on device")
            done = write(handle, bytes(data)[: left[0]])
            left[0] -= done
            return done

        with Journal(folder) as journal, monkeypatch.context() as patch:
            patch.setattr(os, "write", full)
            with pytest.raises(BadFile, match="make room on the disk"):
                keep_twenty(journal)
        kept = reopened(folder)

        assert kept[: len(ENTRIES)] == ENTRIES
        assert [e.value for e in kept[len(ENTRIES) :]] == [f"more {n}" for n in range(len(kept) - len(ENTRIES))]
        with Journal(folder) as journal:
            journal.append(Entry("note", "", "room again"))
        assert load_session(folder / "session.yaml").said == live(reopened(folder))[1:]
