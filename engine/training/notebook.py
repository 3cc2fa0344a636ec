# SPDX-License-Identifier: MIT
"""One run of a lesson on disk: which lesson and seed, what was done, and in the end the result.

The file is replaced in one step after every act, so that a crash leaves all of it or all but the last act.
A lock keeps two programs from writing one run.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from filelock import FileLock, Timeout

from backporch.engine.errors import BackporchError, BadFile
from backporch.engine.session.atomic import replace_file
from backporch.engine.training.act import ACT_KINDS, Act
from backporch.engine.training.score import Result

__all__ = ["FILE", "Kept", "Notebook", "read_run"]

FILE = "lesson.json"
_LONGEST = 400
_LARGEST_BYTES = 5_000_000


@dataclass
class Kept:
    """What is kept of one run."""

    lesson: str
    seed: int
    learner: str
    acts: list[Act] = field(default_factory=list)
    ended: str = ""
    """When it ended, ISO 8601, UTC; "" while it goes on."""
    result: Result | None = None


class Notebook:
    """One open run; use it as a context manager."""

    def __init__(self, folder: Path, begun: Kept) -> None:
        """Open the run in ``folder``, or begin it as ``begun`` says.

        Raises:
            BadFile: the folder cannot be written, the file is damaged, or another program has the run open.
        """
        self.path = folder / FILE
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._lock = FileLock(folder / "lock", timeout=0, mode=0o600)
            self._lock.acquire()
        except Timeout:
            raise BadFile(f"{folder.name}: this lesson is open in another program. Close it there.") from None
        except OSError as error:
            raise BadFile(
                f"{folder}: the lesson cannot be saved here ({error.strerror}). Set BACKPORCH_HOME to a folder "
                "that you can write to."
            ) from error
        try:
            self.kept = read_run(self.path) if self.path.exists() else begun
        except BackporchError:
            self._lock.release()
            raise

    def keep(self, act: Act) -> None:
        """Keep one act; it is on the disk when this returns.

        Raises:
            BadFile: it cannot be written; what was kept before is untouched.
        """
        self.kept.acts.append(act)
        try:
            self._write()
        except BadFile:
            self.kept.acts.pop()
            raise

    def end(self, result: Result) -> None:
        """Keep the result; a run that has one keeps its first."""
        if self.kept.result is None:
            self.kept.result = result
            self.kept.ended = datetime.now(UTC).isoformat(timespec="seconds")
            self._write()

    def _write(self) -> None:
        kept = self.kept
        document = {
            "schema": 1,
            "lesson": kept.lesson,
            "seed": kept.seed,
            "learner": kept.learner,
            "acts": [{k: v for k, v in asdict(act).items() if v} for act in kept.acts],
        }
        if kept.result is not None:
            document |= {"ended": kept.ended, "result": asdict(kept.result)}
        try:
            replace_file(self.path, json.dumps(document, indent=1, ensure_ascii=False) + "\n")
        except OSError as error:
            raise BadFile(f"{self.path}: cannot be written ({error.strerror}). Make room and go on.") from error

    def __enter__(self) -> Notebook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._lock.release()


def read_run(path: Path) -> Kept:
    """Return what is kept of a run.

    Raises:
        BadFile: the file cannot be read or does not say what it must.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise ValueError("it is too large")
        document = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(document, dict) or document.get("schema") != 1:
            raise ValueError("expected schema 1")
        result = document.get("result")
        return Kept(
            lesson=str(document["lesson"]),
            seed=int(document["seed"]),
            learner=str(document["learner"]),
            acts=[_act(entry) for entry in document["acts"]],
            ended=str(document.get("ended", "")),
            result=_result(result) if result is not None else None,
        )
    except OSError as error:
        raise BadFile(f"{path}: cannot be read ({error.strerror}).") from error
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise BadFile(f"{path}: this lesson is damaged ({error}). Remove its folder to begin anew.") from error


def _act(entry: Mapping[str, Any]) -> Act:
    texts = [str(entry.get(name, "")) for name in ("kind", "key", "value")]
    if texts[0] not in ACT_KINDS or any(len(text) > _LONGEST for text in texts):
        raise ValueError(f"{str(entry)[:60]!r} is no act")
    return Act(texts[0], texts[1], texts[2])  # type: ignore[arg-type]


def _result(entry: Mapping[str, Any]) -> Result:
    names = [f.name for f in fields(Result)]
    if set(entry) != set(names):
        raise ValueError("its result has other fields than a result has")
    return Result(**{name: type(_SAMPLE[name])(entry[name]) for name in names})


_SAMPLE = asdict(Result("", 0, "", 0, 0.0, 0.0, 0.0, 0, 0, 0, 0, ""))
