"""A diagnosis from the command line: scripted, piped, stopped and resumed."""

import io
import json

import pytest
from rich.console import Console

from backporch.engine.cli.render import Screen
from backporch.engine.cli.setup import make_workbench

OPENING = ["worked-last-week", "unknown", "full-mains", "accompanied", "generator", "proved"]
ROLLING = [*OPENING, "picture-rolls-up", ""]
FOUND = [*ROLLING, "sync-darker", "stops-but-slips"]


@pytest.fixture
def at_a_repair(run):
    """Give the answers that lead to the change of a part, and the part."""
    lines = FOUND
    for _ in range(30):
        _, out, _ = run("diagnose", "--json", lines=lines)
        part = json.loads(out)["next"]["id"]
        if part[0] in "CRTPV" and part[1:].isdigit():
            return lines, part
        lines = [*lines, "skip"]
    raise AssertionError(part)


class TestRollingPicture:
    def test_ends_in_the_vertical_sync_path(self, run):
        """A rolling picture whose hold control finds the rate is narrowed to the vertical sync path."""
        _, out, _ = run("diagnose", "--json", lines=FOUND)
        document = json.loads(out)

        assert document["stage"] == "vertical-integrator"
        assert document["stages"][0]["probability"] > 0.8

    def test_cautions_come_before_the_first_question(self, run):
        """Nothing is asked before the cautions are said."""
        _, out, _ = run("diagnose", lines=["quit"])

        assert out.index("This work can kill") < out.index("What condition is the set in?")

    def test_asks_the_blanking_bar_first(self, run):
        """After a rolling picture the blanking bar is the first look."""
        _, out, _ = run("diagnose", "--json", lines=ROLLING)

        assert json.loads(out)["next"]["id"] == "look-at-the-blanking-bar"

    def test_shows_what_the_answer_changed_and_both_rivals(self, run):
        """After an answer the ranking shows what it was before and the two best explanations."""
        _, out, _ = run("diagnose", lines=FOUND)

        assert "was " in out
        assert "The two best explanations" in out

    def test_a_cured_part_ends_with_the_proof_of_repair(self, run, at_a_repair):
        """When a changed part cures the set, the proof of the repair is shown."""
        lines, part = at_a_repair
        _, out, _ = run("diagnose", lines=[*lines, "cured"])

        assert f"Found: {part}" in out
        assert "Prove the repair" in out


class TestWords:
    def test_not_sure_is_an_answer_everywhere(self, run):
        """A question mark is taken at every prompt before the symptoms."""
        _, out, err = run("diagnose", lines=["?"] * 7)

        assert err.startswith("The answers end before")
        assert "What has been replaced in this set" in out

    def test_not_sure_whether_a_part_cured_it_goes_on(self, run):
        """Not sure after a change leaves the part open and goes on with another step."""
        _, out, _ = run("diagnose", "--json", lines=[*FOUND, "repaired C26"])
        first = json.loads(out)["next"]["id"]
        _, out, _ = run("diagnose", "--json", lines=[*FOUND, "repaired C26", "?"])

        assert first == "C26"
        assert json.loads(out)["next"]["id"] != first

    @pytest.mark.parametrize("word", ["can't", "cant", "can\u2019t", "skip"])
    def test_a_test_can_be_left_out(self, run, word):
        """A test that is left out is not asked again."""
        _, out, _ = run("diagnose", "--json", lines=[*ROLLING, word])

        assert json.loads(out)["next"]["id"] != "look-at-the-blanking-bar"

    def test_undo_takes_the_last_answer_back(self, run):
        """After undo the same ranking and question come as before the answer."""
        _, before, _ = run("diagnose", "--json", lines=ROLLING)
        _, after, _ = run("diagnose", "--json", lines=[*ROLLING, "sync-darker", "undo"])

        assert json.loads(before)["stages"] == json.loads(after)["stages"]

    def test_why_shows_the_chain_in_words(self, run):
        """Why explains in sentences without names of rules."""
        _, out, _ = run("diagnose", lines=[*FOUND, "why", "quit"])

        assert "only the way to the vertical oscillator is left." in " ".join(out.split())

    def test_why_gives_the_end_of_a_long_computation(self):
        """Of the hundreds of steps to an AGC voltage why shows three, the newest first, and where all stand."""
        console = Console(width=100, record=True, quiet=False, file=io.StringIO())
        bench = make_workbench("curlew-19")
        steps = bench.computation_of(bench.faults.offers["read-agc-line"])

        Screen(console, bench).last_of_computation(steps, "curlew-19 agc-line")
        told = console.export_text()

        assert len(steps) > 50
        assert len(told.splitlines()) <= 14
        assert "backporch expect curlew-19 agc-line --why" in told

    def test_why_names_a_source_only_where_there_is_one(self, run):
        """What is common practice is said once and not behind every sentence."""
        _, out, _ = run("diagnose", lines=[*FOUND, "why", "quit"])

        assert "(common practice)" not in out
        assert " ".join(out.split()).count("it is common practice of the trade") == 1

    def test_why_shows_both_opinions(self, run):
        """Why tells what the reasons alone give the leading stage, and how many simulated faults are there."""
        _, out, _ = run("diagnose", lines=[*FOUND, "why", "quit"])

        assert "Vertical sync path: the reasons alone give it" in " ".join(out.split())
        assert "of the simulated faults that show what you saw" in " ".join(out.split())

    def test_what_is_explains_a_term(self, run):
        """A term of the trade is explained on the spot."""
        _, out, _ = run("diagnose", lines=["what is hold", "quit"])

        assert "hold: the control that sets the free rate" in " ".join(out.split())

    def test_stages_shows_all_of_them(self, run):
        """The word stages lists every stage of the chassis."""
        _, out, _ = run("diagnose", lines=[*ROLLING, "stages", "quit"])

        assert "Horizontal yoke winding" in out


