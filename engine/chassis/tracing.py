# SPDX-License-Identifier: MIT
"""Numbers that remember how they came about, for showing a computation step by step.

In a recorded run of one set the part values are such numbers.  Sums and products of them, and what the formulas of
the circuits make of them, remember their operands, so that every number can be followed back to parts, design
figures and rates.
Limits: single numbers; of a choice between two only the one that was taken is remembered, and a search by trial
forgets its way but for the formula that it belongs to.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from backporch.engine.circuits.formula import links_of
from backporch.engine.units import unit_of_name

_NOTHING = 1e-4
"""Share of a number that is not worth a term."""

_BY_ONE = ("divide", "true_divide", "power", "float_power")

__all__ = ["Node", "Traced", "Tracer", "node_of"]


@dataclass(frozen=True, eq=False)
class Node:
    """How one number came about."""

    kind: str
    """"part", "figure", "constant", "op" for a sum of numbers, "call" for a formula, "name" for a named result,
    "settled" for what a stage takes when all has settled."""
    text: str
    """Name of part, figure or result; name of the operation or of the result's field."""
    value: float
    args: tuple[Node, ...] = ()
    function: Callable[..., Any] | None = None
    names: tuple[str, ...] = ()
    """Names of a formula's arguments, one for each of ``args``."""
    unit: str = ""
    label: str = ""
    """What a formula was used for, in words."""
    formula: str = ""
    """Formula of a "call" that no function carries."""
    inside: tuple[Node, ...] = ()
    """The links of a chain of formulas, or how a settled number came about that is not followed further."""


