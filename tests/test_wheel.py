"""The wheel works in an empty environment, from any folder."""

import os
import subprocess
import sys
import venv
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    """The backporch program of a fresh environment into which the wheel was installed."""
    place = tmp_path_factory.mktemp("wheel")
    copy = place / "source"
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(place), str(ROOT)],
        check=True,
        cwd=place,
    )
    wheel = next(place.glob("backporch-*.whl"))
    venv.create(copy, with_pip=True)
    scripts = copy / ("Scripts" if os.name == "nt" else "bin")
    subprocess.run([str(scripts / "python"), "-m", "pip", "install", "-q", str(wheel)], check=True, cwd=place)
    return scripts / "backporch"


def test_the_wheel_runs_from_another_folder(program, tmp_path):
    """Installed from the wheel, the main job runs in a folder of its own and asks its first question."""
    done = subprocess.run(
        [str(program), "diagnose", "--chassis", "plover-17"],
        input="quit\n",
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=tmp_path,
        env={**os.environ, "BACKPORCH_HOME": str(tmp_path / "home"), "PYTHONPATH": "", "PYTHONUTF8": "1"},
        check=False,
    )

    assert (done.returncode, done.stderr) == (0, "")
    assert "What condition is the set in?" in done.stdout
