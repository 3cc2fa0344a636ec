"""A session is a scenario file: readable, changed by hand, and the same again after it was read."""

import stat
import string

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from backporch.engine.errors import BadFile
from backporch.engine.knowledge.yaml_file import yaml_from_text
from backporch.engine.session.entry import KINDS, Entry, live
from backporch.engine.session.journal import Journal
from backporch.engine.session.recorded import entries_of, scenario_of
from backporch.engine.session.scenario import NEVER_SAID, Expectation, Scenario, ScenarioBench, scenario_in
from backporch.engine.session.scenario_text import as_yaml

WORDS = st.text(string.ascii_lowercase + "-", min_size=1, max_size=12)
ANY_TEXT = st.text(max_size=40)


def entries_of_kinds(*kinds):
    """Give entries of some kinds."""
    times = st.sampled_from(["", "2026-11-25T10:00:00+00:00"])
    return st.builds(Entry, st.sampled_from(kinds), ANY_TEXT, ANY_TEXT, times)


ENTRIES = entries_of_kinds(*(k for k in KINDS if k not in NEVER_SAID))
EXPECTATIONS = st.builds(
    Expectation,
    stage=WORDS,
    part=st.none() | ANY_TEXT,
    rank=st.integers(1, 9),
    within_minutes=st.none() | st.floats(1e-3, 1e6),
)
SCENARIOS = st.builds(
    Scenario,
    schema=st.just(2),
    title=ANY_TEXT,
    story=ANY_TEXT,
    teaches=ANY_TEXT,
    chassis=WORDS,
    bench=st.builds(ScenarioBench, owned=st.lists(WORDS).map(tuple), rig=WORDS),
    order=st.sampled_from(["quickest", "cheapest"]),
    careful=st.booleans(),
    begun=ANY_TEXT,
    circumstances=st.dictionaries(WORDS, ANY_TEXT, max_size=3),
    symptoms=st.lists(ANY_TEXT, max_size=3).map(tuple),
    faults=st.lists(ANY_TEXT, min_size=1, max_size=2).map(tuple),
    seed=st.integers(-(10**30), 10**30),
    answers=st.dictionaries(ANY_TEXT, ANY_TEXT, max_size=3),
    left_out=st.dictionaries(WORDS, st.sampled_from(["skip", "cannot"]), max_size=2),
    repairs=st.dictionaries(WORDS, st.sampled_from(["cured", "not-cured"]), max_size=2),
    said=st.lists(ENTRIES, max_size=6).map(tuple),
    expect=st.none() | EXPECTATIONS,
)


def read(text):
    """Read a scenario from its text."""
    return scenario_in(yaml_from_text(text, "one.yaml"))


class TestTheFile:
    @settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
    @given(SCENARIOS)
    def test_a_scenario_is_the_same_after_it_was_written_and_read(self, scenario):
        """Whatever a scenario holds, writing and reading it gives the same scenario."""
        assert read(as_yaml(scenario)) == scenario

    @settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
    @given(SCENARIOS, ANY_TEXT)
    def test_no_remark_can_change_what_is_read(self, scenario, remark):
        """A remark with line ends or marks of YAML in it changes nothing."""
        assert read(as_yaml(scenario, lambda _: remark)) == scenario

    @settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
    @given(SCENARIOS)
    def test_a_session_is_a_scenario_and_back(self, scenario):
        """The entries of a session and its file stand for each other."""
        assert scenario_of(entries_of(scenario)) == scenario

    @settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(ENTRIES, min_size=1, max_size=8))
    def test_what_was_said_keeps_its_order_and_times(self, entries):
        """The standing entries of a session come back in their order with their times."""
        standing = live([Entry("start", "chassis", "plover-17"), *entries])
        text = as_yaml(scenario_of(standing))

        assert entries_of(read(text)) == entries_of(scenario_of(standing))
        assert read(text).said == standing[1:]

    def test_only_plain_letters_reach_the_file(self):
        """Escape codes and line ends inside a name stand there as letters, and never raw."""
        text = as_yaml(Scenario(schema=2, title="\x1b[31m\nred\u2028\x85", chassis="a", faults=("x",)))

        assert "\x1b" not in text
        assert text.splitlines()[-3:-2] == ['title: "\\x1b[31m\\x0ared\\u2028\\x85"']


class TestMigration:
    OLD = """schema: 1
title: Rolls
story: s
teaches: t
chassis: plover-17
answers: {turn-vertical-hold: cannot, look-at-the-blanking-bar: sync-darker}
expect: {stage: tuner, within_minutes: 5}
"""

    def test_the_first_schema_is_brought_up_to_date(self):
        """What schema 1 wrote among the answers as left out gets its place."""
        scenario = read(self.OLD)

        assert scenario.left_out == {"turn-vertical-hold": "cannot"}
        assert scenario.answers == {"look-at-the-blanking-bar": "sync-darker"}
        assert read(as_yaml(scenario)) == scenario

    @pytest.mark.parametrize(
        ("schema", "said"), [("schema: 3", "newer backporch"), ("schema: x", "schema: 2"), ("", "schema: 2")]
    )
    def test_an_unknown_schema_is_refused(self, schema, said):
        """A file from the future or without schema is refused with what to do."""
        with pytest.raises(BadFile, match=said):
            read(self.OLD.replace("schema: 1", schema))

    def test_mistakes_keep_their_line(self):
        """A mistake in an old file is named with the line of that file."""
        with pytest.raises(BadFile, match=r"one\.yaml:7: expect\.stag"):
            read(self.OLD.replace("stage:", "stag:"))


