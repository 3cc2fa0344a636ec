"""Runs on disk: kept act by act, read again, compared."""

import pytest

from backporch.engine.errors import BadFile
from backporch.engine.training.act import Act
from backporch.engine.training.notebook import FILE, Kept, Notebook, read_run
from backporch.engine.training.progress import as_csv, finished_runs, folder_of_run, training_folder
from backporch.engine.training.score import Result

ACTS = [Act("test", "read-b-plus"), Act("turn", "P4", "0.7"), Act("name", "C26", "vertical-integrator")]
RESULT = Result("a-lesson", 2, "found", 93, 21.5, 20.0, 21.0, 1, 1, 6, 2, "")


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    """A folder of its own."""
    monkeypatch.setenv("BACKPORCH_HOME", str(tmp_path / "home"))


def _run(learner="ann", result=RESULT):
    folder = folder_of_run(learner, "a-lesson", 2)
    with Notebook(folder, Kept("a-lesson", 2, learner)) as notebook:
        for act in ACTS:
            notebook.keep(act)
        if result is not None:
            notebook.end(result)
    return folder


class TestNotebook:
    def test_what_was_kept_is_read_again(self):
        """Acts and result come back as they were."""
        kept = read_run(_run() / FILE)

        assert (kept.acts, kept.result) == (ACTS, RESULT)

    def test_a_run_that_goes_on_is_opened_again(self):
        """A lesson that was left is gone on with; one that has ended begins anew."""
        left = _run(result=None)

        assert folder_of_run("ann", "a-lesson", 2) == left
        with Notebook(left, Kept("a-lesson", 2, "ann")) as notebook:
            assert notebook.kept.acts == ACTS
            notebook.end(RESULT)
        assert folder_of_run("ann", "a-lesson", 2) != left

    def test_a_run_is_open_once(self):
        """Two programs cannot write one run."""
        folder = folder_of_run("ann", "a-lesson", 2)

        with Notebook(folder, Kept("a-lesson", 2, "ann")), pytest.raises(BadFile, match="open in another program"):
            Notebook(folder, Kept("a-lesson", 2, "ann"))

    @pytest.mark.parametrize("text", ["", "[]", "{", '{"schema": 1}', '{"schema": 1, "acts": [{"kind": "x"}]}'])
    def test_a_damaged_run_is_said_to_be_so(self, text):
        """A file that is no run is named, with what to do."""
        path = _run() / FILE
        path.write_text(text)

        with pytest.raises(BadFile, match="Remove its folder"):
            read_run(path)


class TestClass:
    def test_runs_of_several_learners_make_one_table(self):
        """The runs of a class stand in one table, one line each."""
        _run("ann"), _run("bob")
        table = as_csv(finished_runs([training_folder("ann").parent])).splitlines()

        assert table[0].startswith("learner,ended,lesson,seed,ending,score,minutes")
        assert [line.split(",")[0] for line in table[1:]] == ["ann", "bob"]

    def test_a_run_that_goes_on_is_left_out(self):
        """Only what has ended is compared."""
        _run("ann", result=None)

        assert finished_runs([training_folder("ann")]) == []
