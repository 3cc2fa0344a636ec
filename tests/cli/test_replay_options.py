"""Replay takes files and folders, scenarios and sessions, and reports as text, XML or a lesson."""

from xml.etree import ElementTree

import pytest

from backporch.engine.cli.replay_update import with_expectation
from backporch.engine.session.scenario import Expectation, load_scenario

SCENARIO = """# a remark
schema: 2
title: Rolls
chassis: plover-17
circumstances: {condition: worked-last-week}
symptoms: [picture-rolls-up]
answers: {look-at-the-blanking-bar: sync-darker}
# what must be found
expect:
  stage: tuner   # wrong
  within_minutes: 60
"""
OPENING = ["worked-last-week", "unknown", "full-mains", "accompanied", "generator", "proved"]


@pytest.fixture
def scenario(tmp_path):
    """A scenario with recorded answers that expects the wrong stage."""
    path = tmp_path / "folder" / "one.yaml"
    path.parent.mkdir()
    path.write_text(SCENARIO, encoding="utf-8")
    return path


class TestReports:
    def test_junit_has_a_failure_for_each_difference(self, run, scenario, tmp_path):
        """The XML names each scenario and has a failure where it differs."""
        code, _, _ = run("replay", str(scenario), "--junit", str(tmp_path / "out.xml"))
        suite = ElementTree.parse(tmp_path / "out.xml").getroot()

        assert code == 1
        assert (suite.get("tests"), suite.get("failures")) == ("1", "1")
        assert "expected tuner" in suite.find(".//testcase[@name='one']/failure").get("message")

    def test_update_shows_the_difference_and_rewrites_only_what_is_expected(self, run, scenario):
        """After an update the scenario passes; remarks and all else are untouched."""
        code, out, _ = run("replay", str(scenario), "--update")
        text = scenario.read_text(encoding="utf-8")

        assert code == 0
        assert "-  stage: tuner" in out
        assert "+  stage: " in out
        assert text.startswith(SCENARIO[: SCENARIO.index("expect:")])
        assert run("replay", str(scenario))[0] == 0

    def test_a_folder_with_a_broken_file_runs_nothing_and_names_it(self, run, scenario):
        """All files are read first, and every mistake is told."""
        for name in ("a", "b"):
            (scenario.parent / f"{name}.yaml").write_text("schema: 2\ntitle: x\n", encoding="utf-8")
        code, out, err = run("replay", str(scenario.parent))

        assert code == 2
        assert out == ""
        assert "a.yaml" in err
        assert "b.yaml" in err

    def test_links_in_a_folder_are_not_followed(self, run, scenario, tmp_path):
        """A folder of scenarios cannot make replay read what lies outside it."""
        (tmp_path / "secret.yaml").write_text("schema: 9\n", encoding="utf-8")
        (scenario.parent / "link.yaml").symlink_to(tmp_path / "secret.yaml")
        code, out, _ = run("replay", str(scenario.parent))

        assert code == 1
        assert "of 1 as expected" in out

    def test_a_chassis_cannot_climb_out_of_the_folder(self, run, scenario):
        """A scenario from elsewhere cannot name a chassis file through the folders above."""
        scenario.write_text(SCENARIO.replace("plover-17", "../../x.yaml"), encoding="utf-8")
        code, _, err = run("replay", str(scenario))

        assert code == 2
        assert "without .. in its path" in err


class TestLesson:
    def test_steps_through_question_answer_and_reason(self, run, scenario):
        """A lesson shows what is asked, why, what is answered, and what it changed."""
        _, out, _ = run("replay", str(scenario), "--trace")

        assert out.index("What do you see") < out.index("Picture rolls upward: seen") < out.index("Why now")
        assert "Look at the blanking bar" in out
        assert "The two best explanations" in out


class TestSessions:
    def test_a_session_is_replayed_to_what_it_came_to(self, run, home):
        """A session file is a scenario that must come to what the session came to."""
        run("diagnose", "--session", "farm", lines=[*OPENING, "picture-rolls-up", "", "sync-darker", "quit"])
        path = home / "sessions" / "farm" / "session.yaml"
        code, out, _ = run("replay", str(path))

        assert code == 0
        assert "1 of 1 as expected" in out
        assert load_scenario(path).expect.stage in out


class TestRewriting:
    @pytest.mark.parametrize(
        "block",
        ["expect: {stage: tuner, within_minutes: 5}\n", "expect:\n  stage: tuner\n\n  # odd\n  rank: 2\n", ""],
    )
    @pytest.mark.parametrize("after", ["", "seed: 3\n"])
    def test_every_way_of_writing_it_is_replaced(self, tmp_path, block, after):
        """However the expectation is written, what is expected afterwards is the new one and nothing is lost."""
        path = tmp_path / "x.yaml"
        text = 'schema: 2\ntitle: x\nchassis: plover-17\nfaults: ["C26=shorted"]\n' + block + after
        path.write_text(with_expectation(text, Expectation(stage="agc", within_minutes=9)), encoding="utf-8")
        found = load_scenario(path)

        assert found.expect == Expectation(stage="agc", within_minutes=9)
        assert found.seed == (3 if after else 1)
