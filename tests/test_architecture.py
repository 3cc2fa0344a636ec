"""Dependencies point one way, and the packages shipped are the folders there are."""

import ast
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ENGINE = "backporch.engine."


def _files(folder):
    return sorted(p for p in (ROOT / folder).rglob("*.py") if "__pycache__" not in p.parts)


def _imports(path):
    """Give every module that a file imports, however deep inside it."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or "."


def _room(module):
    """Return the room of the engine that a module belongs to, or ""."""
    return module.removeprefix(ENGINE).split(".")[0] if module.startswith(ENGINE) else ""


MAY_IMPORT = {
    "errors": set(),
    "units": {"errors"},
    "facts": {"facts", "errors"},
    "deduction": {"facts"},
    "usual": {"deduction", "facts"},
    "rulebook": {"deduction", "usual", "facts"},
    "inference": {"facts", "errors", "deduction", "usual"},
    "knowledge": {"knowledge", "errors", "units"},
    "circuits": {"circuits", "errors", "units"},
    "chassis": {"chassis", "circuits", "knowledge", "errors", "units"},
    "planning": {"planning", "ranking", "errors"},
    "ranking": {"inference", "errors"},
    "picture": {"picture", "chassis", "circuits", "knowledge", "errors", "units"},
    "report": {
        "report",
        "picture",
        "session",
        "safety",
        "planning",
        "ranking",
        "inference",
        "facts",
        "chassis",
        "circuits",
        "knowledge",
        "errors",
        "units",
    },
    "safety": {"safety", "chassis", "circuits", "knowledge", "errors", "units"},
}


class TestRooms:
    @pytest.mark.parametrize("path", _files("rules"), ids=lambda p: str(p.relative_to(ROOT)))
    def test_rules_import_facts_only(self, path):
        """A rule file imports the vocabulary and its sister files, and nothing else of ours."""
        ours = {m for m in _imports(path) if m.startswith("backporch")}

        assert {m for m in ours if m != "backporch.engine.facts" and not m.startswith("backporch.rules")} == set()

    @pytest.mark.parametrize("path", _files("engine"), ids=lambda p: str(p.relative_to(ROOT)))
    def test_rooms_import_only_what_lies_below(self, path):
        """Each room of the engine imports only the rooms below it."""
        room = path.relative_to(ROOT / "engine").parts[0].removesuffix(".py")
        if room not in MAY_IMPORT:
            return
        used = {_room(m) for m in _imports(path)} - {""}

        assert used - MAY_IMPORT[room] - {room} == set()

    @pytest.mark.parametrize("path", _files("engine"), ids=lambda p: str(p.relative_to(ROOT)))
    def test_only_the_command_line_knows_the_rules(self, path):
        """No part of the engine but the command line imports the rule base."""
        if path.relative_to(ROOT / "engine").parts[0] == "cli":
            return

        assert not any(m.startswith("backporch.rules") for m in _imports(path))

    def test_one_module_imports_the_rule_engine(self):
        """experta is imported by the gateway and by no other file."""
        importers = [p for p in [*_files("engine"), *_files("rules")] if any("experta" in m for m in _imports(p))]

        assert importers == [ROOT / "engine" / "facts" / "gateway.py"]

    def test_the_gateway_leaves_the_standard_library_alone(self):
        """After the import collections has no name that it did not have before."""
        import collections

        import backporch.engine.facts.gateway  # noqa: F401

        assert not hasattr(collections, "Mapping")


class TestPackages:
    def test_every_package_folder_is_shipped(self):
        """The list of packages in pyproject.toml is the list of folders with an __init__."""
        listed = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]["packages"]
        found = {
            "backporch." + ".".join(p.parent.relative_to(ROOT).parts)
            for top in ("engine", "rules", "kb", "scenarios")
            for p in (ROOT / top).rglob("__init__.py")
            if "__pycache__" not in p.parts
        }

        assert sorted(found) == sorted(listed)

    def test_the_top_level_is_the_design_card(self):
        """Nothing lies at the top level but what the design names."""
        wanted = {"README.md", "DEVELOPERS.md", "pyproject.toml", "rules", "engine", "kb", "tests", "scenarios"}
        wanted |= {"LICENSE", "CHANGELOG.md"}
        found = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}

        assert found - wanted - {"build", "dist"} - {n for n in found if n.endswith(".egg-info")} == set()
        assert wanted - found == set()
