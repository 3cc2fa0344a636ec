"""The drawings of the gallery can be told from one another, and from a healthy picture."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import yaml

from backporch.engine.knowledge.library import shipped
from backporch.engine.picture.shots import film_pictures, shot_picture

LIBRARY = shipped()
REFERENCE = Path(__file__).parents[1] / "reference" / "gallery_trials.yaml"


@pytest.fixture(scope="module")
def drawn():
    """What each symptom is drawn as: captions, and its shots at a small size."""
    return {
        name: (
            tuple(shot.caption for shot in entry.shots),
            np.stack([shot_picture(shot, 160).astype(np.float32).mean(axis=2) for shot in entry.shots]),
        )
        for name, entry in LIBRARY.gallery.items()
    }


class TestDrawings:
    def test_no_two_symptoms_are_drawn_alike(self, drawn):
        """Two symptoms whose shots have the same captions differ in what they show."""
        for one, other in combinations(drawn, 2):
            (captions, first), (others, second) = drawn[one], drawn[other]
            if captions == others:
                assert np.abs(first - second).mean() > 3, (one, other)

    def test_every_symptom_differs_from_a_healthy_picture(self, drawn):
        """At least one shot of each symptom is not what a healthy set shows, where the set itself shows it."""
        entry = next(iter(LIBRARY.gallery.values()))
        healthy = shot_picture(type(entry.shots[0])(), 160).astype(np.float32).mean(axis=2)
        for name, (_, shots) in drawn.items():
            assert max(np.abs(shot - healthy).mean() for shot in shots) > 1.2, name

    def test_films_move(self):
        """Each film has pictures that differ."""
        for name, entry in LIBRARY.gallery.items():
            pictures = film_pictures(entry, 64, frames=4)
            if entry.film is not None:
                assert any(not np.array_equal(pictures[0], later) for later in pictures[1:]), name
            else:
                assert pictures == []


class TestTrials:
    def test_each_trial_says_who_and_how_well(self):
        """The table of trials says of each who tried, whether blind, and two shares that do not contradict it."""
        for trial in yaml.safe_load(REFERENCE.read_text(encoding="utf-8"))["trials"]:
            missed = len(trial["missed"])

            assert trial["who"]
            assert isinstance(trial["blind"], bool)
            assert trial["first"] == pytest.approx(1 - missed / trial["pictures"], abs=0.006)
            assert trial["first"] <= trial["within_three"] <= 1
