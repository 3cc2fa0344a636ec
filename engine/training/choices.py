# SPDX-License-Identifier: MIT
"""What a learner may choose, found by everyday words: every test, and the points that are better left alone.

Points that must never be measured stand in the list without a mark; to know them is part of the trade.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from backporch.engine.errors import BadInput
from backporch.engine.knowledge.everyday import ALIKE, stems
from backporch.engine.session.questions import plain_words
from backporch.engine.session.workbench import Offer
from backporch.engine.training.act import Act
from backporch.engine.training.course import BENCH_ACTS, Course

__all__ = ["KINDS", "Choice", "Choices"]

_MOST = 6
_LEAST = 0.45
_BACK = 0.25
_NEAR = 0.7
_ENOUGH = 3
"""So many words at the beginning of a title name it where no other begins with them."""

KINDS = {
    "looks": ("look",),
    "sounds": ("listen",),
    "controls": ("control",),
    "meter": ("meter", "forbidden"),
    "scope": ("scope",),
    "swaps": ("exchange",),
    "part tests": ("part-test",),
}
"""Words by which a whole kind of tests is listed."""

_ALSO = {
    "look": "look see watch",
    "listen": "listen hear sound",
    "control": "turn control knob",
    "meter": "meter read measure volts voltage",
    "scope": "oscilloscope scope waveform look",
    "exchange": "exchange swap change replace tube valve",
    "part-test": "lift test check part out of circuit",
    "forbidden": "meter read measure volts voltage",
}
_SEEN_OR_HEARD = ("look", "listen")
"""Kinds of tests that are asked for by what they may show: does it snow, is there a hum."""
_SHOWN = 0.8
_MEANT = 0.3
_VERBS: dict[str, frozenset[str]] = {
    stem: frozenset(kinds)
    for words, kinds in {
        "swap exchange replace change": ("exchange",),
        "scope oscilloscope waveform": ("scope",),
        "measure meter volts voltage read ohms": ("meter", "forbidden"),
        "turn adjust": ("control",),
        "listen hear": ("listen",),
        "lift": ("part-test",),
        "glow lit": ("look",),
    }.items()
    for stem in stems(words)
}
"""What kind of test a word means, by its stem."""
_UNITS = {"ohm": "ohms resistance", "V": "volts voltage", "A": "current amperes", "Hz": "rate frequency"}

_BENCH_WORDS = {
    "plug-out": ("plug out", "unplug", "pull the plug", "switch off", "set off", "power off", "off"),
    "discharge": ("discharge", "discharge it", "discharge the tube", "discharge filters", "discharged"),
    "switch-on": ("switch on", "plug in", "set on", "power on", "on"),
    "isolate": ("isolate", "isolated", "isolating transformer", "use the isolating transformer", "now isolated"),
}


@dataclass(frozen=True)
class Choice:
    """One thing that may be chosen."""

    act: Act
    title: str
    kind: str


def _small(title: str) -> str:
    return title if title[1:2].isupper() or title[1:2] in "+-" else title[:1].lower() + title[1:]


class Choices:
    """All that may be chosen in one lesson."""

    def __init__(self, course: Course) -> None:
        """Gather the choices of a course."""
        self._course = course
        self.all: dict[str, Choice] = {}
        self._words: dict[str, frozenset[str]] = {}
        for name, choice, words in self._gathered():
            self.all[name] = choice
            self._words[name] = frozenset(stems(words))
        self._shown = {name: self._shows(name) for name in self.all}
        self._known = sorted(set().union(*self._words.values()))

    def _gathered(self) -> Iterator[tuple[str, Choice, str]]:
        for key, offer in self._course.workbench.faults.offers.items():
            kind = offer.measurement.kind
            title = self.titled(offer)
            if self._course.missing_instruments(offer):
                title = f"{title}, not possible with this bench"
            yield key, Choice(Act("test", key), title, kind), f"{self.titled(offer)} {self._also(offer)}"
        for point, title in self._course.forbidden.items():
            yield point, Choice(Act("forbidden", point), title, "forbidden"), f"{title} {_ALSO['forbidden']}"

    def titled(self, offer: Offer) -> str:
        """Return a test in words, with what its part or tube is for."""
        chassis, title = self._course.workbench.chassis, self._course.title(offer)
        if offer.target in chassis.parts:
            return f"{title} ({chassis.parts[offer.target].does or chassis.parts[offer.target].kind})"
        if offer.target in chassis.tubes:
            return f"{title} ({self._tube(offer.target)})"
        return title

    def _tube(self, name: str) -> str:
        tube, stages = self._course.workbench.chassis.tubes[name], self._course.workbench.library.stages
        titles = [stages[s.stage].title for s in tube.sections.values() if s.stage in stages]
        return ", ".join([tube.type, *dict.fromkeys(_small(t) for t in titles)])

    def _shows(self, name: str) -> frozenset[str]:
        """Return the words of what a look or a sound may show."""
        offer = self._course.workbench.faults.offers.get(name)
        told = offer.measurement.outcomes.values() if offer and offer.measurement.kind in _SEEN_OR_HEARD else ()
        return frozenset(stems(" ".join(told)))

    def _also(self, offer: Offer) -> str:
        measurement, library = offer.measurement, self._course.workbench.library
        words = [offer.id.replace("-", " ").replace("@", " "), _ALSO[measurement.kind]]
        if measurement.reading is not None:
            words += [measurement.reading.point.replace("-", " "), _UNITS[measurement.reading.unit]]
        if measurement.stage in library.stages:
            words.append(library.stages[measurement.stage].title)
        return " ".join(words)

    def listed(self, word: str) -> list[Choice]:
        """Return all choices of one kind, in the order of the knowledge base."""
        return [choice for choice in self.all.values() if choice.kind in KINDS[word]]

    def bench_act(self, text: str) -> Act | None:
        """Return what makes the bench ready, where the words say so."""
        words = plain_words(text).rstrip(".!")
        for name in BENCH_ACTS:
            if words in _BENCH_WORDS[name] or words == name.replace("-", " "):
                return Act("bench", name)
        return None

    def find(self, text: str, most: int = _MOST) -> list[Choice]:
        """Return what the words may mean, best first; one alone where it is named exactly, or no other begins so.

        Raises:
            BadInput: nothing fits.
        """
        words = plain_words(text)
        exact = next((c for n, c in self.all.items() if words in (n.lower(), plain_words(c.title))), None)
        asked = stems(text)
        begun = [c for c in self.all.values() if len(asked) >= _ENOUGH and stems(c.title)[: len(asked)] == asked]
        if exact is not None or len(begun) == 1:
            return [exact or begun[0]]
        meant = {kind for word in asked for kind in _VERBS.get(word, ())}
        score = {name: self._score(asked, name) for name in self._words} if asked else {}
        for name in score:
            score[name] += _MEANT if self.all[name].kind in meant else 0.0
        ranked = sorted((n for n, s in score.items() if s >= _LEAST), key=lambda n: (-round(score[n], 6), n))
        if not ranked:
            raise BadInput(
                f"Nothing at this bench fits {text.strip()[:50]!r}. Say it in other words, or type one of: "
                f"{', '.join(KINDS)}."
            )
        best = score[ranked[0]]
        return [self.all[n] for n in ranked if score[n] > _NEAR * best][:most]

    def _score(self, asked: tuple[str, ...], name: str) -> float:
        own, shown = self._words[name], self._shown[name]
        met = sum(max(self._met(word, own), _SHOWN * (word in shown)) for word in asked) / len(asked)
        return met + _BACK * sum(word in own for word in asked) / len(own)

    def _met(self, word: str, own: frozenset[str]) -> float:
        if word in own:
            return 1.0
        if set(ALIKE.get(word, ())) & own:
            return 0.7
        if len(word) > 3 and word not in self._known:
            close = process.extractOne(word, own, scorer=fuzz.ratio, score_cutoff=78)
            return 0.8 if close else 0.0
        return 0.0
