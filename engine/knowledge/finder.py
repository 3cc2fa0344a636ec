# SPDX-License-Identifier: MIT
"""Finds symptoms by everyday words.

Each symptom is known by several phrases: its title, what is seen, and everyday words.  Typed words are
compared with every phrase word by word (spelling may be off); rare words weigh more than common ones.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from functools import lru_cache

from rapidfuzz import fuzz

from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import Symptom

__all__ = ["find_symptoms"]

_SMALL = frozenset(
    """a an and are at be but by can does do goes going for from get gets got has have i in is it its keeps keep
    like my not of on or right set so some that the there they this to tv television up was when will with just
    very really wont dont doesnt cant its""".split()
)
_SAME: Mapping[str, str] = {
    "frame": "vertical",
    "valve": "tube",
    "crt": "picture tube",
    "eht": "high voltage",
    "screen": "picture",
    "image": "picture",
    "frames": "picture",
    "pictures": "picture",
    "fuzzy": "blurred",
    "blurry": "blurred",
    "flipping": "rolls",
    "flips": "rolls",
    "rolling": "rolls",
    "roll": "rolls",
    "slipping": "rolls",
    "scrolls": "rolls",
    "scrolling": "rolls",
    "sideways": "sideways",
    "squashed": "short",
    "telly": "",
}
_MOST = 6
_LEAST = 0.33


def find_symptoms(library: Library, text: str, most: int = _MOST) -> list[str]:
    """Return the names of the symptoms that ``text`` may mean, best first.

    Args:
        library: Has the symptoms.
        text: What somebody typed; anything.
        most: At most so many.
    Returns:
        Names; empty where nothing fits.
    """
    asked = _words(text)
    if not asked:
        return []
    phrases = _phrases(library)
    rarity = _rarity(words for _, words, _ in phrases)
    best: dict[str, float] = {}
    for name, words, weight in phrases:
        best[name] = max(best.get(name, 0.0), weight * _fit(asked, words, rarity))
    ranked = sorted((n for n, score in best.items() if score >= _LEAST), key=lambda n: (-round(best[n], 6), n))
    return ranked[:most]


def _phrases(library: Library) -> list[tuple[str, tuple[str, ...], float]]:
    found = []
    for name, symptom in library.symptoms.items():
        found += [(name, words, weight) for words, weight in _said(name, symptom) if words]
    return found


def _said(name: str, symptom: Symptom) -> Iterable[tuple[tuple[str, ...], float]]:
    yield _words(name.replace("-", " ")), 1.0
    yield _words(symptom.title), 1.0
    yield _words(symptom.seen), 0.7
    for phrase in symptom.everyday:
        yield _words(phrase), 1.0


@lru_cache(maxsize=4096)
def _words(text: str) -> tuple[str, ...]:
    plain = re.sub(r"[^a-z0-9+' ]+", " ", text.lower().replace("\u2019", "'"))[:400]
    mapped = " ".join(_SAME.get(word, word) for word in plain.split())
    kept = tuple(_stem(word) for word in mapped.split() if word.replace("'", "") not in _SMALL)
    return kept or tuple(_stem(word) for word in mapped.split())


def _stem(word: str) -> str:
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)]
    return word


def _rarity(phrases: Iterable[tuple[str, ...]]) -> dict[str, float]:
    counts = Counter(word for words in phrases for word in set(words))
    total = sum(counts.values())
    return {word: math.log(1 + total / count) for word, count in counts.items()}


def _fit(asked: tuple[str, ...], words: tuple[str, ...], rarity: Mapping[str, float]) -> float:
    """Return how well the words asked fit a phrase, 0 to 1: what is met of either side, rare words first."""
    common = max(rarity.values(), default=1.0)

    def met(some: tuple[str, ...], others: tuple[str, ...]) -> float:
        total = sum(rarity.get(word, common * 0.7) for word in some)
        got = sum(rarity.get(word, common * 0.7) * _alike(word, others) for word in some)
        return got / total if total else 0.0

    exact = 0.1 if asked == words else 0.0
    return 0.65 * met(asked, words) + 0.35 * met(words, asked) + exact


def _alike(word: str, others: tuple[str, ...]) -> float:
    if word in others:
        return 1.0
    if len(word) < 4:
        return 0.0
    best = max((fuzz.ratio(word, other) for other in others if abs(len(word) - len(other)) <= 2), default=0.0)
    return 0.9 if best >= 85 else 0.7 if best >= 75 else 0.0
