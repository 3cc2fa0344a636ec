"""Lesson files and the ladder: checked by name, line and nearest word; six levels, prerequisites below."""

from collections import Counter

import pytest

from backporch.engine.errors import BadFile
from backporch.engine.knowledge.library import shipped
from backporch.engine.training.lesson import LEVELS, load_lessons, shipped_ladder
from backporch.engine.training.score import Result, mastered

LESSON = """schema: 1
lessons:
  mine:
    title: Mine
    level: 2
    aim: Find it.
    story: It came in.
    think: Think of it.
    chassis: plover-17
    variants:
      - faults: ["C26=shorted"]
"""


@pytest.fixture(scope="module")
def library():
    """The knowledge base."""
    return shipped()


@pytest.fixture(scope="module")
def ladder(library):
    """The lessons that are shipped."""
    return shipped_ladder(library)


class TestLadder:
    def test_has_lessons_on_six_levels(self, ladder):
        """There are at least 24 lessons, on each of six levels at least three."""
        levels = Counter(lesson.level for lesson in ladder.lessons.values())

        assert len(ladder.lessons) >= 24
        assert set(levels) == set(LEVELS) == {1, 2, 3, 4, 5, 6}
        assert min(levels.values()) >= 3

    def test_prerequisites_can_be_met(self, ladder):
        """Whoever takes the lessons in their order has what each of them asks for."""
        done = set()
        for name in ladder.lessons:
            assert ladder.missing(name, done) == []
            done.add(name)

    def test_each_says_what_it_teaches(self, ladder):
        """Each lesson has an aim, a first hint and a rule of mastery, and the texts differ."""
        lessons = ladder.lessons.values()

        assert len({lesson.aim for lesson in lessons}) == len({lesson.think for lesson in lessons}) == len(lessons)
        assert all(lesson.mastery.score >= 50 for lesson in lessons)


class TestLessonFiles:
    def test_a_teacher_may_build_on_the_shipped_ones(self, library, ladder, tmp_path):
        """A file of one's own may name a shipped lesson as prerequisite."""
        path = tmp_path / "mine.yaml"
        path.write_text(LESSON + "    prerequisites: [one-bright-line]\n")

        assert load_lessons(path, library, known=ladder.lessons)["mine"].prerequisites == ("one-bright-line",)

    @pytest.mark.parametrize(
        ("line", "said"),
        [
            ("prerequisites: [one-bright-lime]", "one-bright-line"),
            ("prerequisites: [two-things-at-once]", "higher level"),
            ("owned: [osciloscope]", "oscilloscope"),
            ("read: [rastr]", "raster"),
            ("circumstances: {isolatio: direct}", "isolation"),
            ("masteri: {score: 80}", "mastery"),
            ("mastery: {score: 180}", "100"),
        ],
    )
    def test_a_mistake_is_named_with_line_and_nearest_word(self, library, ladder, tmp_path, line, said):
        """Each mistake is told with the file's line, and with the right word where one is near."""
        path = tmp_path / "mine.yaml"
        path.write_text(f"{LESSON}    {line}\n")

        with pytest.raises(BadFile, match=rf"mine\.yaml:12: .*{said}"):
            load_lessons(path, library, known=ladder.lessons)

    def test_seeds_go_round_the_variants(self, ladder):
        """Seed 1 hides the first variant, and the seeds go round."""
        lesson = ladder.lesson("a-dark-tube")
        count = len(lesson.variants)

        assert lesson.variant(1) == lesson.variants[0] == lesson.variant(1 + count)
        assert lesson.variant(2) == lesson.variants[1 % count]


class TestMastery:
    def _result(self, **changed):
        fields = {"ending": "found", "score": 90, "deepest_hint": 1, "unsafe": "", "seed": 1, **changed}
        return Result(
            lesson="mine",
            minutes=20.0,
            best_minutes=18.0,
            tool_minutes=19.0,
            hints=1,
            tests=5,
            useless=0,
            **fields,
        )

    @pytest.mark.parametrize(
        ("changed", "is_mastered"),
        [
            ({}, True),
            ({"score": 69}, False),
            ({"deepest_hint": 3}, False),
            ({"ending": "unsafe", "score": 0, "unsafe": "set-on"}, False),
            ({"ending": "unsupported", "score": 0}, False),
        ],
    )
    def test_wants_a_right_supported_safe_and_quick_run(self, ladder, changed, is_mastered):
        """A slow, deeply hinted, unsafe or guessed run is no mastery."""
        assert mastered(ladder.lesson("one-bright-line"), [self._result(**changed)]) is is_mastered

    def test_two_runs_on_one_seed_count_once(self, ladder):
        """Where a lesson wants two runs they must be on two seeds."""
        lesson = ladder.lesson("one-bright-line")
        twice = lesson.model_copy(update={"mastery": lesson.mastery.model_copy(update={"runs": 2})})

        assert not mastered(twice, [self._result(), self._result()])
        assert mastered(twice, [self._result(), self._result(seed=2)])
