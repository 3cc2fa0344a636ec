# SPDX-License-Identifier: MIT
"""Reads YAML as plain data with the line of every value, and refuses what a hand-written file never needs.

Only mappings, lists and scalars are taken: no tags, no anchors or aliases, no duplicate keys.  A
plain scalar is a number only where it looks like one, ``true``/``false`` are the only booleans, and
words such as on, off and no stay words.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from backporch.engine.errors import BadFile

__all__ = ["Document", "read_text", "read_yaml", "yaml_from_text"]

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_DEEPEST = 24
_MOST_PARTS = 200_000
"""Most keys, values and brackets of one file: so many take some 120 MB while they are read."""
_NUMBER = re.compile(r"^[-+]?(?:0|[1-9]\d*)(?:\.\d+)?$")
LARGEST_BYTES = 4_000_000

Place = tuple[str | int, ...]


@dataclass(frozen=True)
class Document:
    """Plain data of one file, and the line on which each value stands."""

    name: str
    data: Any
    lines: Mapping[Place, int]

    def line(self, place: Place) -> int:
        """Return the line of the value at ``place``, or of the nearest value around it."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place, 1)


def read_text(path: Path) -> str:
    """Return the text of a file that is a regular file, not too large, and UTF-8.

    Raises:
        BadFile: it is not.
    """
    try:
        if not path.is_file():
            why = "is not a file" if path.exists() else "does not exist"
            raise BadFile(f"{path}: {why}. Check the path.")
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise BadFile(f"{path}: {size} bytes is too large; a file of ours stays below {LARGEST_BYTES} bytes.")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadFile(f"{path}: not UTF-8 text (byte {error.start}). Save the file as UTF-8.") from error
    except OSError as error:
        raise BadFile(f"{path}: cannot be read ({error.strerror}).") from error


def read_yaml(path: Path) -> Document:
    """Read a YAML file.

    Raises:
        BadFile: the file cannot be read or is not the plain YAML described above.
    """
    return yaml_from_text(read_text(path), str(path))


def yaml_from_text(text: str, name: str) -> Document:
    """Read YAML from ``text``; ``name`` stands for the file in messages.

    Raises:
        BadFile: the text is not the plain YAML described above; the message has the line.

    Example:
        >>> yaml_from_text("power: off\\nparts: [1, 2.5]", "x.yaml").data
        {'power': 'off', 'parts': [1, 2.5]}
    """
    lines: dict[Place, int] = {}
    try:
        for count, event in enumerate(yaml.parse(text, Loader=_LOADER)):
            if count > _MOST_PARTS:
                raise _bad(name, event, "too many values; a file of ours has some thousands")
            if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
                raise _bad(name, event, "anchors and aliases are not used here; write the value out")
        nodes = list(yaml.compose_all(text, Loader=_LOADER))
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        where = f"{name}:{mark.line + 1}" if mark else name
        problem = error.problem or error.context or "cannot be read"
        raise BadFile(
            f"{where}: not valid YAML: {problem}. Check the indentation and quotes near this line."
        ) from error
    except (yaml.YAMLError, ValueError) as error:
        raise BadFile(f"{name}: not valid YAML: {error}.") from error
    except RecursionError as error:
        raise BadFile(f"{name}: nested too deeply; at most {_DEEPEST} levels are read.") from error
    if len(nodes) > 1:
        raise BadFile(f"{name}:{nodes[1].start_mark.line + 1}: a second document begins; keep one per file.")
    data = _plain(nodes[0], (), lines, name) if nodes and nodes[0] is not None else None
    return Document(name, data, lines)


def _plain(node: Any, place: Place, lines: dict[Place, int], name: str) -> Any:
    lines[place] = node.start_mark.line + 1
    if len(place) > _DEEPEST:
        raise _bad(name, node, f"nested too deeply; at most {_DEEPEST} levels are read")
    if not node.tag.startswith("tag:yaml.org,2002:") or node.tag.rsplit(":", 1)[1] not in _TAGS:
        raise _bad(name, node, f"the tag {node.tag} is not allowed; write plain values")
    if isinstance(node, yaml.ScalarNode):
        return _scalar(node)
    if isinstance(node, yaml.SequenceNode):
        return [_plain(child, (*place, n), lines, name) for n, child in enumerate(node.value)]
    found: dict[str, Any] = {}
    for key_node, value_node in node.value:
        if not isinstance(key_node, yaml.ScalarNode):
            raise _bad(name, key_node, "a key must be a single word or text")
        key = key_node.value
        if key in found:
            raise _bad(name, key_node, f"the key {key!r} stands twice; remove one")
        found[key] = _plain(value_node, (*place, key), lines, name)
    return found


_TAGS = {"str", "int", "float", "bool", "null", "seq", "map", "timestamp", "merge", "value"}


def _scalar(node: yaml.ScalarNode) -> Any:
    text = str(node.value)
    if node.style in ("'", '"', "|", ">"):
        return text
    if text in ("", "~", "null"):
        return None
    if text in ("true", "false"):
        return text == "true"
    if _NUMBER.match(text) and len(text) < 25:
        return float(text) if "." in text else int(text)
    return text


def _bad(name: str, node: Any, what: str) -> BadFile:
    return BadFile(f"{name}:{node.start_mark.line + 1}: {what}.")
