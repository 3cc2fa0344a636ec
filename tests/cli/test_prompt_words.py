"""The words that may be typed at every prompt: correct, undo, photo, repaired, watch, and readings as found."""

import json

import pytest

from backporch.engine.cli.setup import make_workbench

OPENING = ["worked-last-week", "unknown", "full-mains", "accompanied", "generator", "proved"]
ROLLING = [*OPENING, "picture-rolls-up", ""]


@pytest.fixture
def said(run):
    """Run a session with these lines; give the answers that stand, and the document."""

    def go(*lines, name="one"):
        _, out, _ = run("diagnose", "--session", name, "--json", lines=lines)
        document = json.loads(out)
        kept = [e for e in document["answers"] if e["kind"] not in ("caution", "resumed")]
        return [(e["kind"], e.get("key", ""), e.get("value", "")) for e in kept], document

    return go


class TestCorrecting:
    def test_lists_the_answers_by_number(self, run):
        """Correct alone shows every answer in words with its number."""
        _, out, _ = run("diagnose", lines=[*ROLLING, "sync-darker", "correct", "quit"])

        assert "7. Picture rolls upward: seen" in " ".join(out.split())
        assert "8. Look at the blanking bar: " in " ".join(out.split())

    @pytest.mark.parametrize("lines", [["correct 8", "same-grey"], ["correct 8 same-grey"]])
    def test_puts_an_earlier_answer_right_in_its_place(self, said, lines):
        """A corrected answer stands where the wrong one stood; the ranking is as if it had been right at once."""
        wrong, corrected = said(*ROLLING, "sync-darker", *lines, name="wrong")
        right, at_once = said(*ROLLING, "same-grey", name="right")

        assert [e for e in wrong if e[0] == "answer"] == [e for e in right if e[0] == "answer"]
        assert corrected["stages"] == at_once["stages"]

    def test_a_symptom_is_struck_out(self, said):
        """None strikes out a symptom that is not there after all."""
        entries, _ = said(*OPENING, "picture-rolls-up", "no-sound", "", "correct 8 none")

        assert ("symptom", "no-sound", "no") in entries

    def test_a_skipped_question_gets_its_answer(self, said):
        """What was left out can be answered later."""
        entries, _ = said(*ROLLING, "skip", "correct 8 sync-darker")

        assert ("answer", "look-at-the-blanking-bar", "sync-darker") in entries
        assert not any(kind == "skip" for kind, _, _ in entries)

    @pytest.mark.parametrize("word", ["correct 99", "correct 0", "undo 0"])
    def test_a_number_that_is_not_there_is_refused(self, run, word):
        """Numbers out of range are refused with the range."""
        code, _, err = run("diagnose", lines=[*ROLLING, word])

        assert code == 2
        assert "Write" in err

    def test_undo_goes_back_as_far_as_asked(self, said):
        """Undo with a number takes back so many answers, and all of them if asked."""
        entries, document = said(*ROLLING, "sync-darker", "undo 100")

        assert entries == []
        assert document["next"]["id"] == "condition"


class TestRepairs:
    def test_a_repair_that_cured_part_of_it_goes_on_with_what_remains(self, said):
        """After a part that was bad, what is seen is asked anew and the part is not proposed again."""
        entries, document = said(*ROLLING, "sync-darker", "repaired C26", "partly")

        assert ("repair", "C26", "partly") in entries
        assert document["next"]["id"] == "symptoms"

    def test_repaired_is_understood_in_the_middle_of_the_questions(self, said):
        """Repaired with a colon and small letters works before anything was seen."""
        entries, document = said(*OPENING, "repaired: c26", "cured")

        assert ("repair", "C26", "cured") in entries
        assert document["ended"] == "cured"

    def test_not_cured_puts_the_last_change_right(self, said):
        """A change that was said to have cured part of it is taken as in vain."""
        entries, document = said(*ROLLING, "repaired C26", "partly", "not cured")

        assert ("repair", "C26", "not-cured") in entries
        assert document["next"]["id"] != "symptoms"

    def test_a_cured_session_whose_fault_returns_goes_on(self, said):
        """Next spring the same session goes on where the cure was thought to be."""
        said(*ROLLING, "sync-darker", "repaired C26", "cured")
        entries, document = said("not-cured")

        assert ("repair", "C26", "not-cured") in entries
        assert document["next"]["id"] != "C26"

    def test_only_looking_at_a_cured_session_leaves_it(self, said):
        """A cured session that is only looked at stays cured."""
        said(*ROLLING, "sync-darker", "repaired C26", "cured")
        _, document = said()

        assert document["ended"] == "cured"

    @pytest.mark.parametrize(
        ("line", "told"), [("repaired C266", "Did you mean"), ("repaired C26 C27", "One part")]
    )
    def test_a_wrong_part_is_told(self, run, line, told):
        """A part that is not there, or two at once, are refused."""
        code, _, err = run("diagnose", lines=[*ROLLING, line])

        assert code == 2
        assert told in err


