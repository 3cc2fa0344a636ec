# SPDX-License-Identifier: MIT
"""Writes a scenario or session as YAML that a person can read and change; reading it gives the same again."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from backporch.engine.session.entry import Entry
from backporch.engine.session.scenario import Scenario

__all__ = ["HEADER", "as_yaml", "expect_block"]

HEADER = """\
# A session of backporch. You may change it with any text editor while the session is not open: answers, their
# order, a story, what is expected. It is read when the session goes on, and by `backporch replay`.
# One line of `said` for each thing that was said: what kind, about what, the answer, when (UTC).
# Behind a # stands what it means; remarks of your own are not kept, write {note: "", value: ...} for them.
"""

_BARE = re.compile(r"^[A-Za-z][A-Za-z0-9_+./@-]*(?: [A-Za-z0-9_+./@-]+)*$")
_WORDS_OF_YAML = frozenset(["true", "false", "null", "yes", "no", "on", "off", "y", "n"])
_WIDEST_REMARK = 90


def as_yaml(scenario: Scenario, explain: Callable[[Entry], str] | None = None, *, header: str = HEADER) -> str:
    """Return the text of a scenario file.

    Args:
        scenario: The scenario.
        explain: Gives a remark for an entry, or "".
        header: Comment lines at the top.

    Example:
        >>> entry = Entry("symptom", "no-raster", at="2026-11-25T12:00:00+00:00")
        >>> print(as_yaml(Scenario(title="Dark", chassis="plover-17", said=(entry,)), header=""), end="")
        schema: 2
        title: Dark
        chassis: plover-17
        said:
        - {symptom: no-raster, at: "2026-11-25T12:00:00+00:00"}
    """
    data = scenario.model_dump(mode="json", by_alias=True, exclude={"said"}, exclude_defaults=True)
    data = {"schema": scenario.schema_, **data}
    order = [info.alias or name for name, info in Scenario.model_fields.items()]
    lines = [line for name in order if name in data for line in _field(name, data[name])]
    if scenario.said:
        at = next((n for n, line in enumerate(lines) if line.startswith("expect:")), len(lines))
        lines[at:at] = ["said:", *(_said_line(entry, explain) for entry in scenario.said)]
    return header + "\n".join(lines) + "\n"


def expect_block(data: Mapping[str, Any]) -> str:
    """Return the ``expect`` field of a scenario as it stands in a file, with its last line end."""
    return "\n".join(_field("expect", {k: v for k, v in data.items() if v is not None})) + "\n"


def _field(name: str, value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield f"{name}:" if value else f"{name}: {{}}"
        yield from (f"  {_scalar(key)}: {_inline(inner)}" for key, inner in value.items())
    else:
        yield f"{name}: {_inline(value)}"


def _inline(value: Any) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_scalar(item) for item in value)}]"
    return _scalar(value)


def _said_line(entry: Entry, explain: Callable[[Entry], str] | None) -> str:
    fields = [(entry.kind, entry.key), ("value", entry.value), ("at", entry.at)]
    inside = ", ".join(f"{name}: {_scalar(text)}" for name, text in fields if text or name == entry.kind)
    remark = _one_line(explain(entry)) if explain else ""
    return f"- {{{inside}}}" + (f"  # {remark}" if remark else "")


def _one_line(text: str) -> str:
    words = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return words if len(words) <= _WIDEST_REMARK else words[: _WIDEST_REMARK - 3].rstrip() + "..."


def _scalar(value: Any) -> str:
    """Return a value as YAML; text bare where no reader could take it for anything else, quoted otherwise."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(int(value) if value == int(value) else value)
    text = str(value)
    if _BARE.match(text) and text.lower() not in _WORDS_OF_YAML and not text.endswith("\n") and len(text) < 200:
        return text
    if text.isascii() and text.isprintable() and '"' not in text and "\\" not in text:
        return f'"{text}"'
    return '"' + "".join(_escaped(c) for c in text) + '"'


def _escaped(char: str) -> str:
    if char in '"\\':
        return "\\" + char
    if char.isprintable() and not "\ufff0" <= char <= "\uffff":
        return char
    code = ord(char)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
