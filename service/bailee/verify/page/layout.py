"""A report as HTML."""

from __future__ import annotations

from html import escape

from bailee.verify import report
from bailee.verify.result import Report


def render(found: Report) -> str:
    """First version."""
    return f"<pre>{escape(report.render_text(found))}</pre>"
