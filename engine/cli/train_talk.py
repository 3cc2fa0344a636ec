# SPDX-License-Identifier: MIT
"""The talk of a lesson: understands a line, does it to the hidden set, keeps it, shows what came of it."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from rapidfuzz import fuzz, process

from backporch.engine.cli.source import AnswerSource
from backporch.engine.cli.train_pages import TrainPages
from backporch.engine.errors import BackporchError, BadFile, BadInput, UnknownWord
from backporch.engine.session.questions import plain_words
from backporch.engine.training.act import Act
from backporch.engine.training.advice import proof_of
from backporch.engine.training.choices import KINDS, Choice, Choices
from backporch.engine.training.course import Course
from backporch.engine.training.hints import hint, why_useless
from backporch.engine.training.run import HINT_MINUTES, Run

__all__ = ["TrainTalk"]

_MOST_WRONG = 30
_HELP = {
    "help",
    "h",
    "help me",
    "what can i do",
    "start",
    "where do i begin",
    "how do i begin",
    "what now",
    "menu",
}
_LOST = {
    "i don't know",
    "i dont know",
    "don't know",
    "dont know",
    "not sure",
    "no idea",
    "i'm stuck",
    "stuck",
    "lost",
}
_TURN = re.compile(r"^(?:turn|set|hold)\s+(?:the\s+)?(.+?)\s+(?:to|at)\s+(\d{1,3})\s*(?:%|percent)?$")
_NAME = re.compile(
    r"^(?:i think )?(?:name|it is|it's|its|it must be|fault is)\s+(?:the\s+)?"
    r"([a-z]+\d+)(?:\s*(?:,|in|:)?\s*(?:the\s+)?(.*))?$"
)
_PART_WORDS = re.compile(r"^(?:lift and |lift |test |check )+(?:part )?([a-z]{1,2}\d+)$")
_TUBE_WORDS = re.compile(r"^(?:swap|exchange|change|replace)\s+(?:tube |valve )?(v\d+)$")


class TrainTalk:
    """One lesson from its first line to its end."""

    def __init__(
        self,
        course: Course,
        acts: Sequence[Act],
        keep: Callable[[Act], None],
        source: AnswerSource,
        pages: TrainPages,
    ) -> None:
        """Go on from ``acts``; ``keep`` puts an act on the disk before it returns."""
        self._course = course
        self._choices = Choices(course)
        self._keep = keep
        self._source = source
        self._pages = pages
        self._hits: list[Choice] = []
        self._naming = ""
        self.run = course.start()
        try:
            for act in tuple(acts):
                self.run = course.do(self.run, act)
        except BackporchError as error:
            raise BadFile(
                f"This lesson was begun with other lessons or another version and cannot be gone on with: {error} "
                "Take another --seed."
            ) from error

    def talk(self, name: str) -> str:
        """Talk until the lesson ends; return how: an ending, "quit" or "input-ended"."""
        self._pages.opening(name, self.run)
        self._pages.picture(self.run)
        self._pages.clock(self.run)
        wrong = 0
        while not self.run.ending:
            line = self._source.ask(self._pages.prompt)
            if line is None:
                return "input-ended"
            self._pages.echo(line, shown=self._source.interactive)
            said = self._pages.warned(line)
            try:
                if self._understood(line) == "quit":
                    return "quit"
            except BadInput as error:
                if said:
                    continue
                wrong += 1
                if not self._source.interactive or wrong >= _MOST_WRONG:
                    raise
                self._pages.refused(error)
        return self.run.ending

    def _understood(self, line: str) -> str:
        """Do what a line says; return "quit" where the learner wants to stop."""
        words = plain_words(line).rstrip("?!.").strip()
        if words in ("quit", "exit", "q"):
            return "quit"
        if line.strip() == "?" or words in _LOST:
            self._pages.lost()
            return ""
        if self._naming and words:
            part, self._naming = self._naming, ""
            self._name(part, self._stage(words))
        elif not words:
            self._pages.clock(self.run)
        elif words.isascii() and words.isdigit() and len(words) < 4:
            self._pick(int(words))
        elif not self._shown(words):
            self._hits = []
            if not (self._asked(words) or self._done(words)):
                self._search(line)
        return ""

    def _shown(self, words: str) -> bool:
        """Show what costs nothing; tell whether the words asked for it."""
        if words in _HELP:
            self._pages.help()
        elif words in ("picture", "screen", "look", "look at the picture", "sound"):
            self._pages.picture(self.run)
        elif words in ("so far", "notes", "answers", "minutes"):
            self._pages.so_far(self.run)
        elif words in KINDS:
            self._hits = self._choices.listed(words)
            self._pages.hits(self._hits, self.run)
        elif words in ("parts", "stages"):
            self._pages.stages()
        elif words.startswith("parts "):
            self._pages.parts(self._stage(words.removeprefix("parts ")))
        elif words.startswith(("what is ", "what's ", "whats ")):
            asked = re.sub(r"^(?:what is|what's|whats)\s+(?:(?:the|a|an)\s+)?", "", words)
            self._pages.term(asked)
        elif words in ("healthy", "expected", "what should it be", "good"):
            self._healthy()
        else:
            return False
        return True

    def _asked(self, words: str) -> bool:
        """Give help that may cost minutes; tell whether the words asked for it."""
        found = re.match(r"^hint(?:\s+([123]))?$", words)
        if found:
            given = self.run.hints_since_test
            depth = int(found.group(1) or min(max(given, default=0) + 1, 3))
            text = hint(self._course, self.run, depth)
            price = 0.0 if depth in given else HINT_MINUTES[depth]
            if price:
                self._do(Act("hint", str(depth)))
            self._pages.hint(depth, text, price)
            return True
        if words in ("why", "useless", "why was that useless", "was that useless"):
            text = why_useless(self._course, self.run)
            self._do(Act("useless"))
            self._pages.told(text)
            return True
        return False

    def _done(self, words: str) -> bool:
        """Do what acts on the set or ends the lesson; tell whether the words said so."""
        bench = self._choices.bench_act(words)
        turned, named = _TURN.match(words), _NAME.match(words)
        if bench is not None:
            self._do(bench)
            self._pages.bench(self.run.moments[-1])
        elif turned:
            self._turn(turned.group(1), int(turned.group(2)) / 100)
        elif named:
            part = self._part(named.group(1))
            if named.group(2):
                self._name(part, self._stage(named.group(2)))
            else:
                self._naming = part
                self._pages.told(f"In which stage does {part} work? Type its name.")
        elif words in ("give up", "i give up"):
            self._do(Act("give-up"))
        else:
            return False
        return True

    def _search(self, line: str) -> None:
        words = plain_words(line).rstrip("?!.")
        tested, swapped = _PART_WORDS.match(words), _TUBE_WORDS.match(words)
        if tested:
            part = self._part(tested.group(1))
            self._take(Act("test", proof_of(self._course, self.run, part) or self._made(part)))
            return
        if swapped:
            self._take(Act("test", f"exchange-tube@{self._part(swapped.group(1))}"))
            return
        hits = self._choices.find(line)
        meant = hits[0].act.kind != "forbidden" or words == plain_words(hits[0].title)
        if len(hits) == 1 and meant:
            self._take(hits[0].act)
            return
        self._hits = hits
        self._pages.hits(hits, self.run)

    def _pick(self, number: int) -> None:
        if not 1 <= number <= len(self._hits):
            last = (
                f"The list goes from 1 to {len(self._hits)}." if self._hits else "First say in words what to do."
            )
            raise BadInput(f"There is no line {number}. {last}")
        self._take(self._hits[number - 1].act)

    def _take(self, act: Act) -> None:
        """Make a test, with its cautions first."""
        before = self.run
        self._do(act)
        if self.run.unsafe is not None:
            self._pages.unsafe(self.run.unsafe)
            return
        self._shown_test(before, act.key)

    def _shown_test(self, before: Run, key: str) -> None:
        offer = self._course.offer(key)
        moment = next(m for m in reversed(self.run.moments) if m.act == Act("test", key))
        self._pages.cautions(self._course.cautions(before, Act("test", key)), before.read)
        self._pages.test(offer, moment, before)
        self._pages.clock(self.run)

    def _turn(self, control: str, where: float) -> None:
        titles = {
            part.control.title.lower(): name
            for name, part in self._course.workbench.chassis.parts.items()
            if part.control
        }
        found = process.extractOne(control, titles.keys(), scorer=fuzz.token_set_ratio, score_cutoff=75)
        if found is None:
            raise UnknownWord("control", control, titles)
        part, before = titles[found[0]], self.run
        self._do(Act("turn", part, f"{where:g}"))
        if self.run.unsafe is not None:
            self._pages.unsafe(self.run.unsafe)
            return
        offer = self._course.turning(part)
        if offer is not None and self._course.answered(before, offer) is None:
            self._shown_test(before, offer)
        self._pages.picture(self.run)
        self._pages.rates(self.run, part)
        self._pages.told("Your mark at the control stays: for every other test it is put back there first.")

    def _name(self, part: str, stage: str) -> None:
        before = self.run
        self._do(Act("name", part, stage))
        if not self.run.ending and self.run.mended != before.mended:
            self._pages.right(part)
            self._pages.picture(self.run)
            self._pages.clock(self.run)

    def _healthy(self) -> None:
        last = self.run.last_test
        if last is None:
            raise BadInput("Make a test first; then healthy tells what a good set shows there.")
        self._pages.healthy(self._course.offer(last.act.key))

    def _made(self, part: str) -> str:
        """Return a test of a part that was made already, so that its answer can be told again."""
        tests = (f"{kind}@{part}" for kind in ("part-test", "test-tube", "exchange-tube"))
        return next(test for test in tests if self._course.answered(self.run, test) is not None)

    def _part(self, text: str) -> str:
        chassis = self._course.workbench.chassis
        known = {name.lower(): name for name in (*chassis.parts, *chassis.tubes)}
        if text.lower() not in known:
            raise UnknownWord("part in this set", text.upper(), known.values())
        return known[text.lower()]

    def _stage(self, text: str) -> str:
        """Return the stage that words name: its key, its title, or the nearest title."""
        stages = self._course.workbench.library.stages
        titles = {plain_words(stages[s].title): s for s in self._course.workbench.chassis.stages if s in stages}
        words = text.strip().replace("-", " ")
        keys = {s.replace("-", " "): s for s in self._course.workbench.chassis.stages}
        if words in keys or words in titles:
            return keys.get(words) or titles[words]
        found = process.extractOne(words, [*titles, *keys], scorer=fuzz.WRatio, score_cutoff=80)
        if found is None:
            raise UnknownWord("stage in this set", text, titles)
        return titles.get(found[0]) or keys[found[0]]

    def _do(self, act: Act) -> None:
        """Do an act and keep it; nothing is kept of one that cannot be done."""
        after = self._course.do(self.run, act)
        self._keep(act)
        self.run = after
