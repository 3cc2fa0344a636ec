# SPDX-License-Identifier: MIT
"""A lesson while it goes on: what the learner does, what the set answers, what it costs and what it tells.

A run is a value: doing something gives the next run, so that a saved lesson is gone through again act by act
and comes out the same.  The minutes are those of the planner, access and warm-up among them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from backporch.engine.chassis.hypotheses import Hypothesis
from backporch.engine.errors import BadInput, UnknownWord
from backporch.engine.planning.information import test_bits
from backporch.engine.planning.problem import Position, Test
from backporch.engine.safety.gate import Needs
from backporch.engine.safety.state import SafetyState
from backporch.engine.session.assess import Assessment, assess
from backporch.engine.session.danger import safety_state
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview
from backporch.engine.session.needs import needs_of
from backporch.engine.session.patient import Patient
from backporch.engine.session.workbench import Offer
from backporch.engine.training.act import Act
from backporch.engine.training.danger import forbidden_points, judged, needs_of_point
from backporch.engine.training.glow import HEATERS_LOOK, dark_tubes, found_dark
from backporch.engine.training.lesson import Lesson
from backporch.engine.training.run import HINT_MINUTES, Moment, Run
from backporch.engine.training.support import SUPPORT, proved_bad

__all__ = ["BENCH_ACTS", "Course"]

Floats = NDArray[np.float64]

_TURN_MINUTES = 0.1
"""Turning a control again, once its test was made [min]."""
_DISCHARGED = "set-off-discharged"

_USUAL = {
    "condition": "worked-last-week",
    "last-event": "unknown",
    "isolation": "isolated",
    "supply-aid": "full-mains",
    "company": "accompanied",
    "source": "generator",
    "source-proved": "proved",
    "hearing": "hears",
}


class Course:
    """One lesson with one seed, on a workbench of its chassis."""

    def __init__(self, interview: Interview, lesson: Lesson, seed: int) -> None:
        """Hide the fault.

        Args:
            interview: Over the lesson's chassis and bench; its settings are those of the tool's advice.
            lesson: The lesson.
            seed: Picks the variant, the part values and how bad the fault is.
        Raises:
            UnknownWord: a fault or test of the lesson is not one of this chassis.
        """
        self.interview = interview
        self.workbench = interview.workbench
        self.lesson = lesson
        self.seed = seed
        self.variant = lesson.variant(seed)
        self.faults = self.patient().faults
        self.assessed = lru_cache(maxsize=512)(self._assessed)
        for test in self.variant.path:
            if test not in self.workbench.faults.offers:
                raise UnknownWord("test on this chassis", test, self.workbench.faults.offers)

    @cached_property
    def owners(self) -> NDArray[np.str_]:
        """The part or tube that each hypothesis would change, or ""."""
        return np.array([h.owner for h in self.workbench.faults.hypotheses])

    @cached_property
    def forbidden(self) -> dict[str, str]:
        """Points that are never measured, each with the words by which it is asked for."""
        return forbidden_points(self.workbench)

    def patient(self, mended: frozenset[str] = frozenset()) -> Patient:
        """Return the hidden set, with the parts of ``mended`` changed."""
        workbench, known = self.workbench, self.__dict__.setdefault("_patients", {})
        if mended not in known:
            hypotheses = workbench.faults.hypotheses
            known[mended] = Patient(
                workbench.chassis,
                workbench.library,
                hypotheses,
                self.variant.faults,
                self.seed,
                mended,
                meter=workbench.bench.meter,
            )
        found: Patient = known[mended]
        return found

    def start(self) -> Run:
        """Return the lesson before anything was done."""
        return Run(self._opening(frozenset()))

    def _opening(self, mended: frozenset[str], before: Iterable[Entry] = ()) -> tuple[Entry, ...]:
        said = {**_USUAL, **self.lesson.circumstances}
        said |= {e.key: e.value for e in before if e.kind == "circumstance"}
        entries = [Entry("circumstance", key, value) for key, value in said.items()]
        entries += [Entry("repair", part, "renewed") for part in sorted(mended)]
        entries += [Entry("symptom", name) for name in self.patient(mended).symptoms]
        return (*entries, Entry("symptoms-done", ""))

    def _assessed(self, entries: tuple[Entry, ...]) -> Assessment:
        return assess(self.workbench, entries)

    def belief(self, run: Run) -> Floats:
        """Return the probability of each hypothesis by what the learner has seen and measured."""
        return self.assessment(run).ranking.hypotheses

    def assessment(self, run: Run) -> Assessment:
        """Return the ranking by what the learner has seen and measured; what was only done tells nothing."""
        return self.assessed(tuple(e for e in run.entries if e.kind != "act"))

    def support(self, run: Run, part: str) -> float:
        """Return the share that the answers so far give to a part."""
        return float(self.belief(run)[self.owners == part].sum())

    def supported(self, run: Run, part: str) -> bool:
        """Tell whether a part may be named: by the odds of all answers, or by its own direct test."""
        return part in self.proved(run) or self.support(run, part) >= SUPPORT

    def proved(self, run: Run) -> frozenset[str]:
        """Return the parts that a test of their own found bad, and a tube seen to be the only dark one."""
        dark = self.seen_dark(run)
        return proved_bad(run.entries) | frozenset(dark if len(dark) == 1 else ())

    def seen_dark(self, run: Run) -> tuple[str, ...]:
        """Return the tubes that the learner has seen to be dark."""
        return found_dark(run.entries, dark_tubes(self.workbench.chassis, self.patient(run.mended).at()))

    def sought(self, run: Run) -> tuple[str, ...]:
        """Return the faulty parts that are still in the set."""
        return tuple(h.owner for h in self.faults if h.owner not in run.mended)

    def safety(self, run: Run) -> SafetyState:
        """Return the state of the bench as the gate sees it."""
        return safety_state(self.workbench, run.entries)

    def position(self, run: Run) -> Position:
        """Return where the planner would stand."""
        return Position(self.belief(run), frozenset(), run.states, run.power)

    def offer(self, key: str) -> Offer:
        """Return a test of this chassis, or raise :class:`UnknownWord`."""
        offers = self.workbench.faults.offers
        if key not in offers:
            raise UnknownWord("test on this chassis", key, offers)
        return offers[key]

    def title(self, offer: Offer) -> str:
        """Return a test in words, with the part that it is made on."""
        return f"{offer.measurement.title} {offer.target}".rstrip()

    def minutes(self, run: Run, key: str) -> float:
        """Return what a test costs now, the way to it included [min]."""
        test = self._test(key)
        return self.interview.problem.minutes(test, self.position(run))

    @cached_property
    def _index(self) -> dict[str, int]:
        return {test.key: n for n, test in enumerate(self.interview.problem.tests)}

    def _test(self, key: str) -> Test:
        return self.interview.problem.tests[self._index[self.offer(key).id]]

    def answered(self, run: Run, key: str) -> str | None:
        """Return the answer that was already given to a test, or None."""
        return next((e.value for e in run.entries if e.kind == "answer" and e.key == key), None)

    def in_words(self, offer: Offer, answer: str) -> str:
        """Return an answer as a person reads it."""
        return offer.measurement.outcomes.get(answer, answer)

    def _told(self, run: Run, offer: Offer, answer: str) -> str:
        """Return an answer as a person reads it, with the tubes that are seen to be dark."""
        dark = self.seen_dark(run) if offer.id == HEATERS_LOOK else ()
        return ": ".join(filter(None, [self.in_words(offer, answer), ", ".join(dark)]))

    def needs(self, act: Act) -> tuple[Needs, str] | None:
        """Return what an act needs and its words, or None where the gate has nothing to say."""
        if act.kind == "test":
            offer = self.offer(act.key)
            return needs_of(self.workbench, offer), self.title(offer)
        if act.kind == "forbidden":
            return needs_of_point(self.workbench, act.key), self.forbidden[act.key]
        return None

    def cautions(self, run: Run, act: Act) -> tuple[str, ...]:
        """Return the keys of the cautions that come before an act."""
        needed = self.needs(act)
        return judged(*needed, self.safety(run))[0].cautions if needed is not None else ()

    def missing_instruments(self, offer: Offer) -> frozenset[str]:
        """Return the instruments that a test needs and the bench lacks."""
        lacking = frozenset(offer.measurement.instruments) - self.workbench.bench.instruments
        twin = lacking == {"spare-tubes"} and self.workbench.twin_of(offer.target)
        return frozenset() if twin else lacking

    def do(self, run: Run, act: Act) -> Run:
        """Return the run after one more act.

        Raises:
            BadInput: the act is none that can be done here and now; nothing has changed then.
        """
        if run.ending:
            raise BadInput("This lesson has ended.")
        needed = self.needs(act)
        if needed is not None:
            word, unsafe = judged(*needed, self.safety(run))
            if unsafe is not None:
                moment = Moment(act, needed[1], "Stopped: unsafe", clock=run.clock)
                return replace(run, ending="unsafe", unsafe=unsafe, moments=(*run.moments, moment))
            if not word.allowed:
                raise BadInput(f"{word.because} {word.instead}")
            run = replace(run, read=run.read | set(word.cautions))
        if act.kind == "test":
            return self._tested(run, act)
        if act.kind == "bench":
            return self._at_the_bench(run, act)
        if act.kind == "turn":
            return self._turned(run, act)
        if act.kind == "hint":
            return self._noted(run, act, f"Hint {act.key}", HINT_MINUTES[int(act.key)])
        if act.kind == "name":
            return self._named(run, act)
        if act.kind == "give-up":
            return replace(self._noted(run, act, "Given up", 0.0), ending="given-up")
        return self._noted(run, act, "Asked whether the last test could tell anything", 0.0)

    def _noted(self, run: Run, act: Act, title: str, minutes: float, answer: str = "") -> Run:
        clock = run.clock + minutes
        share = max((self.support(run, part) for part in self.sought(run)), default=1.0)
        moment = Moment(act, title, answer, minutes, clock, support=share, before=share)
        return replace(run, clock=clock, moments=(*run.moments, moment))

    def _tested(self, run: Run, act: Act) -> Run:
        offer = self.offer(act.key)
        lacking = self.missing_instruments(offer)
        if lacking:
            names = ", ".join(self.workbench.library.instruments[name].title for name in sorted(lacking))
            raise BadInput(f"This bench lacks: {names}. Choose another test.")
        if self.answered(run, act.key) is not None:
            raise BadInput(f"You know this already: {self.in_words(offer, str(self.answered(run, act.key)))}.")
        test, position = self._test(act.key), self.position(run)
        minutes = self.interview.problem.minutes(test, position)
        bits = float(test_bits(self.interview.problem, position.belief)[self._index[act.key]])
        answer = self.patient(run.mended).answer(offer)
        states, power = self.interview.problem.after(test, position)
        if offer.measurement.kind == "exchange":
            states, power = states - {_DISCHARGED}, "on"
        after = replace(
            run,
            entries=(*run.entries, Entry("answer", act.key, answer)),
            states=states,
            power=power,
            clock=run.clock + minutes,
            positions=(),
        )
        belief = self.belief(after)
        gained = float(np.sum(belief * np.log2(np.maximum(belief, 1e-12) / np.maximum(position.belief, 1e-12))))
        moment = Moment(
            act,
            self.title(offer),
            self._told(after, offer, answer),
            minutes,
            after.clock,
            bits,
            max(gained, 0.0),
            support=max(self.support(after, part) for part in self.sought(run)),
            before=max(self.support(run, part) for part in self.sought(run)),
            known=any(self.supported(after, part) for part in self.sought(run)),
        )
        return replace(after, moments=(*run.moments, moment))

    def _at_the_bench(self, run: Run, act: Act) -> Run:
        """Do what only makes the bench ready; its minutes are counted with the work that follows."""
        if act.key not in BENCH_ACTS:
            raise UnknownWord("bench act", act.key, BENCH_ACTS)
        if act.key == "discharge" and self.safety(run).power != "off":
            raise BadInput("The set still has power. First say: plug out.")
        entry = Entry("act", act.key)
        if act.key == "isolate":
            if self.workbench.chassis.chassis_return == "isolated":
                raise BadInput("The chassis of this set is kept off the mains by its own transformer.")
            entry = Entry("circumstance", "isolation", "isolated")
            run = replace(run, entries=tuple(e for e in run.entries if e.key != "isolation"))
        run = replace(run, entries=(*run.entries, entry))
        return self._noted(run, act, BENCH_ACTS[act.key], 0.0)

    def _turned(self, run: Run, act: Act) -> Run:
        part = self.workbench.chassis.parts.get(act.key)
        if part is None or part.control is None:
            raise UnknownWord(
                "control", act.key, [n for n, p in self.workbench.chassis.parts.items() if p.control]
            )
        offer = self.turning(act.key)
        if offer is not None and self.answered(run, offer) is None:
            run = self.do(run, Act("test", offer))
            if run.ending:
                return run
        where = float(act.value)
        if not 0.0 <= where <= 1.0:
            raise BadInput("A control goes from 0 to 100 %.")
        run = self._noted(run, act, f"{part.control.title} to {where * 100:.0f} %", _TURN_MINUTES)
        return replace(run, positions=((act.key, where),))

    def turning(self, part: str) -> str | None:
        """Return the test that is made by turning a control, or None where there is none."""
        control = self.workbench.chassis.parts[part].control
        wanted = f"turn-{control.title.lower().replace(' ', '-')}" if control else ""
        return wanted if wanted in self.workbench.faults.offers else None

    def stages_hit(self, fault: Hypothesis) -> frozenset[str]:
        """Return the stages in which a fault works: for what hits a whole tube, those of all its sections."""
        tube = self.workbench.chassis.tubes.get(fault.owner)
        twins = [h for h in self.workbench.faults.hypotheses if (h.owner, h.mode) == (fault.owner, fault.mode)]
        if tube is None or len(twins) > 1:
            return frozenset({fault.stage})
        return frozenset(section.stage for section in tube.sections.values())

    def _named(self, run: Run, act: Act) -> Run:
        """Change the part that was named: right and supported goes on to the next fault or ends."""
        repairs = {repair.key: repair for repair in self.interview.problem.repairs}
        if act.key not in repairs:
            raise UnknownWord("part", act.key, repairs)
        position = self.position(run)
        minutes = self.interview.problem.repair_way(repairs[act.key], position)
        left = [h for h in self.faults if h.owner not in run.mended]
        right = any(act.key == h.owner and act.value in self.stages_hit(h) for h in left)
        supported = self.supported(run, act.key)
        told = "right" if right and supported else "right, but not supported by the answers" if right else "wrong"
        run = self._noted(run, act, f"Named {act.key}", minutes, told)
        if not right or not supported:
            return replace(run, ending="unsupported" if right else "wrong")
        mended = run.mended | {act.key}
        if {h.owner for h in self.faults} <= mended:
            return replace(run, ending="found", mended=mended)
        states = (run.states | repairs[act.key].access) - {_DISCHARGED}
        entries = self._opening(mended, run.entries)
        return replace(run, entries=entries, states=states, power="on", mended=mended, positions=())


BENCH_ACTS = {
    "plug-out": "Plug out",
    "discharge": "Filters and picture tube discharged, measured",
    "switch-on": "Plugged in and switched on",
    "isolate": "Set run from an isolating transformer",
}
"""What makes the bench ready, in words."""
