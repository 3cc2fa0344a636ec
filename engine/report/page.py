# SPDX-License-Identifier: MIT
"""Fills a page's template; whatever a person typed is escaped.

Limits: templates are ours and stand beside this module; a name that a template needs and does not get is an error.
"""

from __future__ import annotations

import base64
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

__all__ = ["filled", "in_page"]


def filled(template: str, **values: object) -> str:
    """Return a template with values in it, every text escaped.

    Args:
        template: Name of a file of the folder templates.
        values: What the template names.
    """
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(**values)


def in_page(data: bytes, kind: str) -> str:
    """Return a file as an address that holds it whole.

    Args:
        data: The file.
        kind: Its media type, such as image/png.
    Example:
        >>> in_page(b"GIF", "image/gif")
        'data:image/gif;base64,R0lG'
    """
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"
