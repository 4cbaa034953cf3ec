"""How a chat looks in a terminal: in colour where the terminal has it, readable where it has not."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

if TYPE_CHECKING:
    from bot.commands.play import Said

_STYLES = {
    "patient": "bold green",
    "clinician": "bold magenta",
    "bot": "cyan",
    "bot to clinician": "blue",
    "bot to Dr Oak": "magenta",
}


class ChatPrinter:
    """Prints a chat as it goes."""

    def __init__(self, console: Console | None = None) -> None:
        self.console = console or Console(highlight=False, soft_wrap=True)
        self._day = ""

    def title(self, text: str) -> None:
        """The heading of a conversation."""
        self._day = ""
        self.console.print(f"\n[bold]{escape(text)}[/bold]")

    def said(self, said: Said) -> None:
        """One message, under its date."""
        day = f"{said.at:%a %d %b %Y}"
        if day != self._day:
            self._day = day
            self.console.print(f"\n[bold]{day}[/bold]")
        style = _STYLES.get(said.who, "")
        first, *more = said.text.splitlines() or [""]
        self.console.print(f"  {said.at:%H:%M} [{style}]{escape(said.who)}:[/{style}] {escape(first)}")
        for line in more:
            self.console.print(f"        {escape(line)}" if line else "")
