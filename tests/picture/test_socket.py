"""Sockets are drawn as they are seen from the soldering side."""

import re

import pytest

from backporch.engine.errors import OutOfRange
from backporch.engine.picture.socket import BASES, socket_drawing


class TestSocketDrawing:
    @pytest.mark.parametrize("base", BASES)
    def test_shows_each_pin_once(self, base):
        """Every pin of the base is in the drawing exactly once."""
        numbers = sorted(int(n) for n in re.findall(r"\d+", socket_drawing(base)))

        assert list(range(1, BASES[base][0] + 1)) == numbers

    def test_counts_clockwise_from_below(self):
        """Pin 1 lies left of the gap and the last pin right of it."""
        rows = socket_drawing("noval").splitlines()

        assert "1" in rows[-3]
        assert rows[-3].index("1") < rows[-1].index("gap") < rows[-3].index("9")

    def test_marks_the_pin_asked_for(self):
        """The marked pin stands in brackets and no other does."""
        assert re.findall(r"\[(\d+)\]", socket_drawing("octal", 5)) == ["5"]

    @pytest.mark.parametrize(("base", "pin"), [("octal", 9), ("octal", 0), ("bayonet", 1)])
    def test_refuses_a_pin_that_is_not_there(self, base, pin):
        """A pin or base that does not exist is refused."""
        with pytest.raises(OutOfRange):
            socket_drawing(base, pin)
