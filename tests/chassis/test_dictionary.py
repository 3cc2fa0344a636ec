"""The fault dictionary: probabilities, readings, cache."""

from __future__ import annotations

import multiprocessing
import os
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from backporch.engine.chassis.cache import cached_tables, healthy_values
from backporch.engine.chassis.dictionary import Dictionary
from backporch.engine.chassis.kernel import WIDTH
from backporch.engine.chassis.load import load_chassis
from backporch.engine.chassis.model import Chassis
from backporch.engine.chassis.tables import Tables, build_tables
from backporch.engine.errors import UnknownWord
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.knowledge.models import Measurement


@dataclass(frozen=True)
class Reading:
    """A reading in the shape that the session gives."""

    shape: str
    low: float
    high: float
    wandering: bool = False


def value(number: float) -> Reading:
    """Return a plain reading."""
    return Reading("value", number, number)


def measurement(**fields: object) -> Measurement:
    """Return a measurement with only what matters here."""
    rest = {"title": "x", "minutes": "1", "power": "on", "do": "x", "healthy": "x", "pitfall": "none"}
    return Measurement.model_validate({**rest, **fields})


@pytest.fixture(scope="module")
def library() -> Library:
    """Give the knowledge base with a few measurements of its own."""
    found = shipped()
    found.__dict__["measurements"] = {
        "b-plus": measurement(kind="meter", reading={"point": "b-plus", "quantity": "dc", "unit": "V"}),
        "output-grid": measurement(
            kind="meter", reading={"point": "vertical-output-grid", "quantity": "dc", "unit": "V"}
        ),
        "bar": measurement(kind="look", observe="blanking-bar", outcomes={"sync-darker": "x"}),
        "tube": measurement(kind="exchange", observe="exchange-tube", outcomes={"cured": "x"}),
        "part": measurement(kind="part-test", observe="part-test", outcomes={"bad": "x"}),
        "doubler": measurement(kind="look", observe="heaters-look", traits={"supply": ["series-string"]}),
    }
    return found


@pytest.fixture(scope="module")
def plover(library: Library) -> Chassis:
    """Give the first receiver."""
    return load_chassis("plover-17", library)


@pytest.fixture(scope="module")
def tables(plover: Chassis, library: Library) -> Tables:
    """Simulate all its faults once."""
    return build_tables(plover, library)


@pytest.fixture(scope="module")
def dictionary(plover: Chassis, library: Library, tables: Tables) -> Dictionary:
    """Give its dictionary."""
    return Dictionary(plover, library, tables)


def place(dictionary: Dictionary, name: str) -> int:
    """Return the index of a hypothesis."""
    return [h.id for h in dictionary.hypotheses].index(name)


class TestHypotheses:
    """Parts, modes and something unlisted."""

    def test_every_stage_has_something_unlisted(self, dictionary: Dictionary, plover: Chassis) -> None:
        """Each stage can be right while the part is unknown."""
        unlisted = {h.stage for h in dictionary.hypotheses if not h.part}

        assert set(plover.stages) == unlisted

    def test_no_stage_holds_much_more_than_a_tenth(self, dictionary: Dictionary) -> None:
        """The hypotheses are spread over the stages."""
        stages = [h.stage for h in dictionary.hypotheses]
        largest = max(stages.count(stage) for stage in set(stages))

        assert largest <= 0.105 * len(stages)

    def test_renewed_parts_are_suspected_less(self, dictionary: Dictionary) -> None:
        """Recapping lowers paper leakage and raises errors of wiring."""
        old = dictionary.prior("worked-last-week", "unknown")
        new = dictionary.prior("partly-recapped", "unknown", frozenset({"paper capacitor"}))
        leaky, wrong = place(dictionary, "C36:leaky"), place(dictionary, "C36:wrong-value")

        assert new[leaky] < 0.1 * old[leaky]
        assert new[wrong] > 10 * old[wrong]

    def test_priors_sum_to_one(self, dictionary: Dictionary) -> None:
        """Probabilities of all hypotheses together are one."""
        assert np.isclose(dictionary.prior("never-powered", "moved").sum(), 1.0)

    def test_unknown_condition_is_refused(self, dictionary: Dictionary) -> None:
        """An unknown condition is said with the nearest right one."""
        with pytest.raises(UnknownWord, match="never-powered"):
            dictionary.prior("never-power", "unknown")


