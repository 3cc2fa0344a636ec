"""Replay tells the first difference and gives exit code 1."""

import json

import pytest

from backporch.engine.cli import main

SCENARIO = """schema: 1
title: Rolls
story: A set rolls.
teaches: Expectations are compared.
chassis: plover-17
faults: ["C26=shorted"]
expect:
  stage: {stage}
  within_minutes: {minutes}
"""


@pytest.fixture
def scenario(tmp_path, monkeypatch):
    """Write a scenario that expects what it is told to; give its path."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path / "home"))

    def write(stage, minutes=60):
        path = tmp_path / "one.yaml"
        path.write_text(SCENARIO.format(stage=stage, minutes=minutes), encoding="utf-8")
        return path

    return write


class TestDifferences:
    def test_as_expected_gives_0(self, scenario, capsys):
        """A scenario that comes out as expected gives exit code 0 and says so."""
        assert main(["replay", str(scenario("vertical-integrator"))]) == 0
        assert "1 of 1 as expected" in capsys.readouterr().out

    @pytest.mark.parametrize(
        ("stage", "minutes", "said"),
        [("tuner", 60, "expected tuner in place 1"), ("vertical-integrator", 0.1, "expected at most")],
    )
    def test_a_difference_gives_1_and_is_explained(self, scenario, capsys, stage, minutes, said):
        """A wrong stage or too many minutes give exit code 1 and a sentence."""
        assert main(["replay", str(scenario(stage, minutes))]) == 1
        assert said in " ".join(capsys.readouterr().out.split())

    def test_json_has_the_same_story(self, scenario, capsys):
        """The JSON document names expected and found stage."""
        main(["replay", "--json", str(scenario("vertical-integrator"))])
        row = json.loads(capsys.readouterr().out)["scenarios"][0]

        assert (row["expected"], row["found"], row["difference"]) == ("vertical-integrator",) * 2 + ("",)

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            ("schema: 1\ntitle: x\n", "is missing"),
            (SCENARIO.format(stage="tunner", minutes=5), "tuner"),
            (SCENARIO.format(stage="tuner", minutes=5).replace("C26=shorted", "C26=bent"), "bent"),
            (SCENARIO.format(stage="tuner", minutes=5).replace("story", "storey"), "Did you mean 'story'"),
        ],
    )
    def test_a_wrong_file_is_named_with_the_mend(self, tmp_path, capsys, text, said):
        """A scenario with a mistake gives exit code 2, its path and the nearest right word."""
        path = tmp_path / "bad.yaml"
        path.write_text(text, encoding="utf-8")

        assert main(["replay", str(path)]) == 2
        error = capsys.readouterr().err
        assert said in error
        assert "bad.yaml" in error
