"""A course on a chassis, built once."""

from functools import lru_cache

import pytest

from backporch.engine.cli.setup import make_workbench
from backporch.engine.planning.choose import Settings
from backporch.engine.session.interview import Interview
from backporch.engine.training.course import Course
from backporch.engine.training.lesson import Lesson, Variant


@lru_cache(maxsize=4)
def _interview(chassis, owned=()):
    return Interview(make_workbench(chassis, owned), Settings(careful=True))


@pytest.fixture(scope="session")
def course():
    """Make a course with faults hidden in a chassis."""

    @lru_cache(maxsize=16)
    def make(*faults, chassis="plover-17", seed=1, **said):
        lesson = Lesson(
            title="A lesson",
            level=1,
            aim="Find it.",
            story="It came in.",
            think="Think.",
            chassis=chassis,
            variants=(Variant(faults=faults),),
            circumstances=said,
        )
        return Course(_interview(chassis, lesson.owned), lesson, seed)

    return make