@pytest.fixture
def begun(tmp_path):
    """A session with two answers, closed."""
    with Journal(tmp_path / "sessions" / "farm") as journal:
        journal.append(Entry("start", "chassis", "plover-17"))
        journal.append(Entry("symptom", "picture-rolls-up", at="2026-11-25T10:00:00+00:00"))
        journal.append(Entry("answer", "turn-vertical-hold", "stops-but-slips"))
    return tmp_path / "sessions" / "farm"


class TestBesideTheJournal:
    def test_the_file_is_there_after_every_answer(self, begun):
        """The readable file has every answer as soon as it was given, with a remark where one is known."""
        with Journal(begun) as journal:
            journal.explain = lambda entry: f"about {entry.key}"
            journal.append(Entry("note", "", "yoke plug loose"))
            text = (begun / "session.yaml").read_text(encoding="utf-8")

        assert '- {note: "", value: yoke plug loose}  # about' in text
        assert 'title: "plover-17: picture rolls up"' in text

    def test_a_change_by_hand_is_taken_over(self, begun):
        """An answer changed in the file with an editor is what stands afterwards."""
        path = begun / "session.yaml"
        path.write_text(path.read_text(encoding="utf-8").replace("stops-but-slips", "locks"), encoding="utf-8")
        with Journal(begun) as journal:
            assert journal.edited
            assert live(journal.entries)[-1].value == "locks"
        with Journal(begun) as journal:
            assert not journal.edited

    def test_a_remark_by_hand_changes_nothing(self, begun):
        """Remarks and spacing of one's own are no change."""
        path = begun / "session.yaml"
        path.write_text("# mine\n\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
        with Journal(begun) as journal:
            assert not journal.edited

    def test_a_file_left_behind_by_a_crash_is_no_change(self, begun):
        """Where the program died between journal and file, the journal is right."""
        old = (begun / "session.yaml").read_text(encoding="utf-8")
        with Journal(begun) as journal:
            journal.append(Entry("note", "", "last"))
        (begun / "session.yaml").write_text(old, encoding="utf-8")
        with Journal(begun) as journal:
            assert not journal.edited
            assert journal.entries[-1].value == "last"

    def test_a_story_written_in_by_hand_stays(self, begun):
        """Fields that a scenario has beyond what was said stay when the session goes on."""
        path = begun / "session.yaml"
        text = path.read_text(encoding="utf-8").replace("chassis:", "story: From the barn\nchassis:")
        path.write_text(text, encoding="utf-8")
        with Journal(begun) as journal:
            journal.append(Entry("note", "", "more"))

        assert "story: From the barn" in path.read_text(encoding="utf-8")

    def test_a_broken_file_is_named_and_the_journal_kept(self, begun):
        """A file broken by hand is named with its line; without it the journal serves."""
        path = begun / "session.yaml"
        path.write_text("said: [", encoding="utf-8")
        with pytest.raises(BadFile, match=r"session\.yaml.*(\n.*)*journal\.jsonl"):
            Journal(begun)
        path.unlink()
        with Journal(begun) as journal:
            assert len(journal.entries) == 3

    def test_nobody_else_may_read_it(self, begun):
        """Folder, journal, file and lock belong to their owner alone."""
        modes = {p.name: stat.S_IMODE(p.stat().st_mode) & 0o077 for p in [begun, begun.parent, *begun.iterdir()]}

        assert set(modes.values()) == {0}, modes

    def test_a_link_is_no_session(self, begun):
        """A session that is a link to another folder, or whose files are links, is refused."""
        (begun.parent / "linked").symlink_to(begun)
        with pytest.raises(BadFile, match="is a link"):
            Journal(begun.parent / "linked")
        (begun / "session.yaml").rename(begun / "elsewhere")
        (begun / "session.yaml").symlink_to(begun / "elsewhere")
        with pytest.raises(BadFile, match="is a link"):
            Journal(begun)


class TestUndo:
    @given(st.lists(entries_of_kinds("answer", "symptom", "note", "repair"), max_size=12))
    @settings(max_examples=60)
    def test_undo_reaches_back_to_the_beginning(self, entries):
        """As many undos as there were answers leave nothing but the start."""
        start = Entry("start", "chassis", "plover-17")

        assert live([start, *entries, *([Entry("undo", "")] * (len(entries) + 2))]) == (start,)

    @given(st.lists(entries_of_kinds("answer"), min_size=1, max_size=8), st.data())
    @settings(max_examples=60)
    def test_a_correction_stands_in_the_place_of_the_old_answer_and_can_be_taken_back(self, entries, data):
        """Correcting an answer changes no other and not the order; undo brings the old one back."""
        standing = live(entries)
        n = data.draw(st.integers(0, len(standing) - 1))
        right = Entry("answer", standing[n].key, "right", of=standing[n].name)
        corrected = live([*entries, right])

        assert [e.key for e in corrected] == [e.key for e in standing]
        assert corrected[n].value == "right"
        assert live([*entries, right, Entry("undo", "")]) == standing
