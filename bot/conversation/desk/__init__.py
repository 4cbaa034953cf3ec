"""The clinician's side of the conversation."""

from bot.conversation.desk.core import ClinicianDesk

__all__ = ["ClinicianDesk"]
