"""A person's own bench: what is at hand there, and what takes longer or shorter."""

from __future__ import annotations

from pathlib import Path

import pytest

from backporch.engine.cli.setup import make_bench
from backporch.engine.errors import BadFile
from backporch.engine.knowledge.library import shipped

MINE = """\
schema: 1
has: [spare-tubes]
lacks: [oscilloscope]
minutes: {chassis-open: 2, read-mains: 3}
replace_minutes: {flyback transformer: 150}
search_minutes: 90
"""


@pytest.fixture
def written(tmp_path: Path) -> Path:
    """A file to write a bench into."""
    return tmp_path / "bench.yaml"


class TestBenchFile:
    def test_it_says_what_is_there_and_what_is_not(self, written: Path) -> None:
        """Instruments of the file are added to the common ones or taken away."""
        written.write_text(MINE, encoding="utf-8")
        bench = make_bench(shipped(), file=str(written))

        assert "spare-tubes" in bench.instruments
        assert "oscilloscope" not in bench.instruments

    def test_the_command_line_wins(self, written: Path) -> None:
        """What is given beside the file counts more than the file."""
        written.write_text(MINE, encoding="utf-8")
        bench = make_bench(shipped(), ["oscilloscope"], ["spare-tubes"], file=str(written))

        assert "oscilloscope" in bench.instruments
        assert "spare-tubes" not in bench.instruments

    def test_any_cost_may_differ(self, written: Path) -> None:
        """Minutes of tests, states, changes and the search are taken from the file."""
        written.write_text(MINE, encoding="utf-8")
        bench = make_bench(shipped(), file=str(written))

        assert (bench.minutes["chassis-open"], bench.replace_minutes["flyback transformer"]) == (2.0, 150.0)
        assert bench.search_minutes == 90.0

    @pytest.mark.parametrize(
        ("text", "said"),
        [
            (
                "schema: 1\nhas: [oscilloscop]\n",
                "bench.yaml:2: has: unknown instrument 'oscilloscop'.",
            ),
            ("schema: 1\nminutes: {chassis-opn: 2}\n", "Did you mean 'chassis-open'?"),
            ("schema: 1\nreplace_minutes: {fuze: 2}\n", "Did you mean 'fuse'?"),
            ("schema: 1\nminutes: {chassis-open: -2}\n", "outside 0"),
            ("schema: 1\ninstruments: [meter]\n", "unknown field 'instruments'"),
        ],
    )
    def test_a_mistake_is_said_in_a_sentence(self, written: Path, text: str, said: str) -> None:
        """File, line, field and the nearest right word are named."""
        written.write_text(text, encoding="utf-8")
        with pytest.raises(BadFile) as caught:
            make_bench(shipped(), file=str(written))

        assert said in str(caught.value)
