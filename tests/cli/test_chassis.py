"""The chassis commands: a file of one's own, its check, and what may replace a tube."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from backporch.engine.chassis.load import load_chassis
from backporch.engine.cli import main
from backporch.engine.cli.chassis import chassis_app
from backporch.engine.knowledge.library import shipped

KEEP = "\n" * 9


def answered(folder: Path, text: str) -> list[str]:
    """Write answers and return the options that read them."""
    path = folder / "answers.txt"
    path.write_text(text, encoding="utf-8")
    return ["--answers", str(path)]


def like_plover(parts: str) -> str:
    """Return a chassis file that differs in some parts."""
    said = "chassis_return: isolated\nenvelope: glass\nhigh_voltage_source: flyback\n"
    return f"schema: 1\nlike: plover-17\nname: mine\n{said}parts:\n{parts}"


class TestNew:
    """An owner is led to a file of their own."""

    def test_the_file_holds_what_differs(self, tmp_path: Path) -> None:
        """Mains, one part and what concerns safety stand in the file, the rest is taken over."""
        file = tmp_path / "hall-console.yaml"
        code = main(
            [
                "chassis",
                "new",
                str(file),
                "--like",
                "dunlin-24",
                *answered(tmp_path, f"3\n1\n1\n115 V\n150 uF{KEEP}"),
            ]
        )
        chassis = load_chassis(str(file), shipped())

        assert code == 0
        assert (chassis.mains_v, chassis.parts["C3"].value, chassis.chassis_return) == (
            115,
            "150 uF",
            "doubler-leg",
        )
        assert chassis.tubes == load_chassis("dunlin-24", shipped()).tubes

    def test_not_sure_is_written_as_the_worst(self, tmp_path: Path) -> None:
        """Enter at a question of safety takes the answer that endangers nobody."""
        file = tmp_path / "x.yaml"
        main(["chassis", "new", str(file), "--like", "plover-17", *answered(tmp_path, f"\n\n\n\n{KEEP}")])

        assert "chassis_return: live-either-way" in file.read_text(encoding="utf-8")
        assert "high_voltage_source: mains" in file.read_text(encoding="utf-8")

    def test_a_doubtful_value_is_asked_for_twice(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """A value far from what is usual is kept only when it is typed again."""
        file = tmp_path / "x.yaml"
        text = f"1\n1\n1\n\n47 mF\n47 mF{KEEP}"
        code = main(["chassis", "new", str(file), "--like", "plover-17", *answered(tmp_path, text)])

        assert "Type it again to keep it" in capsys.readouterr().out
        assert code == 1

    def test_back_and_terms_are_understood_on_the_way(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """The question before can be answered anew, and a word of the trade is explained where it stands."""
        file = tmp_path / "x.yaml"
        text = f"1\n2\nback\nwhat is chassis return?\n1\n1\n110 V\nback\n120 V\n{KEEP}"
        code = main(["chassis", "new", str(file), "--like", "plover-17", *answered(tmp_path, text)])
        chassis = load_chassis(str(file), shipped())

        assert code == 0
        assert "2 of 13. What is the cone" in capsys.readouterr().out
        assert (chassis.envelope, chassis.mains_v) == ("glass", 120)

    @pytest.mark.parametrize(
        ("line", "word"),
        [
            ("0.022", "0.022 of what"),
            ("22 k", "Write it like 100 uF"),
            ("help me", "like 100 uF"),
            ("1e200 uF", "cannot be"),
        ],
    )
    def test_what_is_no_value_is_refused_with_one_that_is(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str], line: str, word: str
    ) -> None:
        """A capacitance without its unit is asked about, and another unit is told apart."""
        file = tmp_path / "x.yaml"
        given = answered(tmp_path, f"1\n1\n1\n\n{line}{KEEP}")

        assert main(["chassis", "new", str(file), "--like", "dunlin-24", *given]) == 2
        assert word in capsys.readouterr().err
        assert not file.exists()

    @pytest.mark.parametrize(
        ("arguments", "word"),
        [
            (["x.txt", "--like", "plover-17"], "ends in .yaml"),
            (["x.yaml", "--like", "plover-71"], "plover-17"),
        ],
    )
    def test_refusals(self, arguments: list[str], word: str, capsys: pytest.CaptureFixture[str]) -> None:
        """A wrong ending and an unknown receiver are said in one sentence."""
        assert main(["chassis", "new", *arguments]) == 2
        assert word in capsys.readouterr().err

    def test_nothing_is_written_when_the_answers_end(self, tmp_path: Path) -> None:
        """Half an interview leaves no file, and an existing file is never overwritten."""
        file = tmp_path / "x.yaml"
        code = main(["chassis", "new", str(file), "--like", "plover-17", *answered(tmp_path, "1\n1\n")])

        assert (code, file.exists()) == (2, False)


class TestCheckShowDiff:
    """What a file says is checked, shown and compared."""

    def test_check_finds_a_slip(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """A value in the wrong unit gives exit code 1 and what was expected."""
        file = tmp_path / "mine.yaml"
        file.write_text(
            'schema: 1\nlike: plover-17\nname: mine\nparts:\n  C36: {value: "100 uF"}\n', encoding="utf-8"
        )
        code = main(["chassis", "check", str(file), "--json"])
        found = json.loads(capsys.readouterr().out)

        assert code == 1
        assert "parts.C36.value" in [o["where"] for o in found["oddities"]]

    def test_check_refuses_an_unwise_tube(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """A tube type that must not stand for the original is refused with the reason."""
        file = tmp_path / "mine.yaml"
        file.write_text("schema: 1\nlike: plover-17\nname: mine\ntubes:\n  V11: {type: 12AX7}\n", encoding="utf-8")

        assert main(["chassis", "check", str(file)]) == 1
        assert "amplification is six times as great" in " ".join(capsys.readouterr().out.split())

    def test_show_names_parts_and_tubes(self, capsys: pytest.CaptureFixture[str]) -> None:
        """Parts with their values and tubes with their types are listed."""
        assert main(["chassis", "show", "teal-14"]) == 0
        out = capsys.readouterr().out

        assert "PL81" in out
        assert "boost" in out

    def test_diff_shows_parts_and_readings(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """A changed part is listed, and the points that read differently for it."""
        file = tmp_path / "mine.yaml"
        file.write_text(like_plover('  R2: {value: "4.7 k"}\n'), encoding="utf-8")
        main(["chassis", "diff", "plover-17", str(file), "--json"])
        found = json.loads(capsys.readouterr().out)

        assert [d["where"] for d in found["built"]] == ["R2"]
        assert "rail-tuner" in [d["where"] for d in found["read"]]

    def test_a_chassis_does_not_differ_from_itself(self, capsys: pytest.CaptureFixture[str]) -> None:
        """Nothing is listed for twice the same."""
        main(["chassis", "diff", "plover-17", "plover-17"])

        assert capsys.readouterr().out.count("no difference") == 2


class TestStandIn:
    """Whether a tube may stand in is answered with a reason."""

    def test_refused(self, capsys: pytest.CaptureFixture[str]) -> None:
        """A refusal gives the reason and exit code 1."""
        assert main(["chassis", "stand-in", "plover-17", "V11", "12AX7"]) == 1
        assert "Do not put a 12AX7 there" in capsys.readouterr().out

    def test_allowed(self, capsys: pytest.CaptureFixture[str]) -> None:
        """Where nothing speaks against it, the tube manual is still named."""
        assert main(["chassis", "stand-in", "dunlin-24", "V14", "6FQ7"]) == 0
        assert "tube manual" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("command", chassis_app.registered_commands, ids=lambda c: c.name or c.callback.__name__)
def test_help_has_an_example(command) -> None:  # type: ignore[no-untyped-def]
    """The help of each chassis command ends with an example."""
    assert "Example: backporch chassis " in command.callback.__doc__
