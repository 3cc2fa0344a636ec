"""Kept copies of the shipped YAML files spare reading YAML again, and are never trusted blindly."""

import json
import os
import stat
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backporch.engine.errors import BadFile
from backporch.engine.knowledge.kept import kept_yaml
from backporch.engine.knowledge.library import Library, shipped
from backporch.engine.knowledge.yaml_file import read_yaml

TEXT = "schema: 1\nterms: {hold: control, count: 3, share: 0.5, on: true, none: }\nlist: [1, two]\n"


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the copies of one test by themselves."""
    monkeypatch.setenv("BACKPORCH_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return a small YAML file."""
    path = tmp_path / "terms.yaml"
    path.write_text(TEXT)
    return path


def copy_of(cache: Path) -> Path:
    """Return the one kept copy."""
    (found,) = (cache / "yaml").iterdir()
    return found


class TestKept:
    def test_a_kept_copy_gives_what_the_file_gives(self, cache: Path, file: Path) -> None:
        """The second reading comes from the copy and has the same data and the same lines."""
        first = kept_yaml(file)
        copy = copy_of(cache)
        second = kept_yaml(file)

        assert copy.stat().st_size > 50
        assert first.data == second.data == read_yaml(file).data
        assert dict(second.lines) == dict(first.lines)

    def test_every_shipped_file_comes_back_as_it_was(self, cache: Path) -> None:  # noqa: ARG002
        """All of the knowledge base is the same from its copies."""
        for path in sorted(shipped().root.rglob("*.yaml")):
            kept_yaml(path)

            assert kept_yaml(path).data == read_yaml(path).data

    def test_a_changed_file_is_read_again(self, cache: Path, file: Path) -> None:
        """A copy of an older text is not believed, and is replaced."""
        kept_yaml(file)
        file.write_text(TEXT.replace("3", "4"))

        assert kept_yaml(file).data["terms"]["count"] == 4
        assert kept_yaml(file).data["terms"]["count"] == 4
        assert len(list((cache / "yaml").iterdir())) == 1

    @given(st.data())
    def test_a_damaged_copy_is_never_believed(
        self, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
    ) -> None:
        """Any byte changed, cut off or added leaves what is read as it is."""
        folder = tmp_path_factory.mktemp("kept")
        path = folder / "terms.yaml"
        path.write_text(TEXT)
        before, os.environ["BACKPORCH_CACHE"] = os.environ.get("BACKPORCH_CACHE"), str(folder)
        try:
            kept_yaml(path)
            copy = copy_of(folder)
            whole = copy.read_bytes()
            at = data.draw(st.integers(0, len(whole) - 1))
            put = data.draw(st.binary(max_size=3))
            copy.write_bytes(whole[:at] + put + whole[at + data.draw(st.integers(0, 3)) :])

            assert kept_yaml(path).data == read_yaml(path).data
        finally:
            os.environ.pop("BACKPORCH_CACHE")
            if before is not None:
                os.environ["BACKPORCH_CACHE"] = before

    def test_a_copy_with_other_data_is_not_believed(self, cache: Path, file: Path) -> None:
        """Somebody who writes other data behind an old seal changes nothing."""
        kept_yaml(file)
        seal, _, body = copy_of(cache).read_bytes().partition(b"\n")
        copy_of(cache).write_bytes(seal + b"\n" + json.dumps({**json.loads(body), "schema": 9}).encode())

        assert kept_yaml(file).data["schema"] == 1

    def test_a_folder_that_cannot_be_written_is_no_error(
        self, file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Where nothing can be kept, the file is read each time."""
        (tmp_path / "full").write_text("x")
        monkeypatch.setenv("BACKPORCH_CACHE", str(tmp_path / "full" / "below"))

        assert kept_yaml(file).data == kept_yaml(file).data == read_yaml(file).data

    @pytest.mark.skipif(os.name == "nt", reason="has other permissions")
    def test_copies_are_for_their_owner_alone(self, cache: Path, file: Path) -> None:
        """Nobody else may write what the program believes."""
        kept_yaml(file)

        assert stat.S_IMODE(copy_of(cache).stat().st_mode) == 0o600
        assert stat.S_IMODE((cache / "yaml").stat().st_mode) == 0o700

    def test_a_mistake_is_told_with_its_line_from_a_copy_too(self, cache: Path, tmp_path: Path) -> None:  # noqa: ARG002
        """A table that does not fit its model names file and line, the first time and the second."""
        (tmp_path / "stages.yaml").write_text("schema: 1\nstages:\n  one: {title: One, sektion: sync}\n")

        said = []
        for _ in range(2):
            with pytest.raises(BadFile) as caught:
                _ = Library(tmp_path).stages
            said.append(str(caught.value))

        assert said[0] == said[1]
        assert "stages.yaml:3:" in said[0]


def _read_often(folder: str) -> int:
    """Read a file that changes, in a process of its own."""
    os.environ["BACKPORCH_CACHE"] = folder
    path = Path(folder) / "terms.yaml"
    return sum(kept_yaml(path).data["schema"] == 1 for _ in range(50))


def test_two_programs_at_once_do_not_harm_each_other(tmp_path: Path) -> None:
    """Two processes that keep the same file end with one good copy and no litter."""
    (tmp_path / "terms.yaml").write_text(TEXT)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        good = list(pool.map(_read_often, [str(tmp_path)] * 2))

    assert good == [50, 50]
    assert copy_of(tmp_path).suffix == ".json"
