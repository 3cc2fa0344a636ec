# SPDX-License-Identifier: MIT
"""The command line: the one room that prints, and the only one that knows the rule base."""

from __future__ import annotations

import contextlib
import gc
import os
import sys

__all__ = ["main"]


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code.

    Every :class:`BackporchError` becomes one message and exit code 2, Ctrl-C becomes 130, and a
    closed pipe ends quietly.
    """
    # Nothing that happens to be installed beside the program may hook into the checking of its files.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # The start makes many small objects that all stay; looking through them for garbage was a tenth of its time.
    gc.set_threshold(50_000)
    import typer

    from backporch.engine.cli.app import app
    from backporch.engine.errors import BackporchError

    usage_error = next(c for c in typer.BadParameter.__mro__ if c.__name__ == "ClickException")
    try:
        result = app(args=arguments, prog_name="backporch", standalone_mode=False)
        sys.stdout.flush()
        return int(result or 0)
    except typer.Exit as stop:
        return int(stop.exit_code)
    except (KeyboardInterrupt, typer.Abort):
        print("\nStopped. Every answer so far is saved.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        return _output_closed()
    except SystemExit as stop:
        # The console library turns a closed pipe into an exit of its own.
        return _output_closed() if stop.code == 1 else int(stop.code or 0)
    except BackporchError as error:
        from backporch.engine.cli.console import clean

        print(clean(error), file=sys.stderr)
        return 2
    except Exception as error:
        if not isinstance(error, usage_error):
            raise
        error.show()  # type: ignore[attr-defined]
        return 2


def _output_closed() -> int:
    """Send what is left of the output nowhere, so that closing it cannot fail again, and say so."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    print("The output was closed before everything was written.", file=sys.stderr)
    return 2
