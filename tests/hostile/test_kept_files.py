"""Files that the program keeps for itself are as little trusted as any other."""

import json

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.owner_file import owner_file, owner_name
from backporch.engine.errors import BadFile
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.session.baseline import keep_baseline, kept_baseline
from backporch.engine.training.notebook import read_run

RUN = {"schema": 1, "lesson": "x", "seed": 1, "learner": "me", "acts": []}
BASELINES = {
    "deep": "[" * 100_000,
    "huge number": '{"readings": {"b-plus.dc": ' + "9" * 400 + "}}",
    "no number": '{"readings": {"b-plus.dc": NaN}}',
    "no end": '{"readings": {"b-plus.dc": Infinity}}',
    "other": '{"readings": [1]}',
    "large": '{"readings": {}}' + " " * 5_000_000,
}
RUNS = {
    "act": {**RUN, "acts": [1]},
    "seed": {**RUN, "seed": float("inf")},
    "result": {**RUN, "result": [1]},
    "list": [RUN],
}


@pytest.mark.parametrize("name", BASELINES)
def test_a_damaged_baseline_is_refused_in_a_sentence(tmp_path, monkeypatch, name):
    """Readings that were kept and damaged are refused with the file and what to do."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path))
    path = keep_baseline("plover-17", {"b-plus.dc": 260.0})
    assert kept_baseline("plover-17") == {"b-plus.dc": 260.0}
    path.write_text(BASELINES[name])

    with pytest.raises(BadFile, match=r"plover-17\.json"):
        kept_baseline("plover-17")


@pytest.mark.parametrize("name", RUNS)
def test_a_damaged_lesson_is_refused_in_a_sentence(tmp_path, name):
    """A lesson that was kept and damaged is refused with the file and what to do."""
    path = tmp_path / "lesson.json"
    path.write_text(json.dumps(RUNS[name]))

    with pytest.raises(BadFile, match=r"lesson\.json: this lesson is damaged"):
        read_run(path)


def test_a_strength_that_is_no_ratio_is_told_with_its_line(tmp_path):
    """The ratios of the strengths are numbers above zero."""
    (tmp_path / "strengths.yaml").write_text("schema: 1\nstrengths:\n  weak: much\n")

    with pytest.raises(BadFile, match=r"strengths\.yaml:3: strengths\.weak"):
        _ = Library(tmp_path).strengths


@pytest.mark.parametrize("given", ["1957", "true", "null", "1e3"])
def test_a_set_may_be_called_by_a_number_or_a_word_of_the_format(tmp_path, given):
    """Whatever an owner calls the set, the file that is written is read again."""
    library = shipped()
    like = load_chassis("plover-17", library)
    safety = {"chassis_return": "isolated", "envelope": "glass", "high_voltage_source": "flyback"}
    path = tmp_path / f"{given}.yaml"
    path.write_text(owner_file(owner_name(given), like, safety, {}))

    assert load_chassis(str(path), library).name == given
