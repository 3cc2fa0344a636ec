# SPDX-License-Identifier: MIT
"""A traced number as steps that a person can follow, from part values and rates to the number itself."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from backporch.engine.chassis.tracing import Node
from backporch.engine.circuits.formula import Step, formula_of
from backporch.engine.units import show, unit_of_name

__all__ = ["Ways", "leaves", "steps_of"]

_MOST = 8
"""Operations in one line; what is more gets lines of its own."""

_INFIX = {"add": "+", "subtract": "-", "multiply": "*", "true_divide": "/", "divide": "/", "power": "**"}
_RANK = {"+": 1, "-": 1, "*": 2, "/": 2, "**": 3}
_WORDS = {"absolute": "abs", "log": "ln"}
_PROSE = re.compile(r"[a-z]{3,} [a-z]{2,} [a-z]{2,}")
"""Three words one after the other: a formula told in words."""


def leaves(node: Node) -> Iterable[Node]:
    """Give every number that a number rests on and that rests on nothing itself."""
    seen: set[int] = set()
    waiting = [node]
    while waiting:
        one = waiting.pop()
        if id(one) not in seen:
            seen.add(id(one))
            waiting += one.args
            if not one.args:
                yield one


def steps_of(node: Node) -> tuple[Step, ...]:
    """Return the computation of a named number, first things first.

    Args:
        node: A node of kind "name".
    """
    script = _Script()
    script.write(node)
    return tuple(script.steps.values())


class Ways(Mapping[str, tuple[Step, ...]]):
    """The steps behind several numbers by name, each written down when it is first asked for."""

    def __init__(self, nodes: Mapping[str, Node]) -> None:
        """Keep how the numbers came about."""
        self._nodes = dict(nodes)
        self._written: dict[str, tuple[Step, ...]] = {}

    def __getitem__(self, key: str) -> tuple[Step, ...]:
        """Return the steps of one number."""
        if key not in self._written:
            self._written[key] = steps_of(self._nodes[key])
        return self._written[key]

    def node(self, key: str) -> Node:
        """Return how one number came about."""
        return self._nodes[key]

    def __iter__(self) -> Iterator[str]:
        """Give the names."""
        return iter(self._nodes)

    def __len__(self) -> int:
        """Count the numbers."""
        return len(self._nodes)


class _Script:
    """Steps while they are written down, each once."""

    def __init__(self) -> None:
        """Begin with an empty page."""
        self.steps: dict[object, Step] = {}
        self._seen: set[int] = set()
        self._short: dict[int, Node] = {}
        self._kept: list[Node] = []

    def write(self, node: Node) -> None:
        """Write the steps that a named number or a formula needs, then its own."""
        if id(node) in self._seen:
            return
        self._seen.add(id(node))
        if node.kind == "settled":
            self._sum(id(node), node.text, node.inside[0], "A", follow=False)
            return
        inner = node if node.kind == "call" else node.args[0]
        if inner.kind == "call" and (inner is node or not inner.text):
            self._call(inner, node.label if inner is node else node.text)
        elif inner.kind != "constant" or node.unit:
            self._sum(id(node), node.text, inner, node.unit)

    def _call(self, node: Node, label: str) -> None:
        """Write a formula: first what its arguments are made of, then the formula with the numbers in it."""
        key = id(node.args)
        for link in node.inside if key not in self.steps else ():
            self._call(link, "")
        if key in self.steps:
            self.steps[key] = replace(self.steps[key], result=f"{self.steps[key].result}, {_result(node)}")
            return
        # the links of a chain have said what its arguments are made of
        for argument, arg in zip(node.names, node.args, strict=True) if not node.inside else ():
            self._needed(arg)
            if arg.kind != "constant" and not _unnamed(arg):
                self._sum((key, argument), argument.rpartition(".")[2], arg, "")
        text = formula_of(node.function) if node.function is not None else node.formula
        self.steps[key] = Step(
            quantity=label or getattr(node.function, "__name__", "").replace("_", " "),
            formula=text,
            numbers=_with_numbers(text, node) + ("" if node.inside else _others(text, node)),
            result=_result(node),
            source=_source(node.function),
        )

    def _needed(self, node: Node) -> None:
        for needed in _named_in(node):
            self.write(needed)

    def _sum(self, key: object, title: str, node: Node, unit: str, *, follow: bool = True) -> None:
        """Write a sum of named numbers and constants, and first what they are made of where that is wanted."""
        short = self._shortened(node) if follow else node
        if follow:
            self._needed(short)
        formula = _text(short, numbers=False)[0]
        if formula == title:
            return
        self.steps[key] = Step(
            quantity=title,
            formula=formula,
            numbers=formula if short.kind != "op" else _text(short, numbers=True)[0],
            result=show(node.value, unit or node.unit or unit_of_name(title)),
            source="",
        )

    def _shortened(self, node: Node) -> Node:
        """Return an expression of a few operations; its larger parts have got names."""
        if node.kind != "op":
            return node
        if id(node) not in self._short:
            args = [self._shortened(arg) for arg in node.args]
            while sum(map(_size, args)) >= _MOST:
                largest = max(range(len(args)), key=lambda n: _size(args[n]))
                part = args[largest]
                self._kept.append(part)
                args[largest] = Node("name", f"part {len(self._kept)}", part.value, (part,))
            self._short[id(node)] = replace(node, args=tuple(args))
        return self._short[id(node)]


def _unnamed(node: Node) -> bool:
    """Tell whether a result has no other name than that of its formula, which stands just above."""
    inner = node.args[0] if node.kind == "name" and node.args else node
    return inner.kind == "call" and not inner.label and inner.function is not None


def _size(node: Node) -> int:
    return 1 + sum(map(_size, node.args)) if node.kind == "op" else 0


def _named_in(node: Node) -> Iterable[Node]:
    """Give the named results and formulas that an expression is written with."""
    if node.kind in ("name", "call") or (node.kind == "settled" and node.inside):
        yield node
    elif node.kind == "op":
        for arg in node.args:
            yield from _named_in(arg)


def _result(node: Node) -> str:
    value = show(node.value, unit_of_name(node.text or getattr(node.function, "__name__", "")))
    return f"{node.text} {value}" if node.text else value


def _with_numbers(text: str, node: Node) -> str:
    values = {name.rpartition(".")[2]: arg for name, arg in zip(node.names, node.args, strict=True)}
    told = _PROSE.search(text) is not None

    def value(match: re.Match[str]) -> str:
        name = match.group(0)
        if name not in values or (told and "_" not in name):
            return name
        return _number(values[name], unit_of_name(name))

    return re.sub(r"[A-Za-z_][A-Za-z0-9_]*", value, text)


def _others(text: str, node: Node) -> str:
    """Return the arguments that a formula does not name, such as the parts of a ladder, with their numbers."""
    words = set(re.findall(r"[A-Za-z_][A-Za-z0-9_]*", text)) | set(_left_at_default(node))
    told = [
        f"{arg.text if arg.kind == 'part' else short} {_number(arg, unit_of_name(short.partition('[')[0]))}"
        for name, arg in zip(node.names, node.args, strict=True)
        if (short := name.rpartition(".")[2]) not in words
    ]
    return f"; with {', '.join(told)}" if told else ""


def _left_at_default(node: Node) -> Iterator[str]:
    """Give the arguments of a formula that have their usual number."""
    usual = inspect.signature(node.function).parameters if node.function is not None else {}
    for name, arg in zip(node.names, node.args, strict=True):
        if name in usual and arg.kind == "constant" and usual[name].default == arg.value:
            yield name


def _number(node: Node, unit: str = "") -> str:
    unit = node.unit or unit or unit_of_name(node.text)
    if node.kind != "constant":
        return show(node.value, unit)
    if unit in ("", "ohm") and node.value > 1e11:
        return "no leak"
    return show(node.value, unit, digits=5)


def _text(node: Node, *, numbers: bool) -> tuple[str, int]:
    """Return an expression as text, with how tightly it binds."""
    if node.kind == "op":
        sign = _INFIX.get(node.text)
        parts = [_text(arg, numbers=numbers) for arg in node.args]
        if sign is None or len(parts) != 2:
            return f"{_WORDS.get(node.text, node.text)}({', '.join(text for text, _ in parts)})", 4
        rank = _RANK[sign]
        left = f"({parts[0][0]})" if parts[0][1] < rank else parts[0][0]
        tight = parts[1][1] < rank or (parts[1][1] == rank and sign in "-/**")
        return f"{left} {sign} {f'({parts[1][0]})' if tight else parts[1][0]}", rank
    if node.kind == "constant" or numbers:
        return _number(node), 4
    return (node.text or getattr(node.function, "__name__", "").replace("_", " ")), 4


def _source(function: object) -> str:
    words = getattr(function, "__doc__", "") or ""
    found = re.search(r"Source:\s*(.+?)(?:\n\s*\n|\n\s*[A-Z][a-z]+:|\Z)", words, re.S)
    return " ".join(found.group(1).split()) if found else ""
