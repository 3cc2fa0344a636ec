"""The texts of the knowledge base fit together, are plain, and advise nothing that hurts."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import get_args

import pytest

from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.observations import OBSERVATIONS, PER_TARGET
from backporch.engine.chassis.roles import POINTS
from backporch.engine.knowledge.library import shipped
from backporch.engine.picture.look import complete_look
from backporch.engine.safety.gate import Needs, gate
from backporch.engine.safety.state import SafetyState
from backporch.engine.units import parse

LIBRARY = shipped()
SYMPTOMS, MEASUREMENTS = LIBRARY.symptoms, LIBRARY.measurements
READINGS = {name: m for name, m in MEASUREMENTS.items() if m.reading is not None}
LOOKS = {name: m for name, m in MEASUREMENTS.items() if m.observe is not None}
KEBAB = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
UNITS = {"dc": "V", "pp": "V", "rms": "V", "ohm": "ohm", "amp": "A", "hz": "Hz"}

FAMILIES = {
    "raster": """no-raster raster-dim single-horizontal-line single-vertical-line single-spot height-too-small
        height-too-large width-too-small width-too-large raster-too-small raster-too-large off-centre-vertically
        off-centre-horizontally raster-tilted keystone-sides keystone-top fold-over-top fold-over-bottom
        fold-over-left fold-over-right top-stretched bottom-stretched left-stretched right-stretched neck-shadow
        retrace-lines blooming defocused brightness-stuck-bright brightness-stuck-dim brightness-pulses ion-burn
        slow-picture""",
    "sync": """picture-rolls picture-rolls-up picture-rolls-down rolls-fast picture-jitters lines-paired lines-tear
        picture-leans bends-at-top picture-weaves floats-sideways split-by-bar both-sync-lost diagonal-bars
        bars-slope-left bars-slope-right line-pulls-with-white hold-drifts hold-at-end loses-lock-with-contrast
        loses-lock-on-channel-change loses-lock-when-warm""",
    "video": """blank-raster-no-snow blank-raster-with-snow picture-weak picture-negative picture-overloaded
        smeared ringing ghost picture-soft picture-snowy hum-bar-one hum-bars-two sound-bars fine-pattern
        white-spots black-spots contrast-no-effect brightness-follows-contrast picture-tube-video-lost
        picture-intermittent""",
    "high-voltage": """no-high-voltage-signs high-voltage-arcing high-voltage-corona fuse-blows-at-once
        fuse-blows-later output-plate-red whistle-missing whistle-wrong rectifier-filament-dark""",
    "heater": """set-dead all-heaters-dark one-heater-dark some-heaters-dark some-bright-some-dark
        heaters-too-bright heaters-flicker slow-start picture-tube-heater-dark tube-blue-haze rectifier-violet""",
    "sound": "sound-good no-sound sound-weak sound-distorted sound-hum sound-buzz sound-crackles",
    "bench": """smoke burning-smell rotten-smell part-very-hot part-burnt worse-when-warm better-when-warm
        changes-when-tapped changes-with-control-touch came-after-moving came-after-work varies-with-channel
        varies-with-mains""",
}
"""What each family must hold for the list of complaints of the trade to be whole."""

WORDS_OF_THE_TRADE = """
    sync, sync tip, raster, retrace, blanking, blanking bar, hold, lock, field, line rate, integrator,
    separator, splitter, clipped, sawtooth, oscillator, phase detector, AFC, AGC, detector, tuner, IF,
    contrast, brightness, B+, B-, boosted B+, rail, reservoir, ripple, decoupling, bypass, electrolytic,
    doubler, half-wave, full-wave, series string, dropper, thermistor, heater, cathode, grid, screen,
    plate, anode, first anode, focus, bias, drive, emission, gassy, leaky, damper, yoke, neck, gun,
    flyback transformer, high voltage, outer coating, mask, top cap, cage, socket, feed-through, tap,
    interlock, isolating transformer, variable transformer, residual-current device, 10x probe, test
    pattern, tolerance, peak to peak, alternating volts, direct volts, reference, common lead, load
    resistor, charging resistor, ring test, shorted turn, secondary, primary, positive modulation,
    carrier, snow, hum, buzz, whistle, spectrum, fold-over, linearity, loop, pilot lamp, metal cone,
    chassis, control, preset, track, choke, continuity
