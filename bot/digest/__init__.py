"""The clinician's week: figures, who needs attention first, message, charts and PDF; and the patient's picture."""

from bot.digest.render import Prepared, SpecError, digest_messages, prepare, render

__all__ = ["Prepared", "SpecError", "digest_messages", "prepare", "render"]
