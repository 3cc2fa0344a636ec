"""Everyday words find the symptom."""

from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from backporch.engine.knowledge.finder import find_symptoms
from backporch.engine.knowledge.library import shipped

LIBRARY = shipped()
WORDS = yaml.safe_load((Path(__file__).parent.parent / "reference" / "newcomer_words.yaml").read_text())


class TestFindSymptoms:
    @pytest.mark.parametrize(("said", "meant"), WORDS["complaints"].items())
    def test_newcomers_are_understood_in_three_hits(self, said, meant):
        """A complaint in a newcomer's words finds its symptom among the first three."""
        assert set(find_symptoms(LIBRARY, said)[:3]) & set(meant)

    def test_there_are_sixty_complaints(self):
        """The list of complaints has at least sixty entries."""
        assert len(WORDS["complaints"]) >= 60

    @pytest.mark.parametrize("name", LIBRARY.symptoms)
    def test_its_own_title_finds_it_first(self, name):
        """Every symptom is the first hit for its own title."""
        assert find_symptoms(LIBRARY, LIBRARY.symptoms[name].title)[0] == name

    @settings(max_examples=60, deadline=None)
    @given(st.text(max_size=80))
    def test_odd_input_is_harmless(self, text):
        """Whatever is typed gives a list of known symptoms, perhaps empty."""
        assert set(find_symptoms(LIBRARY, text)) <= set(LIBRARY.symptoms)

    def test_nonsense_finds_nothing(self):
        """Words of no symptom find nothing."""
        assert find_symptoms(LIBRARY, "xyzzy qwfp") == []
