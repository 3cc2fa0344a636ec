# SPDX-License-Identifier: MIT
"""The pages of a diagnosis: each method shows one thing that the conversation has to say."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from rich.text import Text

from backporch.engine.chassis.offers import Offer
from backporch.engine.cli.console import percent
from backporch.engine.cli.dangers import say_alarm, say_never
from backporch.engine.cli.found_pages import FoundPages
from backporch.engine.cli.render import in_sentence
from backporch.engine.knowledge.library import Library
from backporch.engine.knowledge.models import NeverAdvised
from backporch.engine.safety.set_facts import unstated
from backporch.engine.session.assess import Assessment
from backporch.engine.session.contradictions import Clash, sign_in_words
from backporch.engine.session.entry import Entry
from backporch.engine.session.held import Held
from backporch.engine.session.interview import Interview, Turn
from backporch.engine.session.meanings import meanings_of
from backporch.engine.session.questions import COMMANDS, Option
from backporch.engine.session.suspects import Suspect, suspects
from backporch.engine.session.workbench import Workbench

__all__ = ["Pages"]

_QUIET = "dim"
_KINDS = {
    "look": "looks with the set on",
    "listen": "listening",
    "control": "controls",
    "meter": "meter readings",
    "scope": "oscilloscope tests",
    "exchange": "tube exchanges",
    "part-test": "part tests",
}


class Pages(FoundPages):
    """What the conversation shows, through one screen."""

    @property
    def workbench(self) -> Workbench:
        """What the session works with."""
        return self._screen.workbench

    @property
    def library(self) -> Library:
        """The knowledge base."""
        return self._screen.library

    def opening(self, name: str, *, resumed: bool) -> None:
        """Show which set this is, how the session is called, and the cautions that come before anything."""
        chassis = self._screen.workbench.chassis
        self._screen.heading(chassis.title, f"session {name}" + (", resumed" if resumed else ""))
        self._screen.say(f"  {self._screen.workbench.mains_connection()}")
        rows = [("!", caution.say) for caution in self._screen.workbench.first_cautions()]
        rows += [("!", text) for text in (unstated(chassis),) if text]
        self._screen.labelled(rows)
        words = ", ".join(COMMANDS)
        self._screen.say(f"  At every prompt: a number or words, ? when not sure, or {words}.", _QUIET)
        self._screen.say("  Readings in any order as you find them: V7 pin 1 62, boost 310.", _QUIET)

    def taken_over(self) -> None:
        """Say that the session file was changed by hand and is taken as it stands now."""
        self._screen.say("  The session file was changed by hand; it is taken as it stands there.")

    @property
    def stage_names(self) -> tuple[str, ...]:
        """The stages of the chassis on the bench."""
        return tuple(self._screen.workbench.chassis.stages)

    def question(self, turn: Turn, standing: Sequence[Entry], interview: Interview) -> None:
        """Show the next question."""
        question = turn.question
        if question is None:
            return
        if question.kind in ("choice", "check"):
            if question.stop:
                self._screen.labelled([("Stop", Text(question.stop, style="bold"))])
            self._screen.choice(question)
            if question.unit:
                self._screen.say(f"  Type what it is, in {question.unit}, with or without the unit.", _QUIET)
            if question.stop:
                self._screen.say("  When that is mended, answer again; or quit, all is saved.", _QUIET)
        elif question.kind == "symptoms":
            self._screen.heading(question.title)
            self._screen.say(f"  {question.help} An empty line ends the list.", _QUIET)
        elif question.kind == "watch":
            self.waiting(turn)
        elif question.kind == "returned" or (question.kind == "repair" and turn.step is None):
            self._screen.choice(question)
        elif question.kind == "repair":
            self._repair(turn)
        elif question.kind == "search":
            self._search(turn)
        else:
            self._measurement(turn, standing, interview)

    def _measurement(self, turn: Turn, standing: Sequence[Entry], interview: Interview) -> None:
        offer, step, question = turn.offer, turn.step, turn.question
        if offer is None or step is None or question is None:
            return
        measurement = offer.measurement
        number = sum(e.kind == "answer" for e in standing) + 1
        target = f" {offer.target}" if offer.target else ""
        self._screen.heading(f"{number}. {question.title}{target}", f"about {step.minutes:.3g} min")
        states = self.library.bench_states
        rows = [("First", states[name].do) for name in turn.way if name in states]
        rows.append(("Do", self._what_to_do(offer)))
        place = interview.workbench.place_of(offer)
        if place:
            rows.append(("Where", place))
        socket = interview.workbench.socket_of(offer)
        if socket:
            rows.append(("", f"{socket}\nseen from the soldering side"))
        if measurement.instruments:
            titles = (self._title_in_hand(name) for name in measurement.instruments)
            rows.append(("With", ", ".join(in_sentence(title) for title in titles)))
        expected = interview.workbench.expected_of(offer)
        rows.append(("Healthy", _healthy(expected, measurement.healthy)))
        if measurement.pitfall != "none":
            rows.append(("Mind", measurement.pitfall))
        rows.append(("Why now", step.reason))
        meanings = meanings_of(interview, turn, standing)
        rows += [("If", line) for line in self._screen.meanings(meanings, offer)]
        self._screen.labelled(rows)
        if question.options:
            self._screen.options(question.options)
        else:
            nearer = " (low is nearer to zero)" if interview.workbench.faults.bins(offer.id).high < 0.0 else ""
            self._screen.say(
                f"  Type what you read, in {question.unit}; low, normal or high if you have no figure{nearer}.",
                _QUIET,
            )

    def _title_in_hand(self, instrument: str) -> str:
        """Return the title of the instrument of this bench that a measurement takes."""
        return self.library.instruments[self._screen.workbench.bench.in_hand(instrument)].title

    def _what_to_do(self, offer: Offer) -> str:
        """Return the steps of a measurement; without a spare, a tube is exchanged with its twin in the set."""
        workbench = self._screen.workbench
        twin = workbench.twin_of(offer.target)
        if offer.measurement.kind == "exchange" and twin and "spare-tubes" not in workbench.bench.instruments:
            return (
                f"Plug out, let it cool, discharge. {offer.target} and {twin} are of one type: exchange them with "
                "each other, straight out and straight in. Plug in, switch on and see whether the fault is gone "
                "or has moved."
            )
        return offer.measurement.do.replace("{target}", offer.target)

    def _repair(self, turn: Turn) -> None:
        question, step, assessment = turn.question, turn.step, turn.assessment
        if question is None or step is None or assessment is None:
            return
        self._conclusion(assessment)
        self._screen.heading(question.title, f"about {step.minutes:.3g} min")
        do = "Plug out, discharged. Change this one part, or lift it and test it; "
        do += _then_run(turn)
        self._screen.labelled([("Do", do)])
        self._screen.options(question.options)

    def _search(self, turn: Turn) -> None:
        """Show the parts that are tested by hand, in their order, and why no test of the set comes first."""
        if turn.question is None or turn.step is None or turn.assessment is None:
            return
        stage, share = turn.assessment.ranking.stages[0]
        self._screen.heading(f"Most likely: {self._screen.stage_title(stage)}, {percent(share)}")
        self._screen.heading(turn.question.title, f"about {turn.step.minutes:.0f} min for all")
        rows = []
        for number, test in enumerate(turn.by_hand, 1):
            text = Text(f"{test.part}  ")
            text.append(f"{percent(test.share)}, about {test.minutes:.3g} min", style="bold")
            text.append(f"\n{test.how}", style=_QUIET)
            rows.append((f"{number}.", text))
        self._screen.labelled(rows)
        do = "Plug out and discharged. Test one after the other and change what tests bad; "
        do += _then_run(turn)
        self._screen.labelled([("Do", do), ("Why now", turn.step.reason)])
        self._screen.options(turn.question.options)

    def _conclusion(self, assessment: Assessment) -> None:
        self._clashes(assessment.clashes)
        stage, share = assessment.ranking.stages[0]
        self._screen.heading(f"Most likely: {self._screen.stage_title(stage)}, {percent(share)}")
        listed = suspects(self._screen.workbench, assessment, most=5)
        self._before(dict.fromkeys(text for one in listed for text in one.before), assessment)
        self._screen.labelled([(f"{n}.", self._suspect_text(s)) for n, s in enumerate(listed, 1)])
        self._screen.say(
            "  Test with the plug out and discharged; where one needs power, cautions and gates stay as they are.",
            _QUIET,
        )

    def _before(self, cautions: Iterable[str], assessment: Assessment) -> None:
        """Show the cautions on what stands below, in short where they were read in full."""
        known = self.library.cautions
        read = {known[e.key].say for e in assessment.entries if e.kind == "caution" and e.key in known}
        short = {caution.say: caution.short for caution in known.values()}
        self._screen.labelled([("!", Text(t, style="bold")) for t in cautions if t not in read])
        rest = " ".join(dict.fromkeys(short[t] for t in cautions if t in read))
        self._screen.labelled([("!", Text(rest))] if rest else [])

    def _suspect_text(self, suspect: Suspect) -> Text:
        text = Text(f"{suspect.title}  ")
        text.append(percent(suspect.share), style="bold")
        text.append(f"\n{suspect.how_to_test}", style=_QUIET)
        return text

    def changed(self, now: Assessment, before: Assessment | None) -> None:
        """Show what the last answer did to the ranking, and what does not go together with an earlier one."""
        self._screen.console.print()
        known = before.clashes if before else ()
        self._clashes([c for c in now.clashes if c not in known])
        self._rig_explains(now, before)
        self._screen.new_findings(now, before)
        self._screen.ranking(now, before)
        self._screen.rivals(now)

    def _clashes(self, clashes: Sequence[Clash]) -> None:
        """Name answers that do not go together."""
        for clash in clashes:
            one, other = (sign_in_words(self.library, sign) for sign in (clash.one, clash.other))
            text = (
                f'"{one}" and "{other}" do not go together. {clash.says} Neither counts until one is taken back.'
            )
            self._screen.labelled([("?", Text(text, style="bold"))])

    def _rig_explains(self, now: Assessment, before: Assessment | None) -> None:
        """Name symptoms that the bench rig accounts for."""
        known = before.symptoms if before else ()
        explains = self._screen.workbench.bench.rig_explains
        for name in now.symptoms:
            if name in explains and name not in known:
                text = f"{self.library.symptoms[name].title}: the rig accounts for it. {explains[name]}"
                self._screen.say(f"  {text} It does not count against the chassis.")

    def ending(self, turn: Turn, standing: Sequence[Entry], interview: Interview) -> None:
        """Show how the diagnosis ended: the part, or the parts that cannot be told apart; and the proof."""
        if turn.assessment is None:
            return
        tests, changes = interview.minutes_spent(standing)
        if turn.ending == "cured":
            part = next(e.key for e in reversed(standing) if e.kind == "repair" and e.value == "cured")
            stage = interview.workbench.stage_of(part, turn.assessment.ranking.hypotheses)
            self._screen.heading(f"Found: {part} in the {in_sentence(self._screen.stage_title(stage))}")
        else:
            self._conclusion(turn.assessment)
            self._screen.say(
                "  Nothing you have tells these apart any better. Test them in this order, one at a time, "
                "with a run in between."
            )
        self._screen.say(f"  Bench time so far: about {tests + changes:.0f} min.", _QUIET)
        self.proof()

    def proof(self) -> None:
        """Show how a repair is proved."""
        self._screen.heading("Prove the repair")
        rows = [(f"{n}.", text) for n, text in enumerate(self.library.proof.values(), 1)]
        self._screen.labelled(rows)

    def after_cold_check(self, stopped: str, name: str) -> None:
        """Show how the cold check ended, and what is replaced on sight and what is not."""
        if stopped == "unfinished":
            self._screen.say("  The cold check is not finished; no power before it is. All answers are saved.")
            return
        if stopped:
            self._screen.labelled([("Stop", Text(stopped, style="bold"))])
            return
        self._screen.heading("The cold check is done")
        self._screen.say(
            "  No short showed; more the lamp does not tell. Full mains next, hand near the plug, one"
        )
        self._screen.say(f"  change at a time: backporch diagnose --session {name}. What to replace:")
        self._screen.labelled(
            list(zip(("On sight", "On suspicion", "Never"), self.library.recapping.values(), strict=True))
        )
        self._screen.say(f"  By part name: backporch recap {self._screen.workbench.chassis.name}", _QUIET)

    def alarm(self, sign: str) -> None:
        """Say first what to do on a sign of danger."""
        say_alarm(self._screen, sign)

    def never(self, found: NeverAdvised | None) -> None:
        """Say of something that is never advised why it is not, and what is advised in its place."""
        say_never(self._screen, found)

    def alarm_stands(self) -> None:
        """Say that a reported sign of danger is not taken back, and what ends it."""
        self._screen.say(
            "  A sign of danger that was reported is not taken back. When its cause is found and mended say: "
            "now mended."
        )

    def check_note(self, check: str, answer: str) -> None:
        """Say what an answer to a cold check means, where something is to be said of it."""
        said = self.library.cold_checks[check].options.get(answer.partition(" = ")[0])
        if said is not None and said.stop and self.library.cold_checks[check].powered:
            self._screen.labelled([("Stop", Text(said.stop, style="bold"))])
        if said is not None and said.note:
            self._screen.say(f"  {said.note}")

    def held_back(self, held: Sequence[Held], told: Collection[str]) -> set[str]:
        """Tell once which useful tests the gate withholds and what to do instead; return what was told now."""
        fresh = [h for h in held if h.check not in told]
        rows = []
        for one in fresh:
            what = ", ".join(_KINDS[kind] for kind in sorted(one.kinds))
            rows.append(("Held back", f"{what}. {one.because}"))
            rows.append(("Instead", one.instead))
        if rows:
            self._screen.console.print()
            self._screen.labelled(rows)
        return {h.check for h in fresh}

    def hits(self, names: Sequence[str]) -> None:
        """Show the symptoms that the typed words found."""
        symptoms = self.library.symptoms
        options = [Option(n, f"{symptoms[n].title}: {symptoms[n].seen}") for n in names]
        self._screen.options(options)
        self._screen.say("  Type the numbers that fit, other words, or an empty line when all is said.", _QUIET)

    def pictures(self, names: Sequence[str], *, pick: bool) -> None:
        """Draw the symptoms that the typed words found, with the numbers that pick them."""
        from backporch.engine.cli.gallery import show_pictures

        show_pictures(self._screen.console, self.library, names, pick=pick)

    def chosen(self, name: str) -> tuple[str, ...]:
        """Confirm a chosen symptom, with its caution first; return the caution's key."""
        symptom = self.library.symptoms[name]
        if symptom.caution:
            caution = self.library.cautions[symptom.caution]
            self._screen.labelled([("!", Text(caution.say, style="bold"))])
        self._screen.say(f"  Noted: {symptom.title}.")
        return (symptom.caution,) if symptom.caution else ()

    def cautions(self, turn: Turn, standing: Sequence[Entry]) -> tuple[str, ...]:
        """Show the cautions of the next step, shortened where they were read; return the keys of new ones."""
        read = {e.key for e in standing if e.kind == "caution"}
        known = [key for key in turn.cautions if key in self.library.cautions]
        fresh = tuple(key for key in known if key not in read)
        rows = [("!", Text(self.library.cautions[key].say, style="bold")) for key in fresh]
        short = [self.library.cautions[key].short for key in known if key in read]
        rows += [("!", Text(" ".join(dict.fromkeys(short))))] if short else []
        if rows:
            self._screen.console.print()
            self._screen.labelled(rows)
        return fresh

    def why(self, turn: Turn, standing: Sequence[Entry], interview: Interview) -> None:
        """Show the reasoning behind the leading stages and behind the question."""
        assessment = turn.assessment
        if assessment is None:
            self._screen.say("  This is asked first because it sets how likely each kind of fault is.")
            return
        chains = assessment.reasons()
        if not chains:
            self._screen.say("  No sign speaks for a stage yet; the order is that of how often parts fail.")
        self._screen.why(chains)
        self._screen.opinions(assessment)
        for line in self._screen.meanings(meanings_of(interview, turn, standing), turn.offer):
            self._screen.say(f"  {line}")
        if turn.offer is not None:
            reading = turn.offer.measurement.reading
            where = f"{self._screen.workbench.chassis.name} {reading.point if reading else ''}".rstrip()
            self._screen.last_of_computation(self._screen.workbench.computation_of(turn.offer), where)

    def diagram(self, turn: Turn) -> None:
        """Show the block diagram of the chassis, with the odds where there are some."""
        from backporch.engine.cli.drawings import show_diagram

        shares = dict(turn.assessment.ranking.stages) if turn.assessment else {}
        show_diagram(self._screen.console, self.library, self.workbench.chassis, shares)

    def stages(self, turn: Turn) -> None:
        """Show every stage."""
        if turn.assessment is None:
            self._screen.say("  No stage is ranked before the symptoms are known.")
        else:
            self._screen.all_stages(turn.assessment)

    def help(self) -> None:
        """Show the words that may be typed."""
        self._screen.labelled([(word, text) for word, text in COMMANDS.items()])

    def stopped(self, turn: Turn, *, input_ended: bool) -> None:
        """Show where things stand when the conversation stops before its end."""
        if input_ended:
            self._screen.say("The answers end here.")
        if turn.assessment is not None:
            self._conclusion(turn.assessment)


def _then_run(turn: Turn) -> str:
    alarmed = "first-run-after-alarm" in turn.cautions
    return "leave the set off until the cause is found." if alarmed else "then run the set and look."


def _healthy(expected: str, told: str) -> str:
    """Join the computed value with what the knowledge base tells, which may only point to the computation."""
    told = told.removeprefix("As computed").lstrip(".,; ") if expected else told
    return ". ".join(part for part in (expected, told[:1].upper() + told[1:]) if part)
