# SPDX-License-Identifier: MIT
"""The one door to experta: the only module of the project that imports it.

experta 1.9.4 pins a frozendict that asks ``collections`` for a name which Python 3.10 took out.
The name is lent for the time of the import and taken back afterwards, so that the standard
library is left as it was found.  experta also swallows a failed import of its own parts, so the
names are asked for one by one here and a broken installation is noticed at once.
"""

from __future__ import annotations

import collections
import collections.abc
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from backporch.engine.errors import BackporchError

__all__ = ["AND", "MATCH", "NOT", "OR", "TEST", "Fact", "Field", "KnowledgeEngine", "Rule"]

F = TypeVar("F", bound=Callable[..., Any])

if TYPE_CHECKING:

    class Fact(dict[Any, Any]):
        """A statement in working memory."""

        def __init__(self, *args: Any, **fields: Any) -> None: ...
        def validate(self) -> None: ...
        def as_dict(self) -> dict[str, Any]: ...

        def __and__(self, other: Any) -> Any: ...
        def __or__(self, other: Any) -> Any: ...
        def __invert__(self) -> Any: ...

    def Field(schema: Any, mandatory: bool = False, default: Any = ...) -> Any:  # noqa: N802
        """Declare a field of a fact and the values that it takes."""

    def Rule(*conditions: Any, salience: int = 0) -> Callable[[F], F]:  # noqa: N802
        """Turn a method into a rule with these conditions."""

    class KnowledgeEngine:
        """Forward chaining over facts."""

        running: bool
        facts: Any
        agenda: Any
        strategy: Any

        def declare(self, *facts: Fact) -> Any: ...
        def reset(self) -> None: ...
        def run(self, steps: float = ...) -> None: ...
        def get_activations(self) -> tuple[Any, Any]: ...
        def get_rules(self) -> list[Any]: ...

    MATCH: Any
    AND: Any
    OR: Any
    NOT: Any
    TEST: Any
else:
    _lent = [name for name in ("Mapping",) if not hasattr(collections, name)]
    for _name in _lent:
        setattr(collections, _name, getattr(collections.abc, _name))
    try:
        from experta import AND, MATCH, NOT, OR, TEST, Fact, Field, KnowledgeEngine, Rule
    except ImportError as error:
        raise BackporchError(
            "The rule engine experta is not installed completely. Install backporch again: "
            "pip install --force-reinstall backporch"
        ) from error
    finally:
        for _name in _lent:
            delattr(collections, _name)
