"""Each trade term that is shown is explained: a word is everyday English or stands in the glossary."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from backporch.engine.inference import Inference
from backporch.engine.knowledge.library import shipped
from backporch.rules import BOOKS

LIBRARY = shipped()
EVERYDAY = Path(__file__).parent.parent / "reference" / "everyday_words.txt"
WORD = re.compile(r"[a-z][a-z'-]*")


def shown_texts():
    """Give the texts of rules, usual suspects, symptoms, stages, contradictions and measurements."""
    for name, (claim, reason, _) in Inference(BOOKS).rules.items():
        yield name, f"{claim} {reason}"
    for name, row in LIBRARY.usual_suspects.items():
        yield name, f"{row.claim} {row.because}"
    for name, symptom in LIBRARY.symptoms.items():
        yield name, f"{symptom.title} {symptom.seen}"
    for name, stage in LIBRARY.stages.items():
        yield name, f"{stage.title} {stage.summary}"
    for name, row in LIBRARY.contradictions.items():
        yield name, row.says
    for name, m in LIBRARY.measurements.items():
        yield name, " ".join([m.title, m.do, m.healthy, m.pitfall, *m.outcomes.values()])


def glossary_words():
    """Return every word of a term and of its other names."""
    names = [n for term, entry in LIBRARY.glossary.items() for n in (term, *entry.also)]
    return {word for name in names for word in WORD.findall(name.lower())}


def is_known(word, everyday, terms):
    """Tell whether a word is everyday or a term, also with a plain ending taken off."""
    stems = {
        word,
        word.removesuffix("s"),
        word.removesuffix("es"),
        word.removesuffix("ing"),
        word.removesuffix("ed"),
    }
    return word in everyday or bool(stems & terms)


class TestTerms:
    def test_no_term_is_left_unexplained(self):
        """A word that is no everyday word has an entry in the glossary."""
        everyday, terms = set(EVERYDAY.read_text(encoding="utf-8").split()), glossary_words()
        unknown = {
            word: name
            for name, text in shown_texts()
            for word in WORD.findall(text.replace("{stage}", "").replace("{target}", "").lower())
            if not is_known(word, everyday, terms)
        }

        assert unknown == {}

    @pytest.mark.parametrize("term", ["B+", "boosted B+", "drive", "hold", "raster", "separator grid", "yoke"])
    def test_what_is_answers(self, term):
        """The glossary explains common terms in one sentence."""
        assert len(LIBRARY.term(term)[1].means) > 10

    def test_no_everyday_word_is_a_term(self):
        """The list of everyday words holds no term of the glossary."""
        terms = {n.lower() for term, entry in LIBRARY.glossary.items() for n in (term, *entry.also)}

        assert terms & set(EVERYDAY.read_text(encoding="utf-8").split()) == set()
