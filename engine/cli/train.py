# SPDX-License-Identifier: MIT
"""The train command: chooses a lesson, runs the talk, keeps progress, prints the debrief."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from rich.console import Console

from backporch.engine.cli.console import make_console
from backporch.engine.cli.render import Screen
from backporch.engine.cli.setup import make_workbench
from backporch.engine.cli.source import AnswerSource, answer_source
from backporch.engine.cli.train_debrief import result_document, show_debrief
from backporch.engine.cli.train_pages import TrainPages
from backporch.engine.cli.train_talk import TrainTalk
from backporch.engine.errors import BadInput
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.planning.choose import Settings
from backporch.engine.session.interview import Interview
from backporch.engine.training.advice import plans, quickest
from backporch.engine.training.course import Course
from backporch.engine.training.debrief import debrief
from backporch.engine.training.lesson import LEVELS, Ladder, Lesson, load_lessons, shipped_ladder
from backporch.engine.training.notebook import Kept, Notebook
from backporch.engine.training.practice import practice_lesson
from backporch.engine.training.progress import finished_runs, folder_of_run, mastered_lessons, training_folder
from backporch.engine.training.run import Run
from backporch.engine.training.score import result_of

__all__ = ["TrainOptions", "course_of", "ladder_of", "run_train"]


@dataclass(frozen=True)
class TrainOptions:
    """The options of the command line."""

    lesson: str | None = None
    level: int | None = None
    seed: int | None = None
    chassis: str | None = None
    file: Path | None = None
    learner: str = "me"
    answers: Path | None = None
    as_json: bool = False


def run_train(options: TrainOptions) -> int:
    """Run one lesson; return 0, 1 where it ended without a pass, or 2 where the answers end too early.

    Raises:
        BackporchError: something given is wrong; what was done before is on the disk.
    """
    library = shipped()
    ladder = ladder_of(library, options.file)
    kept = _kept(options.learner)
    name, lesson = _chosen(options, ladder, kept)
    seed = options.seed if options.seed is not None else _next_seed(name, kept)
    if seed < 1:
        raise BadInput(f"The seed is {seed}; write a whole number from 1 up.")
    course = course_of(lesson, seed) if lesson is not None else _practice(str(options.chassis), seed)
    source = answer_source(options.answers)
    console = make_console(error=options.as_json)
    if options.as_json and not source.interactive:
        console = Console(quiet=True)
    screen = Screen(console, course.workbench)
    missing = ladder.missing(name, mastered_lessons(ladder, kept)) if name in ladder.lessons else []
    if missing:
        screen.say(f"\n  This lesson builds on some that are not mastered yet: {', '.join(missing)}.", "dim")
    folder = folder_of_run(options.learner, name, seed)
    with Notebook(folder, Kept(name, seed, folder.parent.name)) as notebook:
        return _lesson(screen, course, name, notebook, source, options)


def ladder_of(library: Library, file: Path | None) -> Ladder:
    """Return the shipped lessons, or those of a teacher's file, which may build on the shipped ones."""
    ladder = shipped_ladder(library)
    return ladder if file is None else Ladder(load_lessons(file, library, known=ladder.lessons))


def course_of(lesson: Lesson, seed: int) -> Course:
    """Return a lesson with one seed, ready to begin; a diagnosis would be the careful one."""
    workbench = make_workbench(lesson.set_of(seed), lesson.owned, lesson.lacking)
    return Course(Interview(workbench, Settings(careful=True)), lesson, seed)


def _practice(chassis: str, seed: int) -> Course:
    interview = Interview(make_workbench(chassis), Settings(careful=True))
    return Course(interview, practice_lesson(interview, seed), seed)


def _kept(learner: str) -> list[Kept]:
    folder = training_folder(learner)
    return finished_runs([folder]) if folder.is_dir() else []


