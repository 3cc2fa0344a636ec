"""A picture in text fits the terminal that it is drawn in."""

from __future__ import annotations

import pytest
from rich.console import Console

from backporch.engine.errors import OutOfRange
from backporch.engine.picture.blocks import picture_lines
from backporch.engine.picture.depth import terminal_depth


class TestPictureLines:
    @pytest.mark.parametrize("depth", ["colour", "shades", "ascii"])
    def test_every_line_is_as_wide_as_asked(self, depth):
        """A picture of 40 columns is 40 columns wide and 15 lines high, with colour and without."""
        lines = picture_lines({}, columns=40, depth=depth)

        assert [line.cell_len for line in lines] == [40] * 15

    def test_ascii_is_ascii(self):
        """A terminal without the block characters gets none."""
        assert "".join(line.plain for line in picture_lines({}, columns=32, depth="ascii")).isascii()

    def test_a_line_is_seen_as_a_line(self):
        """The collapsed picture is bright in the middle and dark elsewhere."""
        lines = [line.plain for line in picture_lines({"height": 0.004}, columns=32, depth="ascii")]

        assert "####" in lines[5]
        assert not "".join(lines[:4] + lines[-4:]).strip(" .")

    def test_a_light_background_turns_shades_round(self):
        """On a light background the dark screen is drawn dense."""
        lines = picture_lines({"brightness": 0.0}, columns=32, depth="ascii", dense_is_dark=True)

        assert lines[5].plain[10:20] == "@" * 10

    def test_colour_is_left_out_for_a_dumb_terminal(self):
        """A console without colour prints no escape sequence."""
        console = Console(width=40, no_color=True, color_system=None, force_terminal=True)
        with console.capture() as shown:
            for line in picture_lines({}, columns=32, depth=terminal_depth(console.color_system, "utf-8")):
                console.print(line)

        assert "\x1b" not in shown.get()

    def test_a_picture_of_no_width_is_refused(self):
        """Too few columns are refused with the limits."""
        with pytest.raises(OutOfRange, match="16 to 400"):
            picture_lines({}, columns=3)
