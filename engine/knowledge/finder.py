# SPDX-License-Identifier: MIT
"""Finds symptoms by everyday words.

A symptom is known by its title, what is seen and everyday phrases.  What is typed is compared twice: with
all words of the symptom together, and with each of its phrases by itself.  Rare words weigh more than
common ones, spelling may be off, words that mean much the same count nearly as much, and a term of the
glossary is found by its other names, British ones among them.
Limits: the order of words does not count.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz import fuzz, process

from backporch.engine.knowledge.clauses import clauses_of
from backporch.engine.knowledge.everyday import ALIKE, stems
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Symptom

__all__ = ["find_symptoms"]

Words = tuple[str, ...]

_MOST = 6
_LEAST = 0.30
_SYNONYM = 0.75
_SEEN = 0.75
_LEADS = 0.65
"""A clause whose best hit fits less than this does not put it in front."""
_TOGETHER = 0.8
"""Share of what the clauses are worth apart that one symptom of them all must reach to come first."""
_REST = 0.5
"""How much a fit to all clauses together counts beside that to the best of them, behind those in front."""
_STRANGE = 0.25
"""Weight of a word that nothing here is like, as a share of the rarest word's."""
_COMMON = frozenset({"feed", "coating", "boost", "front end", "leak", "form", "flex", "pot"})
"""Other names in the glossary that mostly mean something else in everyday words."""


@dataclass(frozen=True)
class _Known:
    """How one symptom may be said."""

    name: str
    phrases: tuple[Words, ...]
    bag: Mapping[str, float]
    """All its words, each with the weight of the best place where it stands."""
    good: frozenset[str]
    """Of what it says that it is as it should be, in words; empty for a complaint."""


@dataclass(frozen=True)
class _Index:
    known: tuple[_Known, ...]
    rarity: Mapping[str, float]
    terms: Mapping[Words, Words]
    """Other name of a term -> the term, both in words."""

    @property
    def rarest(self) -> float:
        """Weight of the rarest word."""
        return max(self.rarity.values(), default=1.0)


def find_symptoms(library: Library, text: str, most: int = _MOST) -> list[str]:
    """Return the names of the symptoms that ``text`` may mean, best first.

    Of two complaints in one sentence the best hit of each comes first, in the order in which they were said, then
    what was said to be good, then all others.  A sign that is made of both complaints comes before them.

    Args:
        library: Has the symptoms and the glossary.
        text: What somebody typed; anything.
        most: At most so many.
    Returns:
        Names; empty where nothing fits.
    """
    index = _index(library)
    parts = clauses_of(text)
    wrong = [clause.text for clause in parts if clause.fine is None]
    good = [name for clause in parts if clause.fine for name in _said_good(index, clause.fine)]
    if not wrong and not good:
        wrong = [text]
    each = [_scores(index, clause) for clause in wrong]
    together = _scores(index, " ".join(wrong)) if len(wrong) > 1 else {}
    leading = [ranked[0] for scores in each if (ranked := _ranked(scores)) and scores[ranked[0]] >= _LEADS]
    best = _merged(index, together, each)
    first = [*_of_both(index, wrong, together, each), *leading, *good] if len(parts) > 1 else good
    return list(dict.fromkeys([*first, *_ranked(best)]))[:most]


