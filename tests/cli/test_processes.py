"""What only a real process shows: Ctrl-C, closed pipes, kills, and speed."""

import os
import random
import signal
import subprocess
import sys
import time

import pytest

CODE = "import sys; from backporch.engine.cli import main; sys.exit(main())"
OPENING = "worked-last-week\nunknown\nfull-mains\naccompanied\ngenerator\nproved\npicture-rolls-up\n\n"


def _start(tmp_path, *arguments, **options):
    environment = {**os.environ, "BACKPORCH_HOME": str(tmp_path / "home"), "PYTHONUTF8": "1"}
    return subprocess.Popen(
        [sys.executable, "-c", CODE, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment,
        **options,
    )


@pytest.mark.skipif(os.name == "nt", reason="signals work otherwise there")
class TestSignals:
    def test_ctrl_c_gives_130_and_no_traceback(self, tmp_path):
        """Ctrl-C ends with exit code 130 and one line."""
        process = _start(tmp_path, "diagnose")
        assert process.stdout.read(1)
        time.sleep(0.3)
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=20)

        assert process.returncode == 130
        assert b"Traceback" not in err

    def test_a_kill_loses_no_answer_that_was_acknowledged(self, tmp_path):
        """Killed at random moments, a session has every answer after which the next question was shown."""
        seeds = random.Random(5)
        for number in range(3):
            name = f"kill-{number}"
            process = _start(tmp_path, "diagnose", "--session", name)
            process.stdin.write(OPENING.encode())
            process.stdin.flush()
            seen = b""
            while b"Look at the blanking bar" not in seen:
                more = process.stdout.read(1)
                assert more, "the program ended before the question"
                seen += more
            time.sleep(seeds.random() * 0.05)
            process.kill()
            process.communicate()
            again = _start(tmp_path, "diagnose", "--session", name, "--json")
            out, err = again.communicate(b"full-mains\naccompanied\n", timeout=60)

            assert again.returncode == 2
            assert b"The answers end before" in err
            assert b'"id": "look-at-the-blanking-bar"' in out

    def test_a_second_program_is_refused(self, tmp_path):
        """Two programs on one session: the second gets a clear sentence."""
        first = _start(tmp_path, "diagnose", "--session", "shared")
        assert first.stdout.read(1)
        second = _start(tmp_path, "diagnose", "--session", "shared")
        _, err = second.communicate(b"quit\n", timeout=20)
        first.communicate(b"quit\n", timeout=20)

        assert second.returncode == 2
        assert b"open in another program" in err

    def test_a_closed_pipe_ends_quietly(self, tmp_path):
        """When the reader goes away, there is no traceback."""
        process = _start(tmp_path, "expect", "plover-17")
        process.stdout.close()
        err = process.stderr.read()
        process.wait(timeout=60)
        process.stdin.close()
        process.stderr.close()

        assert b"Traceback" not in err
        assert process.returncode == 2
        assert b"The output was closed" in err
