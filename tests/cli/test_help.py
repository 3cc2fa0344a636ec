"""Every command has help with an example and stands in the README."""

from pathlib import Path

import pytest

from backporch.engine.cli.app import app

README = (Path(__file__).parent.parent.parent / "README.md").read_text(encoding="utf-8")
COMMANDS = {c.name or c.callback.__name__: c for c in app.registered_commands}


class TestCommands:
    @pytest.mark.parametrize("name", COMMANDS)
    def test_has_help_with_an_example(self, name):
        """The help of each command ends with an example that can be typed."""
        assert f"Example: backporch {name}" in COMMANDS[name].callback.__doc__

    @pytest.mark.parametrize("name", COMMANDS)
    def test_stands_in_the_readme(self, name):
        """Each command is in the README's table."""
        assert f"`backporch {name}`" in README
