# SPDX-License-Identifier: MIT
"""The pages of a lesson: each method shows one thing that the talk has to say."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from backporch.engine.chassis.offers import Offer
from backporch.engine.chassis.simulator import Result
from backporch.engine.cli.console import drawing_depth, harmless
from backporch.engine.cli.dangers import warned
from backporch.engine.cli.render import Screen, in_sentence
from backporch.engine.errors import BackporchError
from backporch.engine.picture.blocks import picture_lines
from backporch.engine.picture.render import Camera
from backporch.engine.training.choices import Choice
from backporch.engine.training.course import Course
from backporch.engine.training.danger import Unsafe
from backporch.engine.training.lesson import LEVELS
from backporch.engine.training.run import Moment, Run
from backporch.engine.training.seen import figures, rolling, seen_and_heard

__all__ = ["WORDS", "TrainPages"]

_QUIET = "dim"
_MOMENT_S = 0.15
_FRAMED = (-0.03, -0.03, 1.03, 1.03)
_WIDE, _NARROW = 56, 44

WORDS = {
    "any test": "in everyday words: heaters, turn vertical hold, scope on the sawtooth, swap V7, test C26",
    "looks, sounds, controls": "list these tests; also: meter, scope, swaps, part tests",
    "turn ... to ...": "hold a control somewhere and see: turn vertical hold to 70",
    "plug out, discharge": "make the set ready for your hands; also: switch on, isolate",
    "picture": "see the screen again",
    "healthy": "what a good set would show at the last test",
    "so far": "what you know and what it cost",
    "parts": "the stages; parts vertical oscillator: what is in one",
    "hint": "what to think about (1 min); again: which stage (2 min); again: which test (4 min)",
    "why": "why the last test told nothing, or what it told",
    "what is": "explain a term: what is hold",
    "name": "name the faulty part and its stage: name C26 in vertical sync path",
    "give up": "end the lesson and see what it was",
    "quit": "stop here; the same command goes on",
}
"""What may be typed in a lesson, with what it does."""


class TrainPages:
    """What a lesson shows, through one screen."""

    prompt = "> "

    def __init__(self, screen: Screen, course: Course) -> None:
        """Show ``course`` through ``screen``."""
        self._screen = screen
        self._course = course

    def opening(self, name: str, run: Run) -> None:
        """Show which lesson this is, the cautions before anything, and what may be typed."""
        lesson, chassis = self._course.lesson, self._course.workbench.chassis
        self._screen.heading(lesson.title, f"level {lesson.level}: {LEVELS[lesson.level]}")
        self._screen.labelled(
            [
                ("Lesson", f"{name}, seed {self._course.seed}" + (", goes on" if run.moments else "")),
                ("Aim", lesson.aim),
                ("Story", lesson.told(self._course.seed)),
                ("Set", f"{chassis.title}. {self._course.workbench.mains_connection()}"),
            ]
        )
        rows = [("!", caution.say) for caution in self._course.workbench.first_cautions()]
        self._screen.labelled(rows)
        power = "is off at the plug" if self._course.safety(run).power == "off" else "has power"
        self._screen.say(
            f"  The set {power} and somebody is with you. Before your hands or tools go into the set, say so: "
            "plug out, then discharge. The first unsafe step ends the lesson."
        )
        if not run.moments:
            self._screen.say(
                "  Type what you would do, in your own words: do the tubes glow, turn the height, read B+. When "
                "you know the part: name C26. Type help for all the words, ? when you are stuck."
            )

    def lost(self) -> None:
        """Say what somebody can do who does not know how to go on."""
        self._screen.say(
            "  Look and listen first: type looks or sounds for what costs next to nothing. Or type hint: the "
            "first one says what to think about and costs 1 min."
        )

    def picture(self, run: Run) -> None:
        """Show what is seen and heard now, drawn and in words."""
        result = self._course.patient(run.mended).at(dict(run.positions))
        self._screen.console.print()
        for line in self._drawn(result):
            self._screen.console.print(Padding(line, (0, 0, 0, 2)))
        seen, heard = seen_and_heard(self._course.workbench.library, result)
        self._screen.console.print()
        rows = [("You see", line) for line in seen[:1]] + [("", line) for line in seen[1:]]
        rows += [("", line) for line in figures(result)]
        rows += [("You hear", line) for line in heard[:1]] + [("", line) for line in heard[1:]]
        self._screen.labelled(rows)

    def _drawn(self, result: Result) -> list[Text]:
        """Return the screen as lines of text, a moment after the picture began to move."""
        console = self._screen.console
        state = {name: float(np.ravel(values)[0]) for name, values in result.picture.items()}
        depth = drawing_depth(console)
        camera = Camera(standard=self._course.workbench.chassis.standard, time_s=_MOMENT_S, box=_FRAMED)
        columns = _WIDE if console.width >= 90 else _NARROW
        return picture_lines(state, columns=columns, depth=depth, camera=camera)

    def rates(self, run: Run, part: str) -> None:
        """Show the roll as the difference of two rates, where the vertical hold was turned."""
        chosen = self._course.workbench.chassis.parts[part]
        if chosen.stage == "vertical-oscillator" and chosen.role == "hold":
            result = self._course.patient(run.mended).at(dict(run.positions))
            self._screen.say(f"  {rolling(result)}")

    def clock(self, run: Run) -> None:
        """Show the minutes so far."""
        self._screen.say(f"  {run.clock:.1f} min so far. Which test next? (help shows the words)", _QUIET)

    def hits(self, choices: Sequence[Choice], run: Run) -> None:
        """Show the choices that the words found, with their minutes."""
        grid = Table.grid(padding=(0, 2, 0, 0))
        grid.add_column(justify="right", style="bold cyan")
        grid.add_column(ratio=1)
        grid.add_column(justify="right", style=_QUIET, no_wrap=True)
        for number, choice in enumerate(choices, 1):
            minutes = f"{self._minutes(choice, run):.1f} min"
            grid.add_row(str(number), Text(choice.title), minutes)
        self._screen.console.print(Padding(grid, (0, 0, 0, 2)))
        self._screen.say("  Type a number, or other words.", _QUIET)

    def _minutes(self, choice: Choice, run: Run) -> float:
        if choice.act.kind == "test":
            return self._course.minutes(run, choice.act.key)
        like = next(o for o in self._course.workbench.faults.offers.values() if o.measurement.kind == "meter")
        return self._course.minutes(run, like.id)

    def cautions(self, keys: Iterable[str], read: frozenset[str]) -> None:
        """Show the cautions of a step, shortened where they were read."""
        known = [key for key in keys if key in self._screen.library.cautions]
        cautions = self._screen.library.cautions
        rows = [("!", Text(cautions[key].say, style="bold")) for key in known if key not in read]
        short = " ".join(dict.fromkeys(cautions[key].short for key in known if key in read))
        rows += [("!", Text(short))] if short else []
        if rows:
            self._screen.labelled(rows)

    def test(self, offer: Offer, moment: Moment, before: Run) -> None:
        """Show how a test is made and what it answered."""
        measurement, workbench = offer.measurement, self._course.workbench
        states = workbench.library.bench_states
        self._screen.heading(moment.title, f"{moment.minutes:.1f} min, {moment.clock:.1f} in all")
        rows = [("First", states[n].do) for n in measurement.access if n in states and n not in before.states]
        rows.append(("Do", measurement.do.replace("{target}", offer.target)))
        place = workbench.place_of(offer)
        if place:
            rows.append(("Where", place))
        self._screen.labelled(rows)
        shows = "It shows" if measurement.reading is not None else "Answer"
        self._screen.labelled([(shows, Text(moment.answer, style="bold"))])
        if measurement.reading is not None:
            self._screen.say("  Type healthy to see what a good set reads there.", _QUIET)

    def healthy(self, offer: Offer) -> None:
        """Show what a good set shows at a test."""
        expected = self._course.workbench.expected_of(offer)
        text = f"{expected}. {offer.measurement.healthy}" if expected else offer.measurement.healthy
        self._screen.labelled([("Healthy", text)])

    def bench(self, moment: Moment) -> None:
        """Confirm what was done at the bench."""
        later = "" if moment.act.key == "isolate" else " Its minutes are counted with the work that follows."
        self._screen.say(f"  {moment.title}.{later}")

    def hint(self, depth: int, text: str, minutes: float) -> None:
        """Show a hint with its price; one that was given already costs nothing again."""
        self._screen.labelled(
            [
                (f"Hint {depth}", text),
                ("", f"This cost {minutes:g} min." if minutes else "You paid for this hint already."),
            ]
        )

    def told(self, text: str) -> None:
        """Show a paragraph."""
        self._screen.say(f"  {text}")

    def so_far(self, run: Run) -> None:
        """Show what was done, what it answered and what it cost."""
        if not run.moments:
            self._screen.say("  Nothing was done yet.")
            return
        grid = Table.grid(padding=(0, 2, 0, 0))
        for justify in ("right", "left", "left"):
            grid.add_column(justify=justify)
        for moment in run.moments:
            grid.add_row(f"{moment.clock:.1f}", Text(moment.title), Text(moment.answer, style="bold"))
        self._screen.console.print(Padding(grid, (0, 0, 0, 2)))

    def stages(self) -> None:
        """Show the stages of the set."""
        stages = self._course.workbench.library.stages
        names = [s for s in self._course.workbench.chassis.stages if s in stages]
        self._screen.labelled([(stages[s].title, stages[s].summary) for s in names])
        self._screen.say("  The parts of one: parts vertical oscillator.", _QUIET)

    def parts(self, stage: str) -> None:
        """Show the parts of one stage."""
        chassis = self._course.workbench.chassis
        rows = [
            (name, ", ".join(t for t in (part.kind, part.value or "", part.does) if t))
            for name, part in chassis.parts.items()
            if part.stage == stage
        ]
        rows += [
            (name, tube.type)
            for name, tube in chassis.tubes.items()
            if any(section.stage == stage for section in tube.sections.values())
        ]
        self._screen.heading(self._screen.stage_title(stage))
        self._screen.labelled(rows or [("", "No part of its own is listed.")])

    def right(self, part: str) -> None:
        """Say that one fault of two was found."""
        self._screen.say(
            f"  Right: {part} was faulty, and your answers support it. It is changed, and the set runs again."
        )
        self._screen.say("  But it is not well yet. What you read before may be different now.")

    def unsafe(self, unsafe: Unsafe) -> None:
        """Say why the lesson was stopped, in three sentences."""
        self._screen.heading("Stopped: this step is not safe")
        self._screen.labelled([("!", Text(sentence, style="bold")) for sentence in unsafe.sentences])

    def help(self) -> None:
        """Show the words that may be typed."""
        self._screen.labelled(list(WORDS.items()))

    def term(self, word: str) -> None:
        """Explain a term of the trade."""
        term, entry = self._screen.library.term(word)
        also = f" Also called: {', '.join(entry.also)}." if entry.also else ""
        self._screen.say(f"  {term}: {entry.means}.{also}")

    def refused(self, error: BackporchError) -> None:
        """Show why a line was not understood."""
        self._screen.console.print(Padding(Text(str(error)), (0, 0, 0, 2)))

    def warned(self, line: str) -> bool:
        """Answer a line that reports danger or asks for what is never advised; return whether it did."""
        return warned(self._screen, line)

    def echo(self, line: str, *, shown: bool) -> None:
        """Write a line that came from a file or pipe as if it had been typed."""
        if not shown:
            self._screen.console.print(f"{self.prompt}{harmless(line)}")

    def stage_in_sentence(self, stage: str) -> str:
        """Return a stage as it stands inside a sentence."""
        return in_sentence(self._screen.stage_title(stage))