def _merged(index: _Index, together: Mapping[str, float], each: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """Return how well the clauses, one by one and together, fit each symptom."""
    every = [together, *each]
    names = [known.name for known in index.known]
    return {n: max(s.get(n, 0.0) for s in every) + _REST * together.get(n, 0.0) for n in names}


def _ranked(scores: Mapping[str, float]) -> list[str]:
    return sorted((n for n, score in scores.items() if score >= _LEAST), key=lambda n: (-round(scores[n], 6), n))


def _scores(index: _Index, text: str) -> dict[str, float]:
    """Return how well a text fits each symptom."""
    best = {known.name: 0.0 for known in index.known}
    for asked in _versions(index, text):
        near = {word: _near(index, word) for word in set(asked)}
        for known in index.known:
            best[known.name] = max(best[known.name], _score(index, known, asked, near))
    return best


def _of_both(
    index: _Index, clauses: Sequence[str], together: Mapping[str, float], each: Sequence[Mapping[str, float]]
) -> list[str]:
    """Return the symptom that several complaints make together, such as rolling and tearing; none as a rule.

    It must fit all words as well as the best hits of the complaints fit them one by one.
    """
    names = _ranked(together)[:1]
    apart = sum(max(scores.values()) for scores in each) / max(len(each), 1)
    return [n for n in names if together[n] >= _TOGETHER * apart and _joins(index, n, clauses)]


def _joins(index: _Index, name: str, clauses: Sequence[str]) -> bool:
    """Tell whether one phrase of a symptom takes words from more than one clause."""
    known = next(k for k in index.known if k.name == name)
    words = [{near for word in stems(clause) for near in _near(index, word)} for clause in clauses]
    return any(sum(bool(said & set(phrase)) for said in words) > 1 for phrase in known.phrases)


def _said_good(index: _Index, spoken_of: frozenset[str]) -> list[str]:
    """Return the signs of something as it should be, of what is spoken of."""
    said = {other for word in spoken_of for stem in stems(word) for other in (stem, *ALIKE.get(stem, ()))}
    return [known.name for known in index.known if said & known.good]


@lru_cache(maxsize=4)
def _index(library: Library) -> _Index:
    known = tuple(_known(name, symptom) for name, symptom in library.symptoms.items())
    counts = Counter(word for one in known for word in one.bag)
    rarity = {word: math.log(1 + len(known) / count) for word, count in counts.items()}
    terms = {
        stems(other): stems(term)
        for term, entry in library.glossary.items()
        for other in entry.also
        if other not in _COMMON
    }
    return _Index(known, rarity, terms)


def _known(name: str, symptom: Symptom) -> _Known:
    said = [stems(text) for text in (name.replace("-", " "), symptom.title, *symptom.everyday)]
    seen = stems(symptom.seen)
    bag = dict.fromkeys(seen, _SEEN) | {word: 1.0 for words in said for word in words}
    fine = [clause.fine for text in (symptom.title, *symptom.everyday) for clause in clauses_of(text)]
    good = frozenset(stem for one in fine if one for word in one for stem in stems(word))
    return _Known(name, tuple(dict.fromkeys([*said, seen])), bag, good)


def _versions(index: _Index, text: str) -> Iterator[Words]:
    """Give the words typed, and the same with terms of the trade put for their other names."""
    plain = stems(text)
    if plain:
        yield plain
    words = plain
    for other, term in index.terms.items():
        at = next((n for n in range(len(words)) if words[n : n + len(other)] == other), None)
        if at is not None:
            words = (*words[:at], *term, *words[at + len(other) :])
    if words != plain:
        yield words


def _near(index: _Index, word: str) -> Mapping[str, float]:
    """Return the words of the knowledge base that a typed word may stand for, each with how well."""
    found = {other: _SYNONYM for other in ALIKE.get(word, ()) if other in index.rarity}
    if word in index.rarity:
        return found | {word: 1.0}
    if not found and len(word) > 3:
        close = process.extract(word, index.rarity.keys(), scorer=fuzz.ratio, score_cutoff=76, limit=3)
        found = {other: 0.9 if score >= 85 else 0.65 for other, score, _ in close}
    return found


def _weight(index: _Index, word: str, near: Mapping[str, float]) -> float:
    if word in index.rarity:
        return index.rarity[word]
    if near:
        return max(index.rarity[other] * alike for other, alike in near.items())
    return _STRANGE * index.rarest


def _score(index: _Index, known: _Known, asked: Words, near: Mapping[str, Mapping[str, float]]) -> float:
    """Return how well the words fit a symptom, 0 to about 1."""
    weights = [_weight(index, word, near[word]) for word in asked]
    total = sum(weights)

    def met(words: Mapping[str, float]) -> float:
        got = (w * _best(near[word], words) for word, w in zip(asked, weights, strict=True))
        return sum(got) / total

    whole = met(known.bag)
    if whole == 0.0:
        return 0.0
    one = max(met(dict.fromkeys(p, 1.0)) + _back(index, p, near) for p in known.phrases) / 2
    return 0.5 * whole + 0.5 * one + (0.1 if asked in known.phrases else 0.0)


def _best(near: Mapping[str, float], words: Mapping[str, float]) -> float:
    return max((alike * words[other] for other, alike in near.items() if other in words), default=0.0)


def _back(index: _Index, phrase: Sequence[str], near: Mapping[str, Mapping[str, float]]) -> float:
    """Return how much of a phrase was said."""
    total = sum(index.rarity[word] for word in phrase)
    got = sum(index.rarity[word] * max((n.get(word, 0.0) for n in near.values()), default=0.0) for word in phrase)
    return got / total if total else 0.0