class TestAnswers:
    """What answers say of hypotheses."""

    def test_offers_follow_the_traits(self, dictionary: Dictionary) -> None:
        """A measurement for other chassis is not offered, one per tube is offered for each."""
        assert "doubler" not in dictionary.offers
        assert {"tube@V14", "part@C36", "b-plus"} <= set(dictionary.offers)

    @pytest.mark.parametrize("offer", ["b-plus", "output-grid", "bar", "tube@V14", "part@C36"])
    def test_outcomes_of_each_hypothesis_sum_to_one(self, dictionary: Dictionary, offer: str) -> None:
        """Every column of an outcome table is a probability."""
        labels, table = dictionary.outcome_table(offer)

        assert table.shape == (len(labels), len(dictionary.hypotheses))
        np.testing.assert_allclose(table.sum(axis=0), 1.0, atol=1e-6)

    def test_a_positive_grid_points_to_the_coupling_capacitor(self, dictionary: Dictionary) -> None:
        """A leaky coupling capacitor explains a positive grid better than an open one."""
        found = dictionary.likelihood("output-grid", Reading("range", 4.0, 15.0))

        assert found[place(dictionary, "C36:leaky")] > 8 * found[place(dictionary, "C36:open")]

    def test_an_interval_covers_its_values(self, dictionary: Dictionary) -> None:
        """All readings together are certain; half of them are less."""
        whole = dictionary.likelihood("b-plus", Reading("range", -1e4, 1e4))
        part = dictionary.likelihood("b-plus", Reading("range", 100.0, 200.0))

        assert whole.min() > 0.9
        assert (part <= whole + 1e-9).all()

    def test_a_reading_excludes_no_more_than_the_outcome_that_it_falls_into(self, dictionary: Dictionary) -> None:
        """A fault that cannot give a reading keeps the share that the table of outcomes leaves it there."""
        bins = dictionary.bins("b-plus")
        labels, table = dictionary.outcome_table("b-plus")
        value = 0.5 * (bins.low + bins.high)
        healthy = next(n for n, label in enumerate(labels) if "healthy" in label)
        likelihood = dictionary.likelihood("b-plus", Reading("value", value, value))
        width = float(np.diff(bins.axis.place(np.array([bins.low, bins.high])))[0])
        as_density = likelihood.min() * width / (WIDTH * np.sqrt(2.0 * np.pi))

        assert as_density == pytest.approx(table[healthy].min(), rel=0.1)

    def test_an_unknown_answer_is_refused(self, dictionary: Dictionary) -> None:
        """An outcome that the observation does not have is said."""
        with pytest.raises(UnknownWord, match="sync-darker"):
            dictionary.likelihood("bar", "sync-dark")

    def test_symptoms_have_probabilities(self, dictionary: Dictionary) -> None:
        """A dead vertical oscillator shows one line, the separator does not."""
        names, table = dictionary.symptom_table()
        line = table[names.index("single-horizontal-line")]

        assert line[place(dictionary, "C34:shorted")] > 0.9
        assert line[place(dictionary, "C23:open")] < 0.1


