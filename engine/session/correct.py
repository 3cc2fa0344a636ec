# SPDX-License-Identifier: MIT
"""Correcting an earlier answer in its place: which there are, how each is asked again, what replaces it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from backporch.engine.errors import BadInput
from backporch.engine.session.cold_check import check_question, check_value
from backporch.engine.session.described import ANSWERS
from backporch.engine.session.entry import Entry, EntryKind
from backporch.engine.session.openings import SYMPTOMS, choice_question
from backporch.engine.session.questions import UNSURE, Option, Question, choose_or_amount, plain_words
from backporch.engine.session.reading import read_reading
from backporch.engine.session.repairs import repair_question
from backporch.engine.session.said_reading import in_figures
from backporch.engine.session.trace import read_trace
from backporch.engine.session.workbench import Workbench

__all__ = ["correctable", "corrected", "measured", "numbered", "question_of"]

_NOT_THERE = {"none", "no", "not there", "not seen", "nothing"}
_OF_THE_MOMENT = ("moment", "alarm-cause")
"""Circumstances that were so when they were said; they are said anew and not corrected."""
_KINDS: dict[str, EntryKind] = {
    "choice": "circumstance",
    "outcome": "answer",
    "reading": "answer",
    "repair": "repair",
}


def correctable(standing: Sequence[Entry]) -> tuple[Entry, ...]:
    """Return the answers that stand, in their order; their places count from 1."""
    return tuple(e for e in standing if e.kind in ANSWERS and e.key not in _OF_THE_MOMENT)


def numbered(standing: Sequence[Entry], text: str) -> Entry:
    """Return the answer with the number ``text``.

    Raises:
        BadInput: it is no number of an answer.
    """
    answers = correctable(standing)
    if not answers:
        raise BadInput("There is no answer yet that could be corrected.")
    if not (text.isascii() and text.isdigit() and 1 <= int(text[:9]) <= len(answers)):
        raise BadInput(f"Write correct and a number from 1 to {len(answers)}; correct alone lists them.")
    return answers[int(text) - 1]


def question_of(workbench: Workbench, entry: Entry) -> Question:
    """Return the question that an answer belongs to.

    Raises:
        BadInput: it can only be taken back, not asked again.
    """
    found: Question | None = None
    if entry.kind in ("circumstance", "skip", "cannot"):
        found = choice_question(workbench, entry.key)
    if entry.kind in ("answer", "skip", "cannot") and entry.key in workbench.faults.offers:
        found = measured(workbench, entry.key)
    if entry.kind == "check" and entry.key in workbench.library.cold_checks:
        found = check_question(workbench.library, entry.key)
    if entry.kind == "symptom":
        found = SYMPTOMS
    if entry.kind == "repair" or (entry.kind == "skip" and found is None):
        found = repair_question(entry.key, done=True)
    if found is None:
        raise BadInput("This answer can be taken back with undo, and not be asked again.")
    return found


def measured(workbench: Workbench, key: str) -> Question:
    """Return the question of a measurement."""
    offer = workbench.faults.offers[key]
    measurement = offer.measurement
    title = f"{measurement.title} {offer.target}".strip()
    if measurement.reading is not None:
        return Question(key, "reading", title, unit=measurement.reading.unit, offer=key)
    options = tuple(Option(name, label) for name, label in measurement.outcomes.items())
    return Question(key, "outcome", title, options, offer=key)


def corrected(workbench: Workbench, entry: Entry, line: str, find: Callable[[str], Sequence[str]]) -> Entry:
    """Return the entry that takes the place of ``entry``.

    Args:
        workbench: What the session works with.
        entry: The answer that is corrected.
        line: What is right, as it would have been typed; "none" strikes a symptom out.
        find: Gives the names of symptoms for everyday words, best first.
    Raises:
        BadInput: the line is no answer to the question.
    """
    if entry.kind == "trace":
        new = read_trace(line, tuple(workbench.chassis.stages))
        return Entry("trace", new.key, new.value, of=entry.name)
    question = question_of(workbench, entry)
    if question.kind == "symptoms":
        return _symptom(workbench, entry, line, find)
    if question.kind == "reading":
        line = in_figures(line, workbench.faults.bins(question.id), question.unit)
        reading = read_reading(line, question.unit)
        return Entry("answer", question.id, UNSURE if reading.shape == "unsure" else line.strip(), of=entry.name)
    if question.kind == "check":
        return Entry("check", question.id, check_value(workbench.library, question, line), of=entry.name)
    key = choose_or_amount(question, line)
    if key == UNSURE and question.kind == "repair":
        raise BadInput(f"Here only one of the {len(question.options)} answers is taken.")
    return Entry(_KINDS[question.kind], question.id, key, of=entry.name)


def _symptom(workbench: Workbench, entry: Entry, line: str, find: Callable[[str], Sequence[str]]) -> Entry:
    words = plain_words(line)
    if words in _NOT_THERE:
        return Entry("symptom", entry.key, "no", of=entry.name)
    name = words.replace(" ", "-")
    if name not in workbench.library.symptoms:
        hits = list(find(line))
        if not hits:
            raise BadInput(f"Nothing fits {line.strip()[:60]!r}. Write what is seen, or none to strike it out.")
        titles = [n for n in hits if plain_words(workbench.library.symptoms[n].title) == words]
        if len(hits) > 1 and not titles:
            raise BadInput(f"Several fit. Write one of: {', '.join(hits[:4])}; or none to strike it out.")
        name = (titles or hits)[0]
    return Entry("symptom", name, of=entry.name)
