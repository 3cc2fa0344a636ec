"""The simulate command: picture words, readings, first tests, warmth, new parts, an owner's own readings."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from backporch.engine.cli.hard_to_find import run_hard_to_find
from backporch.engine.cli.simulate import SimulateOptions, run_simulate
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.session.baseline import kept_baseline
from backporch.engine.session.entry import Entry
from backporch.engine.session.journal import Journal

LEAKY = ("C36=leaky:1M",)


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep sessions and baselines in a folder of their own."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path))
    return tmp_path


@pytest.fixture
def session(home: Path) -> str:
    """Save a session with two readings of a working set."""
    with Journal(home / "sessions" / "working") as journal:
        journal.append(
            Entry("start", "schema", "2"),
            Entry("start", "chassis", "plover-17"),
            Entry("answer", "read-b-plus", "270 V"),
            Entry("answer", "look-at-the-heaters", "all-lit"),
        )
    return "working"


def document(capsys: pytest.CaptureFixture[str], **options: object) -> dict:
    """Return the JSON document of a simulation."""
    run_simulate(SimulateOptions("plover-17", as_json=True, **options))  # type: ignore[arg-type]
    return dict(json.loads(capsys.readouterr().out))


def test_it_says_words_readings_and_tests(capsys: pytest.CaptureFixture[str]) -> None:
    """The text has what is seen, what reads otherwise, and what to test first."""
    run_simulate(SimulateOptions("plover-17", LEAKY))
    text = capsys.readouterr().out

    assert "Fold-over at the bottom" in text
    assert "Read the grid of the vertical output" in text
    assert "The first tests that would show it:" in text


def test_the_first_tests_tell_the_fault(capsys: pytest.CaptureFixture[str]) -> None:
    """Each named test gives its outcome far more often with the fault than else, cheapest first."""
    tests = document(capsys, faults=LEAKY)["tests"]

    assert len(tests) >= 2
    assert all(test["with_fault"] > test["without"] + 0.3 for test in tests)
    assert [test["minutes"] for test in tests] == sorted(test["minutes"] for test in tests)


def test_a_fault_may_come_with_warmth(capsys: pytest.CaptureFixture[str]) -> None:
    """A heater that opens when hot shows nothing in the first minute and everything later."""
    cold = document(capsys, faults=("V13=heater-opens-when-hot",), minutes=0.5)
    hot = document(capsys, faults=("V13=heater-opens-when-hot",), minutes=60.0)

    assert cold["symptoms"] == ["sound-good"]
    assert {"single-horizontal-line", "worse-when-warm"} <= set(hot["symptoms"])


def test_new_parts_shift_the_priors(capsys: pytest.CaptureFixture[str]) -> None:
    """A recapped set has leaky paper less often."""
    prior = document(capsys, faults=LEAKY, recapped=True)["priors"]["C36:leaky"]

    assert prior["now"] < 0.1 * prior["usual"]


def test_an_unknown_new_part_is_refused() -> None:
    """A name that is no part of the set and no kind is said with the nearest right ones."""
    with pytest.raises(UnknownWord, match="paper capacitor"):
        run_simulate(SimulateOptions("plover-17", LEAKY, new=("papr capacitor",)))


class TestBaseline:
    """The owner's own readings."""

    def test_they_are_kept_and_the_difference_is_shown(
        self, session: str, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """Readings of a session are kept with the chassis, beside the computed ones."""
        rows = document(capsys, baseline=session)["baseline"]

        assert kept_baseline("plover-17") == {"b-plus.dc": 270.0}
        assert rows[0]["own"] == "270 V"
        assert rows[0]["difference"].endswith("%")

    def test_they_replace_computed_values(self, session: str, capsys: pytest.CaptureFixture[str]) -> None:
        """A fault moves the owner's reading and not the computed one, now and in later runs."""
        document(capsys, baseline=session)
        rows = document(capsys, faults=("V20=weak:0.3",))["changed"]
        row = next(row for row in rows if row["measurement"] == "read-b-plus")

        assert row["own"] == "270 V"
        assert float(row["now"].split()[0]) < 260.0

    def test_a_session_of_another_set_is_refused(self, session: str) -> None:
        """Readings of one receiver do not pass for another's."""
        with pytest.raises(BadInput, match="plover-17, not teal-14"):
            run_simulate(SimulateOptions("teal-14", baseline=session))

    def test_an_unknown_session_is_refused(self, session: str) -> None:
        """The nearest name is given."""
        with pytest.raises(UnknownWord, match=session):
            run_simulate(SimulateOptions("plover-17", baseline="workin"))


def test_the_hard_to_find_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """Silent faults and groups of twins come as lists."""
    run_hard_to_find("plover-17", as_json=True)
    found = json.loads(capsys.readouterr().out)

    assert "J4:open" not in found["silent"]
    assert all(len(group) > 1 for group in found["twins"])