class TestSaving:
    def test_quit_saves_and_resume_goes_on(self, run):
        """A session that was left asks anew what may have changed, and goes on at the same question."""
        run("diagnose", "--session", "farm-set", lines=[*ROLLING, "quit"])
        _, first, _ = run("diagnose", "--session", "farm-set", "--json", lines=[])
        _, out, _ = run("diagnose", "--session", "farm-set", "--json", lines=["full-mains", "accompanied"])

        assert json.loads(first)["next"]["id"] == "supply-aid"

        assert json.loads(out)["next"]["id"] == "look-at-the-blanking-bar"

    def test_answers_from_a_file(self, run, tmp_path):
        """Answers may come from a file with comments."""
        answers = tmp_path / "answers.txt"
        answers.write_text("# the farm set\n" + "\n".join(FOUND) + "\n", encoding="utf-8")
        _, out, _ = run("diagnose", "--answers", str(answers), "--json")

        assert json.loads(out)["stage"] == "vertical-integrator"

    def test_the_order_of_answers_does_not_matter(self, run):
        """Two readings in the other order give the same ranking."""
        _, one, _ = run("diagnose", "--json", lines=[*ROLLING, "V11 pin1 40", "b+ 280"])
        _, two, _ = run("diagnose", "--json", lines=[*ROLLING, "b+ 280", "V11 pin1 40"])

        assert json.loads(one)["stages"] == json.loads(two)["stages"]


class TestBadInput:
    @pytest.mark.parametrize(
        ("arguments", "lines", "said"),
        [
            (["diagnose", "--chassis", "plover17"], [], "Did you mean 'plover-17'"),
            (["diagnose", "--chassis", "nowhere.yaml"], [], "does not exist"),
            (["diagnose", "--order", "fastest"], [], "quickest or cheapest"),
            (["diagnose", "--with", "oscilloscop"], [], "oscilloscope"),
            (["diagnose"], ["broken"], "There is no answer"),
            (["diagnose"], [*OPENING, "xyzzy"], "Nothing fits"),
            (["diagnose", "--session", "../up"], [], "cannot name a session"),
            (["diagnose", "--answers", "missing.txt"], [], "does not exist"),
            (["replay", "missing"], [], "does not exist"),
            (["expect", "plover-17", "vertikal-output"], [], "vertical-output"),
            (["expect", "plover-17", "--set", "C34=5k"], [], "C34"),
            (["expect", "plover-17", "--set", "C999=5nF"], [], "C999"),
            (["expect", "plover-17", "--mains", "nan"], [], "nan"),
            (["simulate", "plover-17", "--fault", "C26=bent"], [], "bent"),
            (["simulate", "plover-17"], [], "--fault"),
            (["term", "holt"], [], "hold"),
        ],
    )
    def test_says_what_is_wrong_and_how_to_mend_it(self, run, arguments, lines, said):
        """Bad input gets one sentence with the mend, exit code 2, and no traceback."""
        code, _, err = run(*arguments, lines=lines)

        assert code == 2
        assert said in err
        assert "Traceback" not in err

    def test_end_of_input_says_how_to_go_on(self, run):
        """When the answers end too early, one sentence says that all is saved and how to go on."""
        code, _, err = run("diagnose", "--session", "short", lines=OPENING)

        assert code == 2
        assert err.strip().endswith("--session short")

    @pytest.mark.parametrize(
        "text",
        [
            "!!python/object:os.system {}",
            "a: &x [1]\nb: *x",
            "a: 1\na: 2",
            "[" * 200,
            "a: b: c",
            "\t- x",
        ],
    )
    def test_hostile_yaml_is_refused_with_its_line(self, run, tmp_path, text):
        """Tags, aliases, double keys and broken YAML are refused; the file is named."""
        bad = tmp_path / "bad.yaml"
        bad.write_text(text, encoding="utf-8")
        code, _, err = run("diagnose", "--chassis", str(bad))

        assert code == 2
        assert "bad.yaml" in err

    def test_a_huge_file_is_refused(self, run, tmp_path):
        """A file of many megabytes is refused before it is read."""
        bad = tmp_path / "bad.yaml"
        bad.write_text("a: 1\n" * 2_000_000, encoding="utf-8")
        code, _, err = run("replay", str(bad))

        assert code == 2
        assert "too large" in err

    def test_an_unwritable_folder_is_named(self, run, tmp_path, monkeypatch):
        """Where sessions cannot be saved, the folder is named and what to do."""
        (tmp_path / "file").write_text("", encoding="utf-8")
        monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path / "file"))
        code, _, err = run("diagnose", lines=["quit"])

        assert code == 2
        assert "BACKPORCH_HOME" in err
