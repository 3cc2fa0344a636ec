"""A mistake in a file of the knowledge base names file, line, field and the nearest right word."""

import shutil
from pathlib import Path

import pytest

import backporch.kb
from backporch.engine.errors import BadFile
from backporch.engine.knowledge.library import Library, shipped

SOURCE = Path(next(iter(backporch.kb.__path__)))


@pytest.fixture
def library(tmp_path):
    """A copy of the knowledge base in which a text can be replaced."""
    shutil.copytree(SOURCE, tmp_path / "kb")

    def change(file, old, new):
        path = tmp_path / "kb" / file
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return Library(tmp_path / "kb")

    return change


class TestMistakes:
    @pytest.mark.parametrize(
        ("file", "old", "new", "said"),
        [
            ("stages.yaml", "    section: outside", "    sektion: outside", "Did you mean 'section'"),
            ("stages.yaml", "section: vertical", "section: vertikal", "Did you mean 'vertical'"),
            ("stages.yaml", "    title: Mains input\n", "", "'title' is missing"),
        ],
    )
    def test_are_named_with_file_line_and_field(self, library, file, old, new, said):
        """Unknown fields, wrong words and missing fields are each told with their place."""
        with pytest.raises(BadFile) as caught:
            _ = library(file, old, new).stages

        assert said in str(caught.value)
        assert f"{file}:" in str(caught.value)

    def test_all_mistakes_of_a_table_come_at_once(self, library, tmp_path):
        """Two mistakes in one table are both told."""
        library("stages.yaml", "section: outside", "section: outsied")
        changed = Library(tmp_path / "kb")
        text = (tmp_path / "kb" / "stages.yaml").read_text(encoding="utf-8")
        (tmp_path / "kb" / "stages.yaml").write_text(
            text.replace("section: sync", "section: sink", 1), encoding="utf-8"
        )
        with pytest.raises(BadFile) as caught:
            _ = changed.stages

        assert "outsied" in str(caught.value)
        assert "sink" in str(caught.value)


class TestSize:
    def test_it_is_as_large_as_it_should_be(self):
        """There are enough stages, symptoms and measurements, and each measurement has a pitfall."""
        kb = shipped()

        assert len(kb.stages) >= 24
        assert len(kb.symptoms) >= 45
        assert len(kb.measurements) >= 60
        assert all(m.pitfall for m in kb.measurements.values())

    def test_every_part_kind_names_the_source_of_its_modes(self):
        """Every failure mode says where its frequency comes from."""
        assert all(mode.source for kind in shipped().part_kinds.values() for mode in kind.modes.values())
