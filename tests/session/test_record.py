"""What is taken back is said, and nothing else."""

from hypothesis import given
from hypothesis import strategies as st

from backporch.engine.session.entry import Entry, live
from backporch.engine.session.record import Record

STEPS = st.lists(
    st.builds(
        Entry,
        st.sampled_from(["symptom", "answer", "note"]),
        st.sampled_from(["a", "b", "c"]),
        st.sampled_from(["1", "2"]),
        of=st.sampled_from(["", "", "symptom a", "answer b"]),
    ),
    max_size=12,
)


def test_a_correction_that_stands_is_not_said_to_be_taken_back():
    """Undo of a later answer leaves a corrected one out of what it says."""
    record = Record([], lambda _: None)
    for entry in (
        Entry("symptom", "no-raster"),
        Entry("symptom", "no-light", of="symptom no-raster"),
        Entry("answer", "b-plus", "280"),
    ):
        record.keep(entry)

    assert [e.key for e in record.take_back(1)] == ["b-plus"]
    assert [e.key for e in record.take_back(1)] == ["no-light"]
    assert [e.key for e in record.standing] == ["no-raster"]


@given(STEPS, st.integers(1, 4))
def test_what_is_said_to_be_taken_back_no_longer_stands(steps, times):
    """What stands is always that of all entries, and what undo names has left it."""
    saved = []
    record = Record([], saved.append)
    for entry in steps:
        record.keep(entry)
    before = record.standing
    gone = record.take_back(times)

    assert record.standing == live(saved)
    assert all(before.count(e) > record.standing.count(e) for e in gone)
