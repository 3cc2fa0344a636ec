"""Sessions are found again by set, complaint and date, and go on as they were."""

import json

import pytest

from backporch.engine.session.entry import Entry
from backporch.engine.session.journal import Journal

OPENING = ["worked-last-week", "unknown", "full-mains", "accompanied", "generator", "proved"]


@pytest.fixture
def shelf(home):
    """Three sessions on two sets, begun one after another."""
    for name, chassis, symptom in (
        ("barn", "plover-17", "no-raster"),
        ("farm", "plover-17", "picture-rolls-up"),
        ("tower", "curlew-19", "sound-hum"),
    ):
        with Journal(home / "sessions" / name) as journal:
            journal.append(Entry("start", "chassis", chassis), Entry("symptom", symptom))
    return home / "sessions"


class TestTheList:
    def test_shows_set_complaint_and_date(self, run, shelf):  # noqa: ARG002
        """Each session stands in the list with its set, what is seen, and when it was touched."""
        code, out, _ = run("sessions")

        assert code == 0
        assert all(word in out for word in ("barn", "curlew-19", "picture rolls up", "20"))

    def test_words_narrow_it(self, run, shelf):  # noqa: ARG002
        """Words of set and complaint find the sessions that have them all."""
        _, out, _ = run("sessions", "plover", "rolls", "--json")

        assert [s["name"] for s in json.loads(out)["sessions"]] == ["farm"]

    def test_the_one_touched_last_is_the_first(self, run, shelf):
        """Going on with an old session brings it to the top."""
        with Journal(shelf / "barn") as journal:
            journal.append(Entry("note", "", "again"))
        _, out, _ = run("sessions", "--json")

        assert json.loads(out)["sessions"][0]["name"] == "barn"

    def test_a_name_from_elsewhere_is_never_printed_raw(self, run, shelf):
        """Escape codes in a title written by somebody else do not reach the terminal."""
        path = shelf / "farm" / "session.yaml"
        text = path.read_text(encoding="utf-8").replace("picture rolls up", "\\x1b[2Jgone\x1b[2J")
        path.write_text(text, encoding="utf-8")
        _, out, _ = run("sessions")

        assert "\x1b[2J" not in out
        assert "gone" in out

    def test_a_session_without_its_readable_file_is_listed(self, run, shelf):
        """Where the readable file is missing, the journal tells set and complaint."""
        (shelf / "farm" / "session.yaml").unlink()
        _, out, _ = run("sessions", "rolls")

        assert "farm" in out


class TestResuming:
    @pytest.mark.parametrize("choice", ["2", "farm", "Farm"])
    def test_chosen_by_number_or_name(self, run, shelf, choice):
        """A session is chosen by its number in the list or by its name, and brings its chassis along."""
        with Journal(shelf / "tower") as journal:
            journal.append(Entry("note", "", "newest"))
        _, out, _ = run("diagnose", "--resume", lines=[choice, "quit"])

        assert "session farm, resumed" in out

    def test_a_set_is_not_asked_for_again(self, run, shelf):  # noqa: ARG002
        """A session goes on with its own chassis though none is named."""
        _, out, _ = run("diagnose", "--session", "tower", "--resume", "--json", lines=[])

        assert json.loads(out)["chassis"] == "curlew-19"

    def test_words_look_for_it(self, run, shelf):  # noqa: ARG002
        """Words that fit one session alone choose it."""
        _, out, _ = run("diagnose", "--resume", lines=["hum", "quit"])

        assert "session tower, resumed" in out

    @pytest.mark.parametrize(
        ("arguments", "lines", "said"),
        [
            (["--resume", "--session", "bran"], [], "Did you mean 'barn'"),
            (["--resume"], ["9"], "from 1 to 3"),
            (["--resume"], ["xyzzy"], "no session 'xyzzy'"),
            (["--session", "tower", "--chassis", "plover-17"], [], "was begun on curlew-19"),
        ],
    )
    def test_a_wrong_choice_is_told(self, run, shelf, arguments, lines, said):  # noqa: ARG002
        """A number or name that is not there is told with what there is."""
        code, _, err = run("diagnose", *arguments, lines=lines)

        assert code == 2
        assert said in err

    def test_nothing_saved_yet(self, run):
        """With an empty shelf the way to begin is shown."""
        code, _, err = run("diagnose", "--resume")

        assert code == 2
        assert "No session is saved yet" in err

    def test_the_bench_is_remembered(self, run, home):
        """What the bench has or lacks is kept with the session, and may be changed when it goes on."""
        run("diagnose", "--session", "Farm set", "--without", "oscilloscope", lines=["quit"])
        run("diagnose", "--session", "farm-set", "--with", "spare-tubes", lines=["quit"])
        text = (home / "sessions" / "farm-set" / "session.yaml").read_text(encoding="utf-8")

        assert "owned: [spare-tubes]" in text
        assert "lacking: [oscilloscope]" in text

    def test_the_file_speaks_in_words(self, run, home):
        """Behind each answer in the session file stands what it means."""
        run("diagnose", "--session", "farm", lines=[*OPENING, "picture-rolls-up", "", "sync-darker", "quit"])
        text = (home / "sessions" / "farm" / "session.yaml").read_text(encoding="utf-8")

        assert "# Look at the blanking bar: " in text
        assert "# Picture rolls upward: seen" in text
