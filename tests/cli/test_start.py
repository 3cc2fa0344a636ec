"""What the program loads when it starts: no more than the command needs."""

import subprocess
import sys

import pytest

HEAVY = {
    "help": ("from backporch.engine.cli.app import app", ("numpy", "yaml", "experta")),
    "list": ("import backporch.engine.cli.resume", ("numpy", "experta", "backporch.engine.chassis")),
    "diagnose": (
        "import backporch.engine.cli.diagnose",
        ("backporch.engine.chassis.simulator", "backporch.rules", "scipy", "numpy.ma", "quantiphy", "rapidfuzz"),
    ),
}


@pytest.mark.parametrize("command", HEAVY)
def test_what_a_command_does_not_need_yet_is_not_loaded(command):
    """Help needs no arithmetic, the list of sessions no chassis, a session no simulator before it simulates."""
    load, heavy = HEAVY[command]
    code = f"{load}; import sys; print('\\n'.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = done.stdout.split()

    assert [name for name in loaded if name in heavy] == []
