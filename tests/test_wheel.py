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


def test_the_wheel_writes_pages_without_the_plotting_libraries(program, tmp_path):
    """Installed without extras the program writes gallery and job sheet, and says what a waveform file needs."""
    env = {**os.environ, "BACKPORCH_HOME": str(tmp_path / "home"), "PYTHONPATH": "", "PYTHONUTF8": "1"}

    def run(*arguments, lines=""):
        return subprocess.run(
            [str(program), *arguments],
            input=lines,
            capture_output=True,
            text=True,
            cwd=tmp_path,
            env=env,
            check=False,
        )

    opening = "worked-last-week\nunknown\nfull-mains\naccompanied\ngenerator\nproved\npicture-rolls-up\n\nquit\n"
    run("diagnose", "--session", "farm", lines=opening)
    codes = [
        run("gallery", "single-spot", "--html", "g.html").returncode,
        run("report", "farm", "--html", "farm.html").returncode,
    ]
    waveform = run("waveform", "plover-17", "reservoir", "--png", "w.png")

    assert codes == [0, 0]
    assert "Vertical oscillator" in (tmp_path / "farm.html").read_text(encoding="utf-8")
    assert (waveform.returncode, "pip install 'backporch[plots]'" in waveform.stderr) == (2, True)
