# SPDX-License-Identifier: MIT
"""After the lesson: both paths side by side, when enough was known, what taught nothing, what to read next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from backporch.engine.chassis.expected import expected
from backporch.engine.circuits.formula import Step
from backporch.engine.errors import BackporchError
from backporch.engine.session.evidence import ahead_of
from backporch.engine.session.workbench import Offer
from backporch.engine.training.advice import Plan
from backporch.engine.training.course import Course
from backporch.engine.training.run import Moment, Run

__all__ = ["Debrief", "Deciding", "debrief", "enough_known"]

_MOST_READ = 4
_DECIDES = 0.05
"""Share by which a reading must have moved the faulty part to count as deciding."""
_FREE = ("bench", "useless")


@dataclass(frozen=True)
class Deciding:
    """The reading that decided, or would have: where, what it showed, how the healthy value is computed."""

    key: str
    title: str
    answer: str
    healthy: str
    steps: tuple[Step, ...]
    steps_of: str
    """The reading that the computation is of: this one, or the nearest before it in the signal path."""
    made_by: str
    """"you", "tool" or "nobody"."""


@dataclass(frozen=True)
class Debrief:
    """What is said after a lesson."""

    rows: tuple[tuple[Moment | None, Moment | None], ...]
    """The learner's and the tool's steps, side by side."""
    enough: Moment | None
    """The learner's step after which enough was known to name the part."""
    tool_enough: Moment | None
    useless: tuple[Moment, ...]
    deciding: Deciding | None
    read: tuple[tuple[str, str], ...]
    """Terms to read next, each with what it means."""
    sources: tuple[tuple[str, str], ...]
    """Published sources of the formulas, by key, with their title."""


def debrief(course: Course, run: Run, tool: Plan) -> Debrief:
    """Return what is said after a run.

    Args:
        course: The lesson.
        run: What the learner did.
        tool: What the tool would have done.
    """
    deciding = _deciding(course, run, tool)
    steps = deciding.steps if deciding else ()
    return Debrief(
        rows=tuple(zip_longest(_shown(run.moments), _shown(tool.run.moments))),
        enough=enough_known(run),
        tool_enough=enough_known(tool.run),
        useless=tuple(m for m in run.moments if m.useless),
        deciding=deciding,
        read=tuple(_terms(course, steps)),
        sources=tuple(_sources(course, steps)),
    )


def enough_known(run: Run) -> Moment | None:
    """Return the first test after which the faulty part was supported well enough to be named, or None."""
    return next((m for m in run.moments if m.act.kind == "test" and m.known), None)


def _shown(moments: Iterable[Moment]) -> list[Moment]:
    return [m for m in moments if m.act.kind not in _FREE]


def _deciding(course: Course, run: Run, tool: Plan) -> Deciding | None:
    """Return the reading that spoke most for the faulty part: the learner's, else the tool's, else the best."""
    for whose, moments in (("you", run.moments), ("tool", tool.run.moments)):
        readings = [m for m in moments if m.act.kind == "test" and _numeric(course, m.act.key)]
        best = max(readings, key=lambda m: m.support - m.before, default=None)
        if best is not None and best.support - best.before > _DECIDES:
            return _told(course, best.act.key, best.answer, whose)
    telling = _most_telling(course)
    return _told(course, telling, course.patient().answer(course.offer(telling)), "nobody") if telling else None


def _numeric(course: Course, key: str) -> bool:
    return course.offer(key).measurement.reading is not None


def _told(course: Course, key: str, answer: str, whose: str) -> Deciding:
    offer = course.offer(key)
    healthy = course.workbench.expected_of(offer)
    steps, of = _computed_near(course, offer)
    return Deciding(key, course.title(offer), answer, healthy, steps, of, whose)


def _computed_near(course: Course, offer: Offer) -> tuple[tuple[Step, ...], str]:
    """Return the computation of a reading, or that of the nearest one before it that has any, and its title."""
    stages = course.workbench.chassis.stages
    readings = [o for _, o in sorted(course.workbench.faults.offers.items()) if o.measurement.reading is not None]
    start = offer.measurement.stage or ""
    queue = [start, *(ahead_of(course.workbench.chassis, start) if start in stages else ())]
    near = [offer, *(o for stage in queue for o in readings if o.measurement.stage == stage)]
    healthy = expected(course.workbench.chassis, draws=2, why=True)
    for one in near:
        reading = one.measurement.reading
        item = healthy.get(f"{reading.point}.{reading.quantity}") if reading else None
        steps = tuple(step for step in item.steps if _readable(step)) if item is not None else ()
        if steps:
            return _to_the_point(steps), course.title(one)
    return (), ""


def _to_the_point(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Return a computation without last lines that only say the same value under another name."""
    while len(steps) > 1 and steps[-1].formula == steps[-2].quantity:
        steps = steps[:-1]
    return steps


def _readable(step: Step) -> bool:
    """Tell whether the numbers of a step are numbers, and not the insides of a circuit."""
    return "array(" not in step.numbers and "array(" not in step.result


def _most_telling(course: Course) -> str | None:
    """Return the reading that differs most from a healthy set, counted in widths of the healthy band."""
    best, most = None, 0.5
    for key, offer in sorted(course.workbench.faults.offers.items()):
        if offer.measurement.reading is None or course.missing_instruments(offer):
            continue
        band = course.workbench.faults.bins(key)
        value = course.patient().reading(offer)
        outside = max(band.low - value, value - band.high) / max(band.high - band.low, 1e-9)
        if outside > most:
            best, most = key, outside
    return best


def _terms(course: Course, steps: Sequence[Step]) -> Iterable[tuple[str, str]]:
    library = course.workbench.library
    words = list(course.lesson.read)
    text = " ".join([course.lesson.aim, course.lesson.think, *(step.quantity for step in steps)]).lower()
    words += [term for term in library.glossary if len(term) > 3 and term.lower() in text]
    found: dict[str, str] = {}
    for word in words:
        try:
            name, entry = library.term(word)
        except BackporchError:
            continue
        found.setdefault(name, entry.means)
    yield from list(found.items())[:_MOST_READ]


def _sources(course: Course, steps: Sequence[Step]) -> Iterable[tuple[str, str]]:
    sources = course.workbench.library.sources
    keys = [key for step in steps for key in sources if key in step.source]
    for key in list(dict.fromkeys(keys))[:_MOST_READ]:
        source = sources[key]
        yield key, ", ".join(str(part) for part in (source.author, source.title, source.year) if part)