class TestKeeping:
    def test_note_and_photo_are_kept_and_change_nothing(self, said):
        """A note and the place of a photo are kept with the session."""
        plain, before = said(*ROLLING, name="plain")
        entries, after = said(*ROLLING, "note plug is loose", "photo below/one.jpg", name="noted")

        assert entries[-2:] == [("note", "", "plug is loose"), ("photo", "", "below/one.jpg")]
        assert before["stages"] == after["stages"]
        assert len(entries) == len(plain) + 2


class TestAsFound:
    def test_readings_are_taken_at_any_prompt(self, said):
        """A line of readings at the question for symptoms is taken, and the question stays."""
        entries, document = said(*OPENING, "V11 pin1 40, boost 310, hold at its end")

        assert ("answer", "read-separator-plate", "40") in entries
        assert ("answer", "read-boosted-b-plus", "310") in entries
        assert ("symptom", "hold-at-end", "") in entries
        assert document["next"]["id"] == "symptoms"

    def test_says_what_is_odd_and_what_decides(self, run):
        """The answer to readings is what is odd, and which one test decides."""
        _, out, _ = run("diagnose", lines=[*ROLLING, "V11 pin1 40, b+ 280"])
        text = " ".join(out.split())

        assert "40 V, too low" in text
        assert "Odd here: sync separator plate." in text
        assert "The test that decides most now: " in text

    @pytest.mark.parametrize(
        ("answer", "kept"), [("there", "read-separator-plate"), ("here", "read-separator-grid"), ("again", "")]
    )
    def test_asks_before_it_believes_a_reading_of_the_next_pin(self, said, answer, kept):
        """A reading that fits another pin of the tube is kept where the person says the probe was."""
        band = make_workbench("plover-17").faults.bins("read-separator-plate")
        entries, _ = said(*ROLLING, f"V11 pin 2 {(band.low + band.high) / 2:.4g}", answer)

        assert [key for kind, key, _ in entries if kind == "answer"] == ([kept] if kept else [])


class TestWatching:
    def test_one_key_marks_it_and_the_reading_left_in_place_counts(self, said):
        """While waiting an empty line marks that it happens; a reading behind ! is kept for the place named."""
        entries, document = said(*ROLLING, "watch", "on 12", "tap V13", "", "quiet", "! 150")
        kinds = [e[:2] for e in entries]

        assert kinds.count(("circumstance", "moment")) == 4
        assert ("watch", "tap", "V13") in entries
        assert ("symptom", "changes-when-tapped", "") in entries
        assert entries[-1][0] == "answer"
        assert document["next"]["id"] != "watch"

    def test_the_reading_may_come_after_the_moment_was_marked(self, said):
        """Who marks the moment first and then looks at the meter left in place says what it showed behind !."""
        entries, _ = said(*ROLLING, "watch", "!", "! 150")

        assert (entries[-1][0], entries[-1][2]) == ("answer", "150")

    def test_says_where_to_leave_the_meter(self, run):
        """Waiting begins with the place at which the meter tells most."""
        _, out, _ = run("diagnose", lines=[*ROLLING, "watch", "quit"])

        assert "splits the suspects best" in " ".join(out.split())

    def test_a_test_made_meanwhile_is_said_to_clear_nothing(self, run):
        """Who tests while all is well is told what it is worth."""
        _, out, _ = run("diagnose", lines=[*ROLLING, "watch", "skip", "sync-darker", "quit"])

        assert "it clears no stage" in " ".join(out.split())
