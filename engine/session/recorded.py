# SPDX-License-Identifier: MIT
"""A session and a scenario are one thing: the standing entries as a scenario, and back again, without loss.

The order of what was said, its times, and every field that a scenario has beyond it are kept.  What a
session needs beside what was said (its chassis, its bench, a story written in by hand) stands at its
beginning, one entry for each field.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

from pydantic import ValidationError

from backporch.engine.errors import BadFile
from backporch.engine.session.entry import Entry
from backporch.engine.session.scenario import NEVER_SAID, Expectation, Scenario

__all__ = ["complaint_of", "entries_of", "outcome_of", "scenario_of", "short_name", "start_entries", "title_of"]

_NOT_FIELDS = ("schema", "said")


def start_entries(scenario: Scenario) -> tuple[Entry, ...]:
    """Return the entries that begin a session: one for each field that is not as usual."""
    data = scenario.model_dump(mode="json", by_alias=True)
    usual = Scenario(title="", chassis="").model_dump(mode="json", by_alias=True)
    usual["title"] = title_of(scenario.chassis, scenario.said)
    usual["expect"] = _plain_expectation(scenario.said)
    own = [n for n in data if n not in _NOT_FIELDS and (n == "chassis" or data[n] != usual[n])]
    return tuple(Entry("start", name, _as_text(data[name])) for name in own)


def entries_of(scenario: Scenario) -> tuple[Entry, ...]:
    """Return the entries of a session that a scenario stands for."""
    return (*start_entries(scenario), *scenario.said)


def scenario_of(entries: Sequence[Entry]) -> Scenario:
    """Return the scenario that the standing entries of a session make.

    Raises:
        BadFile: what stands at the beginning fits no scenario.
    """
    said = tuple(e for e in entries if e.kind not in NEVER_SAID)
    starts = {e.key: e.value for e in entries if e.kind == "start"}
    chassis = starts.get("chassis", "")
    data: dict[str, Any] = {"title": title_of(chassis, said), "expect": _plain_expectation(said)}
    data |= {name: _as_data(name, text) for name, text in starts.items() if name not in _NOT_FIELDS}
    try:
        return Scenario.model_validate({**data, "said": said})
    except ValidationError as error:
        raise BadFile(f"The beginning of this session is damaged: {error.errors()[0]['msg']}.") from None


def complaint_of(said: Sequence[Entry]) -> str:
    """Return the symptoms of a session in words, or "" while none is known.

    Example:
        >>> complaint_of([Entry("symptom", "picture-rolls-up"), Entry("symptom", "sound-good")])
        'picture rolls up, sound good'
    """
    return ", ".join(e.key.replace("-", " ") for e in said if e.kind == "symptom" and e.value != "no")


def outcome_of(said: Sequence[Entry]) -> str:
    """Return how a session ended, in words, or "" while it is open."""
    cured = next((e.key for e in reversed(said) if e.kind == "repair" and e.value == "cured"), "")
    return f"cured by {cured}" if cured else ""


def title_of(chassis: str, said: Sequence[Entry]) -> str:
    """Return the title of a session that was given none: the set, what is seen, and what cured it.

    Example:
        >>> title_of("/home/me/barn-set.yaml", [Entry("symptom", "no-raster"), Entry("repair", "V9", "cured")])
        'barn-set: no raster; cured by V9'
    """
    words = [complaint_of(said) or "nothing seen yet", outcome_of(said)]
    return f"{short_name(chassis)}: {'; '.join(word for word in words if word)}"


def short_name(chassis: str) -> str:
    """Return the name of a chassis, of a file without its folder."""
    return re.split(r"[/\\]", chassis)[-1].removesuffix(".yaml")


def _plain_expectation(said: Sequence[Entry]) -> dict[str, Any] | None:
    """Return what the session last came to, as plain data: replaying it must come to the same."""
    found = next((e for e in reversed(said) if e.kind == "found"), None)
    if found is None or not found.key:
        return None
    return Expectation(stage=found.key, part=found.value or None).model_dump(mode="json")


def _as_text(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _as_data(name: str, text: str) -> Any:
    info = Scenario.model_fields.get(name)
    if info is not None and info.annotation is not str and name != "order":
        try:
            return json.loads(text)
        except (ValueError, RecursionError):
            return text
    return text