class TestCache:
    """Dictionaries are kept on disk and never trusted blindly."""

    def test_second_time_is_quick_and_equal(
        self, plover: Chassis, library: Library, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The second call reads what the first one wrote."""
        monkeypatch.setenv("BACKPORCH_CACHE", str(tmp_path))
        first = cached_tables(plover, library)
        start = time.process_time()
        second = cached_tables(plover, library)
        seconds = time.process_time() - start

        assert len(list(tmp_path.glob("*.npz"))) == 1
        np.testing.assert_array_equal(first.numbers["b-plus.dc"], second.numbers["b-plus.dc"])
        assert seconds < 0.5

    @pytest.mark.parametrize("damage", [b"", b"PK\x03\x04 not a zip", None])
    def test_damaged_file_is_computed_again(
        self,
        plover: Chassis,
        library: Library,
        tables: Tables,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
        damage: bytes | None,
    ) -> None:
        """Empty, wrong and cut files are replaced."""
        monkeypatch.setenv("BACKPORCH_CACHE", str(tmp_path))
        monkeypatch.setattr("backporch.engine.chassis.cache.build_tables", lambda *_, **__: tables)
        cached_tables(plover, library)
        path = next(tmp_path.glob("*.npz"))
        path.write_bytes(path.read_bytes()[:50_000] if damage is None else damage)
        found = cached_tables(plover, library)

        np.testing.assert_array_equal(tables.numbers["b-plus.dc"], found.numbers["b-plus.dc"])
        assert path.stat().st_size > 1_000_000

    def test_what_nothing_reads_any_more_is_cleared_out(
        self,
        plover: Chassis,
        library: Library,
        tables: Tables,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        """A dictionary that was last read half a year ago makes room, one of last week stays."""
        monkeypatch.setenv("BACKPORCH_CACHE", str(tmp_path))
        monkeypatch.setattr("backporch.engine.chassis.cache.build_tables", lambda *_, **__: tables)
        for name, days in (("faults-old.npz", 180), ("faults-week.npz", 7)):
            (tmp_path / name).write_bytes(b"x")
            os.utime(tmp_path / name, (time.time() - 86_400 * days,) * 2)
        cached_tables(plover, library)

        assert not (tmp_path / "faults-old.npz").exists()
        assert (tmp_path / "faults-week.npz").exists()

    def test_an_unwritable_folder_is_no_error(
        self,
        plover: Chassis,
        library: Library,
        tables: Tables,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        """Where nothing can be kept, the tables are simply computed."""
        (tmp_path / "file").write_text("x")
        monkeypatch.setenv("BACKPORCH_CACHE", str(tmp_path / "file" / "below"))
        monkeypatch.setattr("backporch.engine.chassis.cache.build_tables", lambda *_, **__: tables)

        assert cached_tables(plover, library) is tables


class TestBaseline:
    """The owner's readings of the working set win over computed ones."""

    def test_the_healthy_band_moves_with_the_baseline(
        self, plover: Chassis, library: Library, tables: Tables
    ) -> None:
        """A set that always read 260 V is healthy at 260 V."""
        own = Dictionary(plover, library, tables, baseline={"b-plus.dc": 260.0})
        plain = Dictionary(plover, library, tables)

        assert own.bins("b-plus").low < 260.0 < own.bins("b-plus").high
        assert plain.bins("b-plus").low > own.bins("b-plus").low


def _built_slowly(folder: str, name: str) -> float:
    """Build in a process of its own, with tables that are all one number."""
    import os

    from backporch.engine.chassis import cache

    os.environ["BACKPORCH_CACHE"] = folder
    found = shipped()
    chassis = load_chassis(name, found)

    def build(*_: object, **_more: object) -> Tables:
        time.sleep(0.5)
        number = {"b-plus.dc": np.full((2000, 24), 7.0, dtype=np.float32)}
        return Tables(*[number] * 7)

    cache.build_tables = build  # type: ignore[assignment]
    return float(cache.cached_tables(chassis, found).numbers["b-plus.dc"].mean())


def test_two_builders_at_once_do_not_harm_each_other(tmp_path: Path) -> None:
    """Two processes that build the same dictionary end with one good file and no litter."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=context) as pool:
        jobs = [pool.submit(_built_slowly, str(tmp_path), "plover-17") for _ in range(2)]
        found = [job.result(timeout=120) for job in jobs]

    assert found == [7.0, 7.0]
    assert [path.suffix for path in tmp_path.glob("*.*")] == [".npz"]


def test_the_readings_of_a_healthy_set_are_kept(
    plover: Chassis, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second time they come from the disk, are the same, and no set is simulated for them."""
    monkeypatch.setenv("BACKPORCH_CACHE", str(tmp_path))
    first = healthy_values(plover)
    monkeypatch.setattr("backporch.engine.chassis.cache._simulated", lambda _: pytest.fail("simulated again"))

    assert healthy_values(plover) == first
    assert healthy_values(plover)["b-plus.dc"] > 100