def _chosen(options: TrainOptions, ladder: Ladder, kept: Sequence[Kept]) -> tuple[str, Lesson | None]:
    """Return the name of the lesson and the lesson, or None for practice on a chassis."""
    if options.lesson is not None:
        return options.lesson, ladder.lesson(options.lesson)
    if options.chassis is not None:
        return f"practice-{Path(options.chassis).stem.lower()}", None
    done = mastered_lessons(ladder, kept)
    if options.level is not None and options.level not in LEVELS:
        raise BadInput(f"There is no level {options.level}; the levels go from 1 to {len(LEVELS)}.")
    names = ladder.level(options.level) if options.level is not None else list(ladder.lessons)
    if not names:
        raise BadInput("There is no lesson to choose from.")
    due = [name for name in names if name not in done]
    ready = [name for name in due if not ladder.missing(name, done)]
    name = (ready or due or names)[0]
    return name, ladder.lessons[name]


def _next_seed(name: str, kept: Sequence[Kept]) -> int:
    mine = (k for k in kept if k.lesson == name and k.result is not None and k.result.ending != "unsafe")
    used = {k.seed for k in mine}
    return next(seed for seed in count(1) if seed not in used)


def _lesson(
    screen: Screen, course: Course, name: str, notebook: Notebook, source: AnswerSource, options: TrainOptions
) -> int:
    talk = TrainTalk(course, notebook.kept.acts, notebook.keep, source, TrainPages(screen, course))
    ended = talk.talk(name)
    if ended in ("quit", "input-ended"):
        return _stopped(course, name, talk.run, ended, options)
    return _ended(screen, course, name, talk.run, notebook, options)


def _ended(screen: Screen, course: Course, name: str, run: Run, notebook: Notebook, options: TrainOptions) -> int:
    if run.ending == "unsafe":
        return _stopped_unsafe(screen, course, name, run, notebook, options)
    screen.say("\n  Working out how it could have gone ...", "dim")
    known = plans(course)
    tool, best = known[0], quickest(known)
    result = result_of(name, course.seed, run, best.minutes, tool.minutes)
    notebook.end(result)
    told = debrief(course, run, tool)
    show_debrief(screen, course, run, result, told)
    passed = result.passed(course.lesson)
    screen.say(f"\n  {_verdict(course.lesson, passed)}")
    if options.as_json:
        print(json.dumps(result_document(course, name, run, result, told), indent=2, ensure_ascii=False))
    return 0 if passed else 1


_KEPT_HIDDEN = (
    "The lesson ends here and counts as unsafe; safety comes before any score. The fault stays hidden: the same "
    "command begins anew with the same set."
)


def _stopped_unsafe(
    screen: Screen, course: Course, name: str, run: Run, notebook: Notebook, options: TrainOptions
) -> int:
    result = result_of(name, course.seed, run, 0.0, 0.0)
    notebook.end(result)
    screen.say(f"\n  {_KEPT_HIDDEN}")
    if options.as_json:
        document = result_document(course, name, run, None, None)
        document |= {"score": 0, "passed": False, "unsafe": list(run.unsafe.sentences) if run.unsafe else []}
        print(json.dumps(document, indent=2, ensure_ascii=False))
    return 1


def _verdict(lesson: Lesson, passed: bool) -> str:
    if passed and lesson.mastery.runs > 1:
        return (
            f"This run counts. The lesson is mastered after {lesson.mastery.runs} such runs, each on another seed."
        )
    if passed:
        return "This lesson is mastered. Go on with: backporch train"
    return (
        f"Mastered is: right, safe, {lesson.mastery.score} % or more, no hint deeper than "
        f"{lesson.mastery.deepest_hint}. The same command hides it anew on another seed."
    )


def _stopped(course: Course, name: str, run: Run, ended: str, options: TrainOptions) -> int:
    if options.as_json:
        print(json.dumps(result_document(course, name, run, None, None), indent=2, ensure_ascii=False))
    again = ["backporch train"]
    again += ["--chassis", str(options.chassis)] if name.startswith("practice-") else [name]
    again += ["--file", str(options.file)] if options.file is not None else []
    again += ["--seed", str(course.seed)]
    again += ["--learner", options.learner] if options.learner != "me" else []
    what = "The answers end before the lesson does; all" if ended == "input-ended" else "All"
    print(f"{what} is saved. Go on with: {' '.join(again)}", file=sys.stderr)
    return 2 if ended == "input-ended" else 0