"""
EXPLAINED_AS = {
    "separator": "sync separator",
    "clipped": "clipping",
    "bypass": "bypass capacitor",
    "cage": "high-voltage cage",
    "tap": "mains tap",
    "alternating volts": "alternating voltage",
    "direct volts": "direct voltage",
}


def _texts():
    for name, m in MEASUREMENTS.items():
        yield f"measurement {name}", (m.title, m.do, m.healthy, m.pitfall, *m.outcomes.values())
    for name, s in SYMPTOMS.items():
        yield f"symptom {name}", (s.title, s.seen, *s.unlike.values())
    for name, state in LIBRARY.bench_states.items():
        yield f"state {name}", (state.title, state.do)
    for name, instrument in LIBRARY.instruments.items():
        yield f"instrument {name}", (instrument.title,)
    for name, entry in LIBRARY.glossary.items():
        yield f"term {name}", (entry.means,)


TEXTS = dict(_texts())


def _everything():
    """Give these texts and those of the other files that a person reads."""
    for parts in TEXTS.values():
        yield from parts
    for stage in LIBRARY.stages.values():
        yield f"{stage.title} {stage.summary}"
    for caution in LIBRARY.cautions.values():
        yield caution.say
    for kind in LIBRARY.part_kinds.values():
        yield f"{kind.title} {kind.test} {' '.join(mode.title for mode in kind.modes.values())}"
    for check in LIBRARY.cold_checks.values():
        yield f"{check.ask} {check.do}"


EVERYTHING = " ".join(_everything())


def _sentences(parts):
    return [s for part in parts for s in re.split(r"(?<=[.;:!?]) ", part) if s]


def _guilty(pattern, places):
    """Return the places whose text has the pattern."""
    return [place for place in places if re.search(pattern, " ".join(TEXTS[place]))]


class TestSymptoms:
    @pytest.mark.parametrize("family", FAMILIES)
    def test_each_family_is_whole(self, family):
        """Every complaint that the trade knows in this family has its symptom there."""
        missing = [n for n in FAMILIES[family].split() if n not in SYMPTOMS or SYMPTOMS[n].family != family]

        assert missing == []

    def test_names_are_in_one_style(self):
        """Names of symptoms are small words joined by hyphens."""
        assert [n for n in SYMPTOMS if not KEBAB.fullmatch(n)] == []

    @pytest.mark.parametrize("name", SYMPTOMS)
    def test_what_is_seen_is_one_sentence(self, name):
        """What is seen is said in one sentence of at most thirty words."""
        seen = SYMPTOMS[name].seen

        assert seen.endswith(".")
        assert seen.count(". ") == 0
        assert len(seen.split()) <= 30

    @pytest.mark.parametrize("name", SYMPTOMS)
    def test_everyday_words_are_three_to_eight(self, name):
        """Each symptom has three to eight different everyday phrases of at most ten words."""
        everyday = SYMPTOMS[name].everyday

        assert 3 <= len(set(everyday)) == len(everyday) <= 8
        assert all(0 < len(phrase.split()) <= 10 for phrase in everyday)

    def test_an_everyday_phrase_means_at_most_two_symptoms(self):
        """No everyday phrase stands at more than two symptoms."""
        counts = Counter(phrase for s in SYMPTOMS.values() for phrase in s.everyday)

        assert [phrase for phrase, count in counts.items() if count > 2] == []

    @pytest.mark.parametrize("name", SYMPTOMS)
    def test_look_alikes_are_told_apart(self, name):
        """Each symptom names at least one other known symptom with the difference."""
        unlike = SYMPTOMS[name].unlike

        assert unlike
        assert name not in unlike
        assert set(unlike) <= set(SYMPTOMS)
        assert all(len(difference) > 10 for difference in unlike.values())

    def test_the_three_ways_of_no_picture_are_told_apart(self):
        """No raster, a blank raster and a blank raster with snow each name the other two."""
        three = {"no-raster", "blank-raster-no-snow", "blank-raster-with-snow"}
        named = {name: three & set(SYMPTOMS[name].unlike) for name in three}

        assert named["no-raster"] == three - {"no-raster"}
        assert named["blank-raster-no-snow"] == three - {"blank-raster-no-snow"}
        assert "blank-raster-no-snow" in named["blank-raster-with-snow"]

    def test_cautions_are_known(self):
        """The caution of each symptom is one of the cautions."""
        assert {s.caution for s in SYMPTOMS.values() if s.caution} <= set(LIBRARY.cautions)

    @pytest.mark.parametrize(
        ("names", "caution"),
        [
            ("smoke burning-smell high-voltage-arcing rectifier-violet tube-blue-haze", "smoke-or-arcing"),
            ("single-horizontal-line single-vertical-line single-spot", "screen-burn"),
            ("output-plate-red", "red-plate"),
            ("rotten-smell", "selenium-fumes"),
        ],
    )
    def test_signs_of_danger_bring_their_caution(self, names, caution):
        """A sign of danger is answered by its caution before any question."""
        assert {SYMPTOMS[name].caution for name in names.split()} == {caution}


class TestReferences:
    def test_names_are_in_one_style(self):
        """Names of measurements, states and instruments are small words joined by hyphens."""
        names = [*MEASUREMENTS, *LIBRARY.bench_states, *LIBRARY.instruments]

        assert [n for n in names if not KEBAB.fullmatch(n)] == []

    @pytest.mark.parametrize("name", MEASUREMENTS)
    def test_everything_named_exists(self, name):
        """Stage, states, instruments, hazards and symptoms of a measurement are known."""
        m = MEASUREMENTS[name]

        assert m.stage is None or m.stage in LIBRARY.stages
        assert set(m.access) <= set(LIBRARY.bench_states)
        assert set(m.instruments) <= set(LIBRARY.instruments)
        assert set(m.hazards) <= set(LIBRARY.cautions)
        assert set(m.needs_any) | set(m.first_for) <= set(SYMPTOMS)

    @pytest.mark.parametrize("name", MEASUREMENTS)
    def test_traits_can_come_true(self, name):
        """A trait is one of the chassis or an opening question, and its values are possible ones."""
        for trait, allowed in MEASUREMENTS[name].traits.items():
            field = Chassis.model_fields.get(trait)
            possible = get_args(field.annotation) if field else LIBRARY.opening[trait].options

            assert set(allowed) < set(possible)

    def test_every_state_is_needed(self):
        """Each state of the bench is needed by a test or a change, or is power or proof."""
        needed = {state for m in MEASUREMENTS.values() for state in m.access}
        needed |= {state for kind in LIBRARY.part_kinds.values() for state in kind.access}

        assert set(LIBRARY.bench_states) == needed | {"set-warm", "plug-out", "change-proved"}
        for state in LIBRARY.bench_states.values():
            assert set(state.lost_by) <= set(LIBRARY.bench_states)
            assert set(state.around) <= set(LIBRARY.stages)

    def test_states_that_open_the_set_begin_at_the_plug(self):
        """A state that is reached with the power off says so first, unless it is only the iron."""
        off = {n: s for n, s in LIBRARY.bench_states.items() if s.power == "off" and n != "iron-hot"}

        assert off
        assert [n for n, s in off.items() if not s.do.startswith("Plug out")] == []
        assert [n for n, s in off.items() if "stored-charge" not in s.hazards] == []

    def test_ratings_of_instruments_are_volts(self):
        """Each rating of an instrument is a voltage, and every meter and probe has one."""
        electric = [n for n in LIBRARY.instruments if re.search(r"meter$|probe$|oscilloscope|neon-tester", n)]
        rated = {n for n, i in LIBRARY.instruments.items() if i.max_v and parse(i.max_v, "V") >= 300}

        assert set(electric) - {"energy-meter"} == rated

    @pytest.mark.parametrize("kind", ["meter", "oscilloscope", "soldering-iron", "discharge-lead"])
    def test_the_usual_bench_has_the_usual_things(self, kind):
        """What nearly every bench has counts as there unless told otherwise."""
        assert LIBRARY.instruments[kind].common


class TestMeasurements:
    def test_there_are_enough(self):
        """There are at least ninety measurements and all kinds but repairs are among them."""
        assert len(MEASUREMENTS) >= 90
        assert {m.kind for m in MEASUREMENTS.values()} == {
            "look",
            "listen",
            "control",
            "meter",
            "exchange",
            "scope",
            "part-test",
        }

    @pytest.mark.parametrize("observation", [*OBSERVATIONS, *PER_TARGET])
    def test_every_observation_has_a_measurement(self, observation):
        """Every observation of the virtual chassis is made by some measurement."""
        assert [n for n, m in LOOKS.items() if m.observe == observation]

    @pytest.mark.parametrize("name", LOOKS)
    def test_outcomes_are_those_of_the_observation(self, name):
        """The outcomes of a look are exactly those that the virtual chassis gives, each in words."""
        m = LOOKS[name]
        known = {**OBSERVATIONS, **PER_TARGET}[m.observe]

        assert tuple(m.outcomes) == known
        assert all(words[0].isupper() for words in m.outcomes.values())
        assert len(set(m.outcomes.values())) == len(known)

    @pytest.mark.parametrize("point", POINTS)
    def test_every_point_is_read_unless_it_must_not_be(self, point):
        """Every point has a measurement, except those that no meter may touch."""
        rating = LIBRARY.points.get(point)
        readers = [n for n, m in READINGS.items() if m.reading.point == point]

        assert bool(readers) != (rating is not None and rating.rating == "forbidden")

    @pytest.mark.parametrize("name", LIBRARY.chassis_names())
    def test_every_point_of_a_shipped_chassis_is_read(self, name):
        """All test points of a shipped chassis, heater string and all, have a measurement unless forbidden."""
        from backporch.engine.chassis.load import load_chassis

        forbidden = {n for n, p in LIBRARY.points.items() if p.rating == "forbidden"}
        read = {m.reading.point for m in READINGS.values()}

        assert set(load_chassis(name, LIBRARY).test_points) - forbidden - read == set()

    @pytest.mark.parametrize("name", READINGS)
    def test_readings_are_of_known_points(self, name):
        """A reading is of a known point and a quantity that is there, in the unit of that quantity."""
        reading = READINGS[name].reading
        string = reading.point.startswith("heater-string-")

        assert reading.quantity in (("rms",) if string else POINTS[reading.point])
        assert reading.unit == UNITS[reading.quantity]
        assert READINGS[name].observe is None

    @pytest.mark.parametrize("name", MEASUREMENTS)
    def test_it_says_what_goes_wrong_easily(self, name):
        """Every measurement has a pitfall of its own."""
        pitfall = MEASUREMENTS[name].pitfall

        assert len(pitfall) > 25
        assert pitfall.endswith(".")

    def test_pitfalls_are_specific(self):
        """Hardly any pitfall stands at more than three measurements."""
        counts = Counter(m.pitfall for m in MEASUREMENTS.values())

        assert max(counts.values()) <= 7
        assert len(counts) >= 0.85 * len(MEASUREMENTS)

    @pytest.mark.parametrize("name", MEASUREMENTS)
    def test_a_healthy_set_is_described(self, name):
        """What a healthy set shows is said in words and not left to a figure."""
        healthy = MEASUREMENTS[name].healthy

        assert healthy.endswith(".")
        assert len(healthy) > 14
        assert not healthy.startswith("As computed")

    @pytest.mark.parametrize("name", MEASUREMENTS)
    def test_own_time_is_short_and_nobody_is_always_right(self, name):
        """The own time is at most six minutes, and no observer is trusted beyond 0.96."""
        assert 0.1 < MEASUREMENTS[name].minutes <= 6
        assert MEASUREMENTS[name].reliability <= 0.96

    @pytest.mark.parametrize("name", [n for n, m in MEASUREMENTS.items() if m.kind in ("meter", "scope")])
    def test_steps_name_range_and_contact(self, name):
        """A step with a meter or oscilloscope says how it is set, and contact is made with the plug out."""
        m = MEASUREMENTS[name]

        assert m.do.startswith("Plug out")
        assert re.search(r"range|per division|energy meter|probe", m.do)
        if m.power == "on":
            assert re.search(r"\bplug in, switch on", m.do, re.I)
            assert not re.search(r"switch on.*\b(clip|hook) the", m.do, re.I)

    @pytest.mark.parametrize("name", [n for n, m in MEASUREMENTS.items() if m.kind == "scope"])
    def test_the_oscilloscope_takes_a_divided_signal(self, name):
        """Every step with an oscilloscope uses a probe that divides, and says at which rate to sweep."""
        assert re.search(r"10x probe|100x probe", MEASUREMENTS[name].do)
        assert re.search(r"(line|field|mains) rate", MEASUREMENTS[name].do)

    @pytest.mark.parametrize("name", [n for n, m in MEASUREMENTS.items() if m.power == "off"])
    def test_work_with_the_power_off_begins_at_the_plug(self, name):
        """A step with the power off begins with the plug out and minds what is still charged."""
        m = MEASUREMENTS[name]

        assert m.do.startswith("Plug out")
        assert "discharge" in m.do
        assert "stored-charge" in m.hazards

    def test_tracing_has_both_ends_of_most_signal_stages(self):
        """Each stage along the signal that can be looked at has an output, and most have an input too."""
        ends = {(m.stage, m.port) for m in MEASUREMENTS.values() if m.port}
        out = {stage for stage, port in ends if port == "out"}

        assert {"video-detector", "video-output", "sync-separator", "sync-amplifier", "vertical-integrator"} <= out
        assert {"video-output", "sync-separator", "sync-amplifier", "vertical-output"} <= {
            s for s, p in ends if p == "in"
        }


class TestTheWayOfTheTrade:
    def test_the_blanking_bar_is_the_first_look_at_sync(self):
        """After a sync complaint in which the picture moves or is torn the blanking bar is looked at first."""
        first = set(MEASUREMENTS["look-at-the-blanking-bar"].first_for)

        assert {
            "picture-rolls",
            "picture-rolls-up",
            "picture-rolls-down",
            "both-sync-lost",
            "diagonal-bars",
        } <= first
        assert [n for n, m in MEASUREMENTS.items() if m.first_for] == ["look-at-the-blanking-bar"]

    @pytest.mark.parametrize("name", ["clamp-the-agc", "ground-the-afc-line"])
    def test_loops_can_be_opened(self, name):
        """The AGC can be clamped and the AFC line grounded; each is set up with the plug out."""
        assert MEASUREMENTS[name].do.startswith("Plug out")

    @pytest.mark.parametrize("name", ["clamp-the-agc", "ground-the-afc-line"])
    def test_loops_are_not_opened_on_a_live_chassis(self, name):
        """A clip inside a mains-connected set waits for an isolating transformer, whatever its kind of step."""
        m = MEASUREMENTS[name]
        step = Needs(name, m.kind, m.power, frozenset(m.hazards), frozenset(m.access), frozenset(m.instruments))
        ready = SafetyState(
            chassis_return="one-mains-leg",
            envelope="glass",
            high_voltage_source="flyback",
            isolation="isolated",
            supply_aid="full-mains",
            company="accompanied",
            cold_check_due=False,
        )

        assert gate(step, ready).allowed
        assert gate(step, replace(ready, isolation="direct")).check == "live-chassis"

    def test_a_second_source_waits_for_isolation(self):
        """A second source is not joined to a chassis that hangs on the mains."""
        m = MEASUREMENTS["exchange-the-source"]
        step = Needs(
            "source", m.kind, m.power, frozenset(m.hazards), frozenset(m.access), frozenset(m.instruments)
        )
        live = SafetyState("doubler-leg", isolation="direct", supply_aid="full-mains", cold_check_due=False)

        assert not gate(step, replace(live, envelope="glass", high_voltage_source="flyback")).allowed
        assert gate(
            step, replace(live, envelope="glass", high_voltage_source="flyback", isolation="isolated")
        ).allowed

    def test_drive_that_was_proved_with_the_screen_lifted_counts(self):
        """Both readings with the screen feed lifted count as proof of the drive, as the two others do."""
        from backporch.engine.session.danger import DRIVE_PROOFS

        of_the_grid = {n for n, m in READINGS.items() if m.reading.point == "horizontal-output-grid"}

        assert set(DRIVE_PROOFS) == of_the_grid

    def test_the_whistle_is_asked_only_of_who_can_hear_it(self):
        """Who cannot hear the whistle is never asked for it, and is offered another way."""
        ways = {m.traits["hearing"] for m in LOOKS.values() if m.observe == "whistle-listen"}

        assert ways == {("hears",), ("deaf-to-it",)}

    def test_drive_can_be_proved_without_current(self):
        """The drive of the horizontal output tube can be read with its screen feed lifted, put back afterwards."""
        lifted = {n: m for n, m in MEASUREMENTS.items() if "output-screen-lifted" in m.access}

        assert {m.reading.quantity for m in lifted.values()} == {"dc", "pp"}
        assert all("solder the screen feed back" in m.pitfall for m in lifted.values())

    @pytest.mark.parametrize("name", [n for n, m in READINGS.items() if m.reading.point in LIBRARY.points])
    def test_rated_points_are_read_with_rated_instruments(self, name):
        """A point with a rating is read only with an instrument of at least that rating."""
        m = READINGS[name]
        rated = LIBRARY.points[m.reading.point]
        takes = max(parse(LIBRARY.instruments[i].max_v or "0 V", "V") for i in m.instruments)

        assert rated.rating == "rated"
        assert takes >= rated.rated_v

    def test_the_anode_voltage_is_read_with_a_high_voltage_probe_alone(self):
        """The only instrument of the anode reading is the high-voltage probe, hung with the set discharged."""
        m = MEASUREMENTS["read-anode-voltage"]

        assert m.instruments == ("high-voltage-probe",)
        assert "set-off-discharged" in m.access
        assert m.do.startswith("Plug out, discharged")

    @pytest.mark.parametrize("name", [n for n in READINGS if re.search("line-output-(grid|screen)", n)])
    def test_the_output_tube_is_read_under_the_danger_of_high_voltage(self, name):
        """Readings beside the top cap of the output tube name the high voltage as a danger."""
        assert "high-voltage" in MEASUREMENTS[name].hazards

    def test_exchange_names_the_exact_type(self):
        """An exchange asks for the exact type, the bias read first, and the set cooled and discharged."""
        m = MEASUREMENTS["exchange-tube"]

        assert "exact same type" in m.do
        assert "let it cool, discharge" in m.do
        assert "read bias and supply" in m.pitfall


class TestWords:
    def test_sentences_are_short(self):
        """No sentence or part of one between stops is longer than twenty-nine words."""
        long = [place for place, parts in TEXTS.items() if max(len(s.split()) for s in _sentences(parts)) > 29]

        assert long == []

    def test_nothing_is_called_safe_or_dead(self):
        """No text says that something is safe, dead or harmless."""
        assert _guilty(r"(?i)\b(safe|safely|dead|harmless)\b", TEXTS) == []

    def test_the_words_are_american(self):
        """Texts use our own terms; the British ones stand in the glossary alone."""
        british = r"\b(valve|EHT|HT|LOPT|timebase|scan coils|condenser|variac|brilliance)\b"

        assert _guilty(british, [p for p in TEXTS if not p.startswith("term")]) == []

    @pytest.mark.parametrize("shorthand", [r"e\.g\.", r"i\.e\.", "approx", r"\betc\b", "&", "  "])
    def test_no_shorthand(self, shorthand):
        """Texts have no shorthand and no doubled spaces."""
        assert _guilty(shorthand, TEXTS) == []

    @pytest.mark.parametrize("word", " ".join(WORDS_OF_THE_TRADE.split()).split(", "))
    def test_words_of_the_trade_are_used_and_explained(self, word):
        """Each word of the trade on the list is used in the texts and explained in the glossary."""
        assert re.search(rf"(?<![\w-]){re.escape(word)}", EVERYTHING, re.I)
        assert LIBRARY.term(EXPLAINED_AS.get(word, word))


class TestGlossary:
    def test_each_name_leads_to_one_term(self):
        """No name, whether a term or another word for one, stands twice."""
        names = [n.lower() for term, e in LIBRARY.glossary.items() for n in (term, *e.also)]

        assert [name for name, count in Counter(names).items() if count > 1] == []

    @pytest.mark.parametrize(
        ("british", "american"),
        [
            ("EHT", "high voltage"),
            ("HT", "B+"),
            ("valve", "tube"),
            ("LOPT", "flyback transformer"),
            ("frame timebase", "vertical"),
            ("efficiency diode", "damper"),
            ("scan coils", "yoke"),
            ("aerial", "antenna"),
            ("flywheel sync", "AFC"),
            ("condenser", "capacitor"),
        ],
    )
    def test_british_names_lead_to_ours(self, british, american):
        """A British word is explained under the American term."""
        assert LIBRARY.term(british)[0] == american

    @pytest.mark.parametrize("term", LIBRARY.glossary)
    def test_a_term_is_not_explained_by_itself(self, term):
        """An explanation is plain, has no full stop of its own, and does not begin with the term."""
        means = LIBRARY.glossary[term].means

        assert 15 < len(means) < 160
        assert not means.endswith(".")
        assert not means.lower().startswith(term.lower() + " ")


class TestGallery:
    def test_every_symptom_of_the_screen_is_drawn(self):
        """Each raster, sync and video symptom has a drawing, and nothing else has."""
        seen = {n for n, s in SYMPTOMS.items() if s.family in ("raster", "sync", "video")}

        assert set(LIBRARY.gallery) == seen

    @pytest.mark.parametrize("name", LIBRARY.gallery)
    def test_drawings_name_quantities_that_exist(self, name):
        """A drawing's looks use quantities of the picture state, and shots of a row say what differs."""
        drawn = LIBRARY.gallery[name]
        for look in [s.look for s in drawn.shots] + ([drawn.film.look] if drawn.film else []):
            complete_look(look)

        assert all(shot.caption for shot in drawn.shots[1:])
