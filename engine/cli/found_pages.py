# SPDX-License-Identifier: MIT
"""What the conversation shows of readings typed as found, corrections, and a fault that comes and goes."""

from __future__ import annotations

from collections.abc import Sequence

from rich.padding import Padding
from rich.text import Text

from backporch.engine.chassis.offers import Offer
from backporch.engine.cli.console import harmless
from backporch.engine.cli.render import Screen
from backporch.engine.errors import BackporchError, BadInput
from backporch.engine.session.described import Described
from backporch.engine.session.found import Found
from backporch.engine.session.interview import Turn
from backporch.engine.session.questions import Question
from backporch.engine.session.reading import TypedReading, read_reading
from backporch.engine.session.wrong_pin import Suspicion

__all__ = ["FoundPages"]

_QUIET = "dim"
_HOW = {"low": "too low", "high": "too high", "": "as it should be"}


class FoundPages:
    """Pages that show what was typed without being asked."""

    prompt = "> "

    def __init__(self, screen: Screen) -> None:
        """Show through ``screen``."""
        self._screen = screen

    def found(self, readings: Sequence[tuple[Found, str]]) -> None:
        """Show how each reading was taken, and what of it is odd on this chassis."""
        rows: list[tuple[str, str | Text]] = [self._row(one, how) for one, how in readings]
        if not rows:
            return
        self._screen.heading("Taken")
        self._screen.labelled(rows)
        odd = [one for one, how in readings if how]
        if any(one.offer for one, _ in readings):
            text = ", ".join(dict.fromkeys(self._place(one)[0] for one in odd))
            self._screen.say(f"  Odd here: {text}." if odd else "  None of these readings is odd here.")

    def _row(self, one: Found, how: str) -> tuple[str, str | Text]:
        workbench = self._screen.workbench
        if one.offer is not None and one.reading is not None and one.offer.measurement.reading is not None:
            shown = one.reading.in_words(one.offer.measurement.reading.unit)
            expected = workbench.expected_of(one.offer)
            name, at = self._place(one)
            text = f"{name}: {shown}, {_HOW[how]}; healthy is {expected}"
            return at, Text(text, style="bold" if how else "")
        if one.symptom:
            return "seen", workbench.library.symptoms[one.symptom].title
        if one.forbidden:
            point = workbench.library.points[one.forbidden]
            return "!", Text(f"Do not measure {one.pin}. {point.because} {point.substitute}", style="bold")
        return "note", f"{one.typed}: nothing is computed for this place; it is kept as a note."

    def _place(self, one: Found) -> tuple[str, str]:
        """Return the name of the point of a reading, and where it is on the chassis."""
        if one.offer is None or one.offer.measurement.reading is None:
            return one.typed, ""
        point = one.offer.measurement.reading.point
        at = self._screen.workbench.chassis.test_points[point].at
        return point.replace("b-plus", "B+").replace("-", " "), at.partition(",")[0]

    def decides(self, turn: Turn) -> None:
        """Show the one test that decides most now."""
        if turn.question is not None and turn.question.kind == "check":
            self._screen.say("  Before any test with power the cold check is finished; it goes on below.")
            return
        if turn.question is None or turn.step is None:
            self._screen.say("  No further test would tell more; the parts in question are listed below.")
            return
        if turn.question.kind == "repair":
            self._screen.say(f"  What decides now: {turn.question.title}")
            return
        target = f" {turn.offer.target}" if turn.offer is not None and turn.offer.target else ""
        self._screen.say(f"  The test that decides most now: {turn.question.title}{target}.")
        self._screen.say(f"  {turn.step.reason}", _QUIET)

    def doubts(self, doubt: Suspicion, reading: TypedReading, question: Question) -> None:
        """Ask before a reading is believed that fits another pin far better."""
        unit = doubt.offer.measurement.reading.unit if doubt.offer.measurement.reading else ""
        expected = self._screen.workbench.expected_of(doubt.offer)
        self._screen.heading(question.title)
        self._screen.say(
            f"  {reading.in_words(unit)} is odd for {doubt.asked}, and just what {doubt.other} should read "
            f"({expected}). Pins are counted from below, clockwise from the key or gap."
        )
        self._screen.options(question.options)

    def answers(self, said: Sequence[Described]) -> None:
        """List the answers that stand, by number."""
        if not said:
            self._screen.say("  There is no answer yet.")
            return
        self._screen.labelled([(f"{n}.", str(one)) for n, one in enumerate(said, 1)])
        self._screen.say("  Write correct and a number to put one right.", _QUIET)

    def asked_again(self, said: Described, question: Question | None) -> None:
        """Show the question of an answer that is to be put right."""
        asked = question is not None and question.kind != "symptoms"
        self._screen.heading(question.title if question and asked else said.about, "to put right")
        self._screen.say(f"  So far: {said.said}. An empty line leaves it so.", _QUIET)
        if question is None:
            self._screen.say("  Write stage, port and what is there: sync separator out good.", _QUIET)
        elif question.options:
            self._screen.options(question.options)
        elif question.kind == "reading":
            self._screen.say(f"  Type what you read, in {question.unit}.", _QUIET)
        else:
            self._screen.say("  Say what it is, or none to strike it out.", _QUIET)

    def unchanged(self) -> None:
        """Say that an answer was left as it was."""
        self._screen.say("  Left as it was.")

    def put_right(self) -> None:
        """Confirm that an answer was put right."""
        self._screen.say("  Put right.")

    def undone(self, gone: Sequence[Described]) -> None:
        """Say which answers were taken back."""
        for one in gone:
            self._screen.say(f"  Taken back: {one}.")
        if not gone:
            self._screen.say("  Taken back.")

    def log(self, lines: Sequence[str]) -> None:
        """Show what the log of a fault that comes and goes says so far."""
        self._screen.labelled([("Log", " ".join(lines))])

    def asleep(self, *, counts: bool) -> None:
        """Say of an answer given while all is well that it clears nothing."""
        if not counts:
            self._screen.say(
                "  Noted. Made while all is well, it clears no stage; only a wrong reading counts.", _QUIET
            )

    def waiting(self, turn: Turn) -> None:
        """Show where to leave the meter, and how to log what happens."""
        self._screen.heading(turn.question.title if turn.question else "")
        rows: list[tuple[str, str | Text]] = []
        if turn.offer is not None:
            workbench = self._screen.workbench
            rows.append(("Read", turn.offer.measurement.title))
            rows.append(("Leave", "the meter clipped on here; plug out and discharged while you clip."))
            rows.append(("Where", workbench.place_of(turn.offer)))
            rows.append(("Healthy", workbench.expected_of(turn.offer)))
            rows.append(("Why", "Of all readings this one splits the suspects best when it happens."))
        rows.append(
            ("Log", "Enter or ! the moment it happens, with the reading behind: ! 62. quiet when it is gone.")
        )
        rows.append(
            ("", "What you do: tap V5, warm, cool, flex, dip, each with where. on 12: switched on 12 min ago.")
        )
        rows.append(("", "skip tests on all the same; what is tested while all is well clears no stage."))
        self._screen.labelled(rows)

    def checked_reading(self, offer: Offer, text: str) -> str:
        """Return a reading as it was typed, once it is understood.

        Raises:
            BadInput: it is no reading in the unit of the offer.
        """
        reading = offer.measurement.reading
        if reading is None:
            raise BadInput(f"{offer.id} takes no reading.")
        read_reading(text, reading.unit)
        return text.strip()

    def term(self, word: str) -> None:
        """Explain a term of the trade."""
        term, entry = self._screen.library.term(word)
        also = f" Also called: {', '.join(entry.also)}." if entry.also else ""
        self._screen.say(f"  {term}: {entry.means}.{also}")

    def refused(self, error: BackporchError) -> None:
        """Show why a line was not understood."""
        self._screen.console.print(Padding(Text(str(error)), (0, 0, 0, 2)))

    def noted(self, but: str = "") -> None:
        """Confirm a note, with what is odd about it."""
        self._screen.say(f"  Noted. {but}".rstrip())

    def echo(self, line: str, *, shown: bool) -> None:
        """Write a line that came from a file or pipe as if it had been typed."""
        if not shown:
            self._screen.console.print(f"{self.prompt}{harmless(line)}")
