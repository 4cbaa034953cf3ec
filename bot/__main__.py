"""The command line. Heavy imports wait until a command needs them, so that `--help` answers at once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(
    name="heel-checkin",
    help="Home-programme check-ins for plantar heel pain: a chat bot beside a treating clinician. "
    "It is an aid, not an emergency service, and it never diagnoses.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)


@app.command()
def play(
    files: Annotated[
        list[Path] | None, typer.Argument(help="Conversation files; all demo conversations if none.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object a patient and day instead.")] = False,
) -> None:
    """Play conversations through the real code and check what they expect."""
    from bot.commands.play import play as run
    from bot.commands.show import ChatPrinter

    printer = ChatPrinter()
    raise typer.Exit(
        run(
            list(files or []),
            as_json=as_json,
            show=printer.said,
            say=print_line,
            complain=complain,
            announce=lambda chat: printer.title(f"{chat.title} ({chat.path.name})"),
        )
    )


@app.command()
def chat(
    start: Annotated[str | None, typer.Option(help="The clock to begin with, such as '2026-03-01 18:00'.")] = None,
    timezone: Annotated[str, typer.Option(help="Your time zone, such as Europe/Lisbon.")] = "UTC",
    ready: Annotated[bool, typer.Option("--ready", help="Skip enrolment: begin as an invented patient.")] = False,
) -> None:
    """Talk to the bot in the terminal, as a patient and as the clinician, with a clock that you move."""
    from bot.commands.chat import chat as run

    raise typer.Exit(run(start=start, timezone=timezone, ready=ready))


@app.command()
def read(
    explain: Annotated[bool, typer.Option(help="Add the words that each field came from.")] = False,
    score: Annotated[Path | None, typer.Option(help="Score against a file of labelled replies.")] = None,
) -> None:
    """Turn patients' replies (JSON Lines on standard input) into structured records."""
    from bot.commands.read import read_command

    read_command(explain=explain, score_file=score)


def print_line(text: str) -> None:
    """One line on standard output."""
    typer.echo(text)


def complain(text: str) -> None:
    """One line on standard error."""
    typer.echo(text, err=True)


def main() -> None:
    """The console command."""
    app()


if __name__ == "__main__":
    main()
