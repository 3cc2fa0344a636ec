"""A browser for pages, where one is installed."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")


@dataclass(frozen=True)
class Opened:
    """What a browser made of a page."""

    pages: int
    console: tuple[str, ...]
    size_points: tuple[int, int]


@pytest.fixture(scope="session")
def browser(tmp_path_factory) -> Callable[[Path, str], Opened]:
    """Open a page in a headless browser, print it on a size of paper, and hear what the console says."""
    program = next(filter(None, map(shutil.which, BROWSERS)), None)
    if program is None:
        pytest.skip("no Chromium is installed")

    def open_page(page: Path, paper: str) -> Opened:
        folder = tmp_path_factory.mktemp("browser")
        sized = folder / "page.html"
        text = page.read_text(encoding="utf-8")
        sized.write_text(text.replace("</style>", f"@page {{ size: {paper}; }}</style>", 1), encoding="utf-8")
        printed = folder / "page.pdf"
        done = subprocess.run(
            [
                program,
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-dev-shm-usage",
                f"--user-data-dir={folder / 'profile'}",
                "--enable-logging=stderr",
                "--no-pdf-header-footer",
                f"--print-to-pdf={printed}",
                sized.as_uri(),
            ],
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        if not printed.exists():
            pytest.fail(f"the browser printed nothing:\n{done.stderr[-2000:]}")
        data = printed.read_bytes()
        box = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", data)
        size = (round(float(box.group(1))), round(float(box.group(2)))) if box else (0, 0)
        heard = tuple(line for line in done.stderr.splitlines() if "CONSOLE" in line)
        return Opened(len(re.findall(rb"/Type\s*/Page\b", data)), heard, size)

    return open_page
