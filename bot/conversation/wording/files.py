"""What is said where a picture or a document should be."""

from __future__ import annotations


def not_made() -> str:
    """The file could not be drawn, or not be sent. The text it belongs to is above."""
    return "The picture or file could not be made. Please ask for it again later."
