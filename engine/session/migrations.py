# SPDX-License-Identifier: MIT
"""Brings a scenario or session file of an earlier schema to the present one, step by step, as plain data."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from backporch.engine.errors import BadFile
from backporch.engine.knowledge.yaml_file import Document

__all__ = ["SCHEMA", "upgraded"]

SCHEMA = 2
"""The schema that is written."""


def upgraded(document: Document) -> Document:
    """Return the document in the present schema; line numbers stay those of the file.

    Raises:
        BadFile: it has no schema, or one that this program does not know yet.

    Example:
        >>> old = {"schema": 1, "answers": {"turn-vertical-hold": "cannot", "look-at-the-raster": "line"}}
        >>> upgraded(Document("old.yaml", old, {})).data["left_out"]
        {'turn-vertical-hold': 'cannot'}
    """
    data = document.data
    if not isinstance(data, dict):
        raise BadFile(f"{document.name}:1: a scenario is a list of fields such as title, chassis and answers.")
    schema = data.get("schema")
    where = f"{document.name}:{document.line(('schema',))}"
    if isinstance(schema, bool) or not isinstance(schema, int) or schema < 1:
        raise BadFile(f"{where}: the field 'schema' is missing. Write schema: {SCHEMA}.")
    if schema > SCHEMA:
        raise BadFile(
            f"{where}: schema {schema} was written by a newer backporch; "
            f"this one reads up to {SCHEMA}. Bring backporch up to date."
        )
    for step in range(schema, SCHEMA):
        data = _STEPS[step](data)
    return replace(document, data=data)


def _from_1(data: Mapping[str, Any]) -> dict[str, Any]:
    """Give what was left out a place of its own; schema 1 wrote "cannot" and "skip" among the answers."""
    new = {**data, "schema": 2}
    answers = data.get("answers")
    if isinstance(answers, dict):
        left_out = {key: value for key, value in answers.items() if value in ("cannot", "skip")}
        new["answers"] = {key: value for key, value in answers.items() if key not in left_out}
        if left_out:
            new["left_out"] = left_out
    return new


_STEPS: dict[int, Callable[[Mapping[str, Any]], dict[str, Any]]] = {1: _from_1}
