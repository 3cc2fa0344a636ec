"""Chassis files: inheritance, cross checks and changes of value."""

from __future__ import annotations

from pathlib import Path

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.errors import BadFile, BadInput, UnknownWord
from backporch.engine.knowledge.library import Library, shipped


@pytest.fixture(scope="module")
def library() -> Library:
    """Give the knowledge base that is shipped."""
    return shipped()


def written(folder: Path, body: str) -> str:
    """Write a chassis that is like plover-17 and return its path."""
    path = folder / "mine.yaml"
    path.write_text(f"schema: 1\nlike: plover-17\nname: mine\n{body}", encoding="utf-8")
    return str(path)


class TestInheritance:
    """A file gives only what differs."""

    def test_only_the_given_value_differs(self, library: Library, tmp_path: Path) -> None:
        """A part that the file names takes its value and keeps the rest."""
        chassis = load_chassis(written(tmp_path, 'parts:\n  C36: {value: "47 nF"}\n'), library)
        base = load_chassis("plover-17", library)

        assert chassis.parts["C36"].value == "47 nF"
        assert chassis.parts["C36"].role == base.parts["C36"].role
        assert chassis.tubes == base.tubes

    def test_an_empty_entry_is_left_out(self, library: Library, tmp_path: Path) -> None:
        """An entry set to nothing is not inherited."""
        chassis = load_chassis(written(tmp_path, "parts:\n  C17:\n"), library)

        assert "C17" not in chassis.parts

    def test_a_circle_is_refused(self, library: Library, tmp_path: Path) -> None:
        """An unknown parent is said with file and line."""
        path = tmp_path / "x.yaml"
        path.write_text("schema: 1\nlike: plover-18\n", encoding="utf-8")

        with pytest.raises(BadFile, match=r"x.yaml:2: like: .*plover-17"):
            load_chassis(str(path), library)


class TestCrossChecks:
    """Every name is known, and a mistake says where."""

    @pytest.mark.parametrize(
        ("body", "message"),
        [
            ("parts:\n  C36: {kind: papper capacitor}\n", r":5: parts.C36.kind: .*'paper capacitor'"),
            ("parts:\n  C36: {role: cupling}\n", r":5: parts.C36.role: .*'coupling'"),
            ("parts:\n  C36: {stage: vertical-outputs}\n", r":5: parts.C36.stage: .*'vertical-output'"),
            ('parts:\n  C36: {value: "47 k ohm"}\n', r":5: parts.C36.value: "),
            ("parts:\n  C36: {vaule: 3}\n", r":5: parts.C36.vaule: .*'value'"),
            ("parts:\n  C36:\n", r"no part plays the role 'coupling'"),
            ("test_points:\n  b-pluss: {at: x}\n", r":5: test_points.b-pluss: .*'b-plus'"),
            ("stages:\n  tuner: {circuit: turet}\n", r":5: stages.tuner.circuit: .*'turret'"),
        ],
    )
    def test_message(self, library: Library, tmp_path: Path, body: str, message: str) -> None:
        """The message has line, field and the nearest right word."""
        with pytest.raises(BadFile, match=message):
            load_chassis(written(tmp_path, body), library)


class TestChanges:
    """Values are changed without touching the file."""

    def test_value_and_mains(self, library: Library) -> None:
        """Value, standard and mains are replaced in a copy."""
        base = load_chassis("plover-17", library)
        changed = base.with_changes({"C36": "0.22uF"}, standard="625/50", mains_v=110.0)

        assert (changed.parts["C36"].value, changed.standard, changed.mains_v) == ("0.22uF", "625/50", 110.0)
        assert base.parts["C36"].value != "0.22uF"

    def test_refusals(self, library: Library) -> None:
        """An unknown part and a value in the wrong unit are refused."""
        base = load_chassis("plover-17", library)

        with pytest.raises(UnknownWord, match="C3"):
            base.with_changes({"C399": "1 uF"})
        with pytest.raises(BadInput, match="not in F"):
            base.with_changes({"C36": "22 H"})
