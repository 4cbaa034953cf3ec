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


@app.command()
def serve() -> None:
    """Run the service on Telegram until it is told to stop. Settings come from HEEL_CHECKIN_... variables."""
    from bot.commands.serve import serve as run

    raise typer.Exit(run(complain))


@app.command()
def invite(
    name: Annotated[str, typer.Argument(help="The clinician's name as patients will read it, such as 'Dr Vale'.")],
    timezone: Annotated[
        str | None, typer.Option(help="The clinician's time zone, such as Europe/Lisbon; UTC if none.")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="For one who has joined and lost the account: the same from another one.")
    ] = False,
    picture: Annotated[
        Path | None, typer.Option(help="Also write the link as a QR picture (PNG) to this file.")
    ] = None,
) -> None:
    """Make an invitation for a clinician: a link that works once, within 7 days."""
    from bot.commands.serve import invite_clinician

    raise typer.Exit(
        invite_clinician(name, timezone=timezone, picture=picture, say=print_line, complain=complain, again=again)
    )


@app.command()
def check() -> None:
    """Look over the set-up: what is wrong, and how to mend it."""
    import os

    from bot.commands.check import check as run
    from bot.commands.serve import utc_now

    raise typer.Exit(run(environment=os.environ, clock=utc_now, say=print_line))


@app.command()
def digest(
    out: Annotated[Path, typer.Option(help="The folder for the files.")],
    clinician: Annotated[str | None, typer.Option(help="Only this clinician's; all if none is named.")] = None,
    until: Annotated[
        str | None, typer.Option(help="The week's last day, such as 2026-03-29; yesterday if none.")
    ] = None,
    database: Annotated[str | None, typer.Option(help="The database's URL, instead of the setting.")] = None,
    demo: Annotated[
        bool, typer.Option("--demo", help="Of an invented caseload of five patients over 12 weeks.")
    ] = False,
) -> None:
    """Write the weekly digest of each clinician: message, charts and PDF."""
    from bot.commands.digest import digest as run
    from bot.commands.serve import utc_now

    raise typer.Exit(
        run(
            out=out,
            clinician=clinician,
            until=until,
            database_url=database,
            demo=demo,
            now=utc_now(),
            say=print_line,
            complain=complain,
        )
    )


@app.command()
def export(
    patient: Annotated[str, typer.Option(help="The patient's number or alias.")],
    out: Annotated[Path, typer.Option(help="The folder for the files.")],
    form: Annotated[str, typer.Option("--format", help="json, csv, fhir or all.")] = "all",
    database: Annotated[str | None, typer.Option(help="The database's URL, instead of the setting.")] = None,
) -> None:
    """Write a patient's data: JSON, CSV, FHIR R4."""
    from bot.commands.export import export_patient
    from bot.commands.serve import utc_now

    raise typer.Exit(
        export_patient(
            patient=patient,
            out=out,
            formats=form,
            database=database,
            now=utc_now(),
            say=print_line,
            complain=complain,
        )
    )


@app.command()
def backup(
    out: Annotated[Path, typer.Option(help="A new file, or a folder that gets one named for the time.")],
    database: Annotated[str | None, typer.Option(help="The database's URL, instead of the setting.")] = None,
) -> None:
    """Make a consistent copy of the database, while the service runs."""
    from bot.commands.backup import back_up
    from bot.commands.serve import utc_now

    raise typer.Exit(back_up(out=out, database=database, now=utc_now(), say=print_line, complain=complain))


@app.command()
def restore(
    file: Annotated[Path, typer.Argument(help="A file that `backup` made.")],
    database: Annotated[str | None, typer.Option(help="The database's URL, instead of the setting.")] = None,
) -> None:
    """Bring a backup back into an empty database."""
    from bot.commands.backup import bring_back

    raise typer.Exit(bring_back(file=file, database=database, say=print_line, complain=complain))


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
