"""The train command: scripted lessons, danger, hints, resuming, the table of a class, JSON."""

import io
import json

import pytest

from backporch.engine.cli import main


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run a command with lines of standard input; give exit code, output and errors."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("COLUMNS", "100")

    def go(*arguments, lines=()):
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        code = main(["train", *arguments])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return go


class TestLesson:
    def test_a_lesson_is_played_to_its_debrief(self, run):
        """Looking at the tubes and naming the dark one ends in a full debrief."""
        lines = ["do the tubes glow", "1", "name V14", "vertical output"]
        code, out, _ = run("a-dark-tube", "--seed", "1", lines=lines)

        assert code == 0
        for said in ("You see", "You hear", "One is dark: V14", "Debrief", "the tool", "To read next"):
            assert said in out
        assert "mastered" in out

    def test_an_unsafe_step_ends_it_and_hides_the_fault(self, run):
        """A part lifted in a live set stops the lesson in three sentences; the fault stays hidden."""
        code, out, _ = run("a-dark-tube", "--seed", "1", lines=["test C26"])

        assert code == 1
        assert "not safe" in out
        assert "stays hidden" in out
        assert "Debrief" not in out

    def test_cautions_are_shortened_once_read(self, run):
        """The second reading brings the short form of the caution, not the long one."""
        lines = ["read-b-plus", "read-rail-vertical"]
        _, out, _ = run("a-dark-tube", "--seed", "1", lines=lines)

        assert out.count("stand on something insulating") == 1
        assert out.count("One hand.") == 1

    def test_hints_grow_deeper_and_cost_minutes(self, run):
        """Three hints in a row are three depths and seven minutes."""
        code, out, err = run("a-dark-tube", "--seed", "1", "--json", lines=["hint", "hint", "hint", "give up"])
        document = json.loads(out)

        assert (code, err) == (1, "")
        assert [step["key"] for step in document["steps"] if step["kind"] == "hint"] == ["1", "2", "3"]
        assert document["minutes"] == 7.0
        assert (document["score"], document["passed"]) == (0, False)

    def test_the_same_hint_is_paid_for_once(self, run):
        """A hint asked for again before any new test is said again and costs nothing."""
        lines = ["hint 1", "hint 1", "give up"]
        _, out, _ = run("a-dark-tube", "--seed", "1", lines=lines)

        assert out.count("Hint 1  ") >= 2
        assert "You paid for this hint already" in out
        assert "1.0 of searching for you" in " ".join(out.split())

    def test_a_list_is_forgotten_after_other_words(self, run):
        """A number means the list just shown, not one that came before another test."""
        code, _, err = run("a-dark-tube", "--seed", "1", lines=["looks", "listen-to-the-sound", "1"])

        assert code == 2
        assert "First say in words what to do" in err

    def test_tells_why_a_test_was_useless(self, run):
        """Asked after a test that could not tell anything, it says that all causes answer alike."""
        _, out, _ = run("a-dark-tube", "--seed", "1", lines=["plug out", "discharge", "test R12", "why"])

        assert "next to nothing" in out
        assert "in 100 of the sets" in out

    def test_goes_on_where_it_was_left(self, run):
        """A lesson that was left is gone on with, its minutes counted."""
        first, _, err = run("a-dark-tube", "--seed", "1", lines=["read-b-plus"])
        second, out, _ = run("a-dark-tube", "--seed", "1", lines=["so far", "quit"])

        assert (first, second) == (2, 0)
        assert "Go on with: backporch train a-dark-tube --seed 1" in err
        assert "goes on" in out
        assert "Read B+" in out

    def test_what_is_not_understood_ends_a_script(self, run):
        """Without a terminal a line that fits nothing is an error and never waits."""
        code, _, err = run("a-dark-tube", "--seed", "1", lines=["xyzzy plugh"])

        assert code == 2
        assert "Say it in other words" in err


class TestLadderCommands:
    def test_the_list_shows_what_is_mastered(self, run):
        """The ladder has a lesson mastered after a run that counts, and the class table has the run."""
        lines = ["look-at-the-heaters", "read-rail-vertical", "plug out", "discharge", "test V14"]
        run("a-dark-tube", "--seed", "1", "--learner", "ann", lines=[*lines, "name V14 in vertical-output"])
        _, out, _ = run("--list", "--json", "--learner", "ann")
        _, table, _ = run("--csv", "--learner", "ann")
        lessons = {row["lesson"]: row for row in json.loads(out)["lessons"]}

        assert lessons["a-dark-tube"]["scores"]
        assert table.splitlines()[1].startswith("ann,")
        assert ",a-dark-tube,1,found," in table

    def test_a_quiz_is_answered_from_a_pipe(self, run):
        """A wrong answer is corrected, and the exit code tells of it."""
        code, out, _ = run("--quiz", "--seed", "2", "--chassis", "plover-17", "--json", lines=["1 V", "quit"])
        document = json.loads(out)

        assert (code, document["right"], len(document["questions"])) == (1, 0, 1)
        assert document["questions"][0]["steps"]

    def test_a_teachers_file_is_checked(self, run, tmp_path):
        """A lesson whose fault does not show is told to be changed, with exit code 1."""
        path = tmp_path / "mine.yaml"
        path.write_text(
            "schema: 1\nlessons:\n  mine:\n    title: Mine\n    level: 1\n    aim: Find it.\n    story: It came.\n"
            "    think: Think.\n    chassis: plover-17\n    variants:\n"
            '      - faults: ["J6=open"]\n      - faults: ["R23=high"]\n'
        )
        code, out, _ = run("--check", str(path))

        assert code == 1
        assert "seed 1 (J6=open): can be used" in out
        assert "seed 2 (R23=high): must be changed" in out
        assert "Nothing is seen or heard" in out
