"""Everyday words find the symptom."""

from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.knowledge.everyday import ALIKE, stems
from backporch.engine.knowledge.finder import find_symptoms
from backporch.engine.knowledge.library import shipped

LIBRARY = shipped()
WORDS = yaml.safe_load((Path(__file__).parent.parent / "reference" / "newcomer_words.yaml").read_text())
PHRASES = {stems(text) for s in LIBRARY.symptoms.values() for text in (s.title, *s.everyday)}
DIRTY = [
    "",
    " ",
    "?",
    "'",
    "''' \" `",
    "\x00\x1b[31m",
    "\u200b\u202e\U0001f4fa",
    "a" * 100_000,
    "roll " * 20_000,
    "(((",
    "[",
    "%s {0} $(x)",
    "-18 V",
]


def found_in_three(said, meant):
    """Tell whether one of the symptoms meant is among the first three hits."""
    return bool(set(find_symptoms(LIBRARY, said)[:3]) & set(meant))


class TestNewcomers:
    @pytest.mark.parametrize(("said", "meant"), WORDS["complaints"].items())
    def test_they_are_understood_in_three_hits(self, said, meant):
        """A complaint in a newcomer's words finds its symptom among the first three."""
        assert found_in_three(said, meant)

    def test_words_that_nobody_prepared_for_are_mostly_understood(self):
        """Of the complaints held back, nine in ten find their symptom among the first three."""
        held_back = WORDS["held_back"]
        found = sum(found_in_three(said, meant) for said, meant in held_back.items())

        assert found >= 0.9 * len(held_back)

    def test_the_first_hit_is_mostly_right(self):
        """Of all complaints, three in four have their symptom as the first hit."""
        every = {**WORDS["complaints"], **WORDS["held_back"]}
        first = sum(bool(set(find_symptoms(LIBRARY, said)[:1]) & set(meant)) for said, meant in every.items())

        assert first >= 0.75 * len(every)

    @pytest.mark.parametrize("kind", ["complaints", "held_back"])
    def test_there_are_sixty_of_each(self, kind):
        """Each list has at least sixty complaints, and every symptom that it names is known."""
        assert len(WORDS[kind]) >= 60
        assert {name for meant in WORDS[kind].values() for name in meant} <= set(LIBRARY.symptoms)

    def test_complaints_are_not_copied_from_the_everyday_words(self):
        """No complaint stands among the titles and everyday words, whatever its small words."""
        assert [
            said for kind in ("complaints", "held_back") for said in WORDS[kind] if stems(said) in PHRASES
        ] == []

    def test_most_symptoms_have_a_complaint(self):
        """The complaints mean at least four in five of all symptoms."""
        meant = {name for kind in ("complaints", "held_back") for names in WORDS[kind].values() for name in names}

        assert len(meant) >= 0.8 * len(LIBRARY.symptoms)


class TestFindSymptoms:
    @pytest.mark.parametrize("name", LIBRARY.symptoms)
    def test_its_own_title_finds_it_first(self, name):
        """Every symptom is the first hit for its own title."""
        assert find_symptoms(LIBRARY, LIBRARY.symptoms[name].title)[0] == name

    @pytest.mark.parametrize("name", LIBRARY.symptoms)
    def test_its_everyday_words_find_it(self, name):
        """Every everyday phrase finds its symptom among the first three."""
        for phrase in LIBRARY.symptoms[name].everyday:
            assert name in find_symptoms(LIBRARY, phrase)[:3], phrase

    @pytest.mark.parametrize(
        ("said", "name"),
        [
            ("no EHT", "no-high-voltage-signs"),
            ("frame slip", "picture-rolls"),
            ("one valve is dark", "one-heater-dark"),
            ("CRT heater is dark", "picture-tube-heater-dark"),
            ("scan coils: no width", "single-vertical-line"),
        ],
    )
    def test_british_terms_are_understood(self, said, name):
        """A British term of the trade finds what the American one finds."""
        assert name in find_symptoms(LIBRARY, said)[:3]

    @pytest.mark.parametrize(
        ("said", "name"),
        [
            ("pictur rols upp", "picture-rolls-up"),
            ("venitian blinds", "diagonal-bars"),
            ("negatve", "picture-negative"),
            ("FUSE BLOWS!!", "fuse-blows-at-once"),
        ],
    )
    def test_spelling_may_be_off(self, said, name):
        """A word or two spelt wrong still find the symptom."""
        assert name in find_symptoms(LIBRARY, said)[:3]

    def test_up_and_down_are_kept_apart(self):
        """The direction that was said decides between the two ways of rolling."""
        assert find_symptoms(LIBRARY, "it rolls up")[0] == "picture-rolls-up"
        assert find_symptoms(LIBRARY, "it rolls down")[0] == "picture-rolls-down"

    @pytest.mark.parametrize("most", [1, 2, 4])
    def test_no_more_are_given_than_asked_for(self, most):
        """At most so many names are given as were asked for, the best ones."""
        assert find_symptoms(LIBRARY, "picture rolls", most) == find_symptoms(LIBRARY, "picture rolls")[:most]

    def test_nonsense_finds_nothing(self):
        """Words of no symptom find nothing."""
        assert find_symptoms(LIBRARY, "xyzzy qwfp") == []

    @pytest.mark.parametrize("text", DIRTY)
    def test_dirty_input_is_harmless(self, text):
        """Empty, huge and unprintable input gives a list, perhaps empty."""
        assert set(find_symptoms(LIBRARY, text)) <= set(LIBRARY.symptoms)

    @settings(max_examples=60, deadline=None)
    @given(st.text(max_size=80))
    def test_odd_input_is_harmless(self, text):
        """Whatever is typed gives a list of known symptoms without repeats, perhaps empty."""
        hits = find_symptoms(LIBRARY, text)

        assert set(hits) <= set(LIBRARY.symptoms)
        assert len(set(hits)) == len(hits)

    @settings(max_examples=40, deadline=None)
    @given(st.sampled_from(sorted(WORDS["complaints"])), st.randoms(use_true_random=False))
    def test_order_and_capitals_do_not_matter(self, said, random):
        """The same words in another order and in capitals find the same."""
        words = said.split()
        random.shuffle(words)

        assert set(find_symptoms(LIBRARY, " ".join(words).upper())) == set(find_symptoms(LIBRARY, said))


class TestStems:
    @pytest.mark.parametrize(
        "forms",
        [
            ("roll", "rolls", "rolling", "rolled"),
            ("slip", "slips", "slipping", "slipped"),
            ("wave", "waves", "waving", "wavy"),
            ("bright", "brighter", "brightly"),
            ("valve", "valves", "tube"),
            ("can't", "cannot", "can\u2019t", "not"),
        ],
    )
    def test_the_forms_of_a_word_have_one_stem(self, forms):
        """Forms of one word, and spellings that mean one thing, have the same stem."""
        assert len({stems(form) for form in forms}) == 1

    def test_likeness_goes_both_ways(self):
        """If one word means much the same as another, the other does too."""
        assert all(word in ALIKE[other] for word, others in ALIKE.items() for other in others)
