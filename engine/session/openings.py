# SPDX-License-Identifier: MIT
"""The questions before any test: condition, cold checks, circumstances, what is seen, whether it is there now."""

from __future__ import annotations

from collections.abc import Sequence

from backporch.engine.errors import BadInput
from backporch.engine.session.assess import circumstances
from backporch.engine.session.danger import RESUMED_ANEW
from backporch.engine.session.entry import CHANGING, Entry
from backporch.engine.session.moment import comes_and_goes, moment_of
from backporch.engine.session.questions import MOMENT, Option, Question, plain_words
from backporch.engine.session.workbench import Workbench

__all__ = ["MENDED", "SYMPTOMS", "changed_to", "choice_question", "next_opening"]

MENDED = ("mended", "cause-mended", "found-and-mended")
"""What is said when the cause of smoke, arcing, a red plate or a violet haze was found and mended."""


SYMPTOMS = Question(
    "symptoms",
    "symptoms",
    "What do you see, hear or smell?",
    help="Say it in your own words, for example: picture keeps slipping. Choose as many as are there.",
)


def next_opening(workbench: Workbench, entries: Sequence[Entry], check: Question | None) -> Question | None:
    """Return the next question before any test, or None when all is said.

    Args:
        workbench: What the session works with.
        entries: What was said.
        check: The cold check that is due, or None.
    """
    question = _opening(workbench, entries, "before-symptoms") or check
    if question is None and not any(e.kind == "symptoms-done" for e in entries):
        return SYMPTOMS
    question = question or _opening(workbench, entries, "after-symptoms")
    if question is None and comes_and_goes(entries) and not moment_of(entries):
        return MOMENT
    return question


def choice_question(workbench: Workbench, name: str) -> Question | None:
    """Return the question of one circumstance, or None where none is known by that name."""
    library = workbench.library
    if name == "moment":
        return MOMENT
    if name == "condition":
        options = tuple(Option(k, c.title) for k, c in library.conditions.items())
        return Question("condition", "choice", "What condition is the set in?", options)
    opening = library.opening.get(name)
    if opening is None:
        return None
    options = tuple(Option(key, label) for key, label in opening.options.items())
    return Question(name, "choice", opening.ask, options, unit=opening.unit, help=opening.help)


def changed_to(workbench: Workbench, text: str) -> tuple[str, str]:
    """Return which circumstance a change on the bench concerns, and its value.

    Raises:
        BadInput: it is none that may change.
    """
    word = plain_words(text).replace(" ", "-")
    if word in MENDED:
        return "alarm-cause", "mended"
    opening = workbench.library.opening
    changing = [name for name in sorted(CHANGING & set(opening)) if not opening[name].unit]
    known = {key: name for name in changing for key in opening[name].options}
    if word not in known:
        words = ", ".join([*known, MENDED[0]])
        raise BadInput(f"{text[:40]!r} is no change known here. Write now and one of: {words}.")
    return known[word], word


def _opening(workbench: Workbench, entries: Sequence[Entry], when: str) -> Question | None:
    answered = _still_said(entries)
    if when == "before-symptoms" and "condition" not in answered:
        return choice_question(workbench, "condition")
    said = circumstances(entries)
    library = workbench.library
    families = {
        library.symptoms[e.key].family for e in entries if e.kind == "symptom" and e.key in library.symptoms
    }
    for name, opening in library.opening.items():
        if opening.when != when or name in answered:
            continue
        if any(str(getattr(workbench.chassis, t)) not in ok for t, ok in opening.traits.items()):
            continue
        if any(said.get(earlier) in values for earlier, values in opening.unless.items()):
            continue
        if any(said.get(earlier) not in values for earlier, values in opening.only.items()):
            continue
        if opening.families and not families & set(opening.families):
            continue
        return choice_question(workbench, name)
    return None


def _still_said(entries: Sequence[Entry]) -> set[str]:
    """Return which opening questions have a standing answer: what may have changed meanwhile is asked anew."""
    answered: set[str] = set()
    for entry in entries:
        if entry.kind == "circumstance" and entry.key == "supply-aid":
            answered -= {"lamp-power", "variable-volts"}
        if entry.kind in ("circumstance", "skip", "cannot"):
            answered.add(entry.key)
        elif entry.kind == "resumed":
            answered -= RESUMED_ANEW
    return answered
