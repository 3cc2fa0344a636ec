"""A horizontal output tube is changed only after its drive was proved."""

from backporch.engine.cli.setup import make_workbench
from backporch.engine.planning.choose import Step
from backporch.engine.session.assess import assess
from backporch.engine.session.entry import Entry
from backporch.engine.session.interview import Interview

SAID = {
    "condition": "worked-last-week",
    "supply-aid": "full-mains",
    "company": "accompanied",
}


class TestOutputTube:
    def test_its_drive_is_read_before_it_is_changed(self):
        """Where the planner would change the output tube, the reading of its drive comes first."""
        workbench = make_workbench("plover-17")
        interview = Interview(workbench)
        entries = [Entry("circumstance", k, v) for k, v in SAID.items()] + [Entry("symptom", "width-too-small")]
        assessment = assess(workbench, entries)
        step = interview._past_the_gate(Step("repair", "V16"), assessment, interview.position(assessment))

        assert step.kind == "test"
        assert step.proves == "V16"

    def test_after_a_good_drive_it_may_be_changed(self):
        """With a healthy bias read at its grid the tube may be changed."""
        workbench = make_workbench("plover-17")
        interview = Interview(workbench)
        entries = [Entry("circumstance", k, v) for k, v in SAID.items()] + [Entry("symptom", "width-too-small")]
        band = workbench.faults.bins("read-line-output-grid")
        entries.append(Entry("answer", "read-line-output-grid", f"{(band.low + band.high) / 2:.1f}"))
        assessment = assess(workbench, entries)
        step = interview._past_the_gate(Step("repair", "V16"), assessment, interview.position(assessment))

        assert (step.kind, step.key) == ("repair", "V16")