class Traced(np.ndarray[Any, np.dtype[np.float64]]):
    """A single number with its :class:`Node`."""

    node: Node

    def __array_finalize__(self, other: Any) -> None:
        """Let views of a number be the same number."""
        if isinstance(other, Traced) and other.size == self.size and hasattr(other, "node"):
            self.node = other.node

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **options: Any) -> Any:
        """Compute as ever, and remember the operands."""
        options.pop("out", None)
        result = getattr(ufunc, method)(*(_bare(value) for value in inputs), **options)
        if method != "__call__" or not isinstance(result, np.ndarray | np.floating) or result.dtype != np.float64:
            return result
        return _traced(result, _operation(ufunc.__name__, inputs, result))

    def __array_function__(self, function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        """Compute as ever, and remember which of the operands was taken."""
        del types
        result = function(*_bare(args), **{key: _bare(value) for key, value in kwargs.items()})
        if not isinstance(result, np.ndarray) or result.size != 1 or result.dtype != np.float64:
            return result
        name = function.__name__
        if name == "where":
            return _traced(result, node_of(args[1] if np.all(_bare(args[0])) else args[2]))
        if name == "clip":
            return _traced(result, _taken(result, [args[0], *args[1:], *kwargs.values()]))
        if name in ("broadcast_to", "reshape", "ravel", "squeeze", "asarray", "real", "abs", "copy"):
            return _traced(result, node_of(args[0]))
        return result


def _bare(value: Any) -> Any:
    if isinstance(value, Traced):
        return value.view(np.ndarray)
    if isinstance(value, list | tuple):
        return type(value)(_bare(item) for item in value)
    return value


def _traced(result: Any, node: Node | None) -> Any:
    array = np.asarray(result, dtype=np.float64)
    if node is None or array.size != 1:
        return result
    made = array.view(Traced)
    made.node = node
    return made


def _taken(result: Any, candidates: Iterable[Any]) -> Node:
    """Return the candidate that has the value of the result."""
    number = float(np.ravel(_bare(result))[0])
    for candidate in candidates:
        if candidate is not None and np.size(candidate) == 1 and float(np.ravel(_bare(candidate))[0]) == number:
            return node_of(candidate)
    return Node("constant", "", number)


def _operation(name: str, inputs: tuple[Any, ...], result: Any) -> Node | None:
    if np.size(result) != 1 or any(np.size(value) != 1 for value in inputs):
        return None
    if name in ("maximum", "minimum", "fmax", "fmin"):
        return _taken(result, inputs)
    nodes = tuple(node_of(value) for value in inputs)
    number = float(np.ravel(result)[0])
    if all(node.kind == "constant" for node in nodes):
        return Node("constant", "", number)
    return _simpler(name, nodes) or Node("op", name, number, nodes)


def _simpler(name: str, nodes: tuple[Node, ...]) -> Node | None:
    """Return the operand that the other one changes by nothing that counts, such as a milliohm of a contact."""
    if len(nodes) != 2:
        return None
    for kept, other in (nodes, nodes[::-1]):
        first = kept is nodes[0]
        if other.kind != "constant":
            continue
        if (
            name in ("add", "subtract")
            and abs(other.value) <= _NOTHING * abs(kept.value)
            and (first or name == "add")
        ):
            return kept
        if abs(other.value - 1.0) <= _NOTHING and (name == "multiply" or (first and name in _BY_ONE)):
            return kept
    return None


def node_of(value: Any) -> Node:
    """Return how a number came about; a plain one is a constant."""
    base = value
    while isinstance(base, np.ndarray):
        if isinstance(base, Traced) and hasattr(base, "node"):
            return base.node
        base = base.base
    array = np.ravel(np.asarray(value, dtype=float))
    return Node("constant", "", float(array[0]) if array.size else 0.0)


@dataclass
class Tracer:
    """Makes traced numbers, and remembers what the formulas made of them."""

    label: str = ""
    """What the next formula computes, in words."""

    def leaf(self, kind: str, text: str, value: Any, unit: str = "") -> Any:
        """Return a value as a number that comes from the part list or the chassis file."""
        inner = node_of(value)
        known = () if inner.kind == "constant" else (inner,)
        return _traced(_bare(value), Node(kind, _one_word(text), inner.value, unit=unit, inside=known))

    def named(self, name: str, value: Any, unit: str = "") -> Any:
        """Return a value under a name; a number that already is a leaf keeps its own."""
        inner = node_of(value)
        return _traced(_bare(value), Node("name", _one_word(name), inner.value, (inner,), unit=unit))

    def same_way(self, value: Any, computed: Any) -> Any:
        """Return a value that came about as ``computed`` did, but for rounding."""
        way = node_of(computed)
        return _traced(_bare(value), replace(way, value=float(np.ravel(_bare(value))[0])))

    def solved(self, value: Any, title: str, formula: str, arguments: Mapping[str, Any]) -> Any:
        """Return a value that was found by trial so that a formula holds."""
        flat = dict(_flat(arguments))
        number = float(np.ravel(_bare(value))[0])
        nodes = tuple(node_of(item) for item in flat.values())
        found = Node("call", "", number, nodes, None, tuple(flat), formula=formula)
        return _traced(_bare(value), Node("name", title, number, (found,)))

    def called(
        self, function: Callable[..., Any], args: tuple[Any, ...], kwargs: Mapping[str, Any], result: Any
    ) -> Any:
        """Return the result of a formula with every number in it traced to the arguments."""
        bound = inspect.signature(function).bind(*args, **kwargs)
        bound.apply_defaults()
        flat = dict(_flat(bound.arguments))
        names, nodes = tuple(flat), tuple(node_of(value) for value in flat.values())
        label, self.label = self.label, ""
        if not label and all(node.kind == "constant" for node in nodes):
            return result
        if not label and not is_dataclass(result):
            through = _passed_through(nodes, result)
            if through is not None:
                return _traced(result, through)

        inside = tuple(node for link in links_of(function, *args, **kwargs) for node in _link_nodes(*link))

        def wrap(field: str, value: Any) -> Any:
            if not isinstance(value, float | np.floating | np.ndarray) or np.size(value) != 1:
                return value
            number = float(np.ravel(value)[0])
            node = Node("call", field, number, nodes, function, names, label=label, inside=inside)
            if field:
                return _traced(value, node)
            name = label or function.__name__.replace("_", " ")
            return _traced(value, Node("name", name, number, (node,), unit=unit_of_name(function.__name__)))

        if is_dataclass(result) and not isinstance(result, type):
            changed = {f.name: wrap(f.name, getattr(result, f.name)) for f in fields(result) if f.init}
            return replace(result, **changed)
        return wrap("", result)


def _link_nodes(
    function: Callable[..., Any], args: tuple[Any, ...], kwargs: Mapping[str, Any], result: Any
) -> Iterable[Node]:
    """Give a node for each number that a link of a chain gives."""
    bound = inspect.signature(function).bind(*args, **kwargs)
    bound.apply_defaults()
    flat = dict(_flat(bound.arguments))
    nodes = tuple(node_of(value) for value in flat.values())
    given = dict(_flat({"": result})) if not is_dataclass(result) else dict(_flat(_fields(result)))
    for field, value in given.items():
        yield Node("call", field, float(np.ravel(_bare(value))[0]), nodes, function, tuple(flat))


def _fields(result: Any) -> dict[str, Any]:
    return {f.name: getattr(result, f.name) for f in fields(result) if f.init}


def _one_word(name: str) -> str:
    """Return a name as it can stand in a formula."""
    return name.replace("-", "_").replace(":", "_")


def _passed_through(nodes: tuple[Node, ...], result: Any) -> Node | None:
    """Return the argument that a formula has left as it was, all others being plain numbers."""
    known = [node for node in nodes if node.kind != "constant"]
    if len(known) != 1 or np.size(result) != 1:
        return None
    number = float(np.ravel(_bare(result))[0])
    return known[0] if abs(number - known[0].value) <= _NOTHING * abs(number) else None


def _flat(arguments: Mapping[str, Any], before: str = "") -> Iterable[tuple[str, Any]]:
    """Give every number among arguments, those within parts and lists too."""
    for name, value in arguments.items():
        if isinstance(value, bool | str) or value is None:
            continue
        if is_dataclass(value) and not isinstance(value, type):
            yield from _flat({f.name: getattr(value, f.name) for f in fields(value)}, f"{before}{name}.")
        elif isinstance(value, list | tuple):
            yield from _flat({f"{name}[{n}]": item for n, item in enumerate(value, start=1)}, before)
        elif isinstance(value, int | float | np.floating) or (isinstance(value, np.ndarray) and value.size == 1):
            yield f"{before}{name}", value
