"""Fourteen days of a clinic, with everything happening once."""

from __future__ import annotations

import io

from pypdf import PdfReader

from bot.conversation.wording import clinic as clinic_words
from bot.conversation.wording import service as words
from tests.channels.clinic import fourteen_days
from tests.telegram_server import TelegramServer


def test_fourteen_days_of_a_clinic(server: TelegramServer, lite_url: str) -> None:
    clinic = fourteen_days(server, lite_url)
    seen = clinic.seen

    assert seen["used"] == seen["guessed"] == seen["hello"] == seen["expired"] == words.stranger()
    assert all(name in seen["enrolled"] for name in ("Rowan", "Briar", "Hazel", "Linden"))
    assert seen["redelivered"] == ""
    assert [seen[each].count("You are welcome") for each in ("429", "502", "dropped")] == [1, 1, 2]
    assert "first steps 5" in seen["edited"]
    assert seen["old button"] == words.old_button()
    assert "urgent care" in seen["told"] or "emergency" in seen["told"]
    assert "calf" in seen["alert"]
    assert "NOT YET SEEN" in seen["repeated"]
    assert "NOT YET SEEN" not in seen["after seen"]
    assert "Hazel" in seen["cleared"]
    assert "Linden cannot be reached" in seen["blocked"]
    assert "Linden can be reached again" in seen["back"]
    for kind in ("voice", "photo", "sticker"):
        assert words.cannot_read(kind) in seen["other kinds"]
    assert words.forwarded() in seen["other kinds"]
    assert "Linden" not in seen["before cover"]
    assert "Linden" in seen["covered"]
    assert "worse" in seen["flare"] or "flare" in seen["flare"].casefold() or "rest" in seen["flare"]
    assert "Taken back" in seen["undone"]
    assert "Dr Vale" in seen["told of orders"]
    assert "may I swim?" in seen["from patient"]
    assert "yes, gently" in seen["from clinician"]
    assert "my-data.zip" in seen["files"]
    assert "deleted" in seen["erased"]
    assert clinic_words.left("Briar", erased=True) in seen["goodbye"]
    assert "Briar" not in seen["caseload after"]

    first, second = (
        "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(each)).pages) for each in clinic.pdfs
    )
    assert all(name in first for name in ("Rowan", "Briar", "Hazel", "Linden"))
    assert "Sorrel" in second
    assert "Briar" not in second

    prompts = [each for each in server.sent() if each.text.startswith(("Good morning", "Good evening"))]
    assert len(prompts) == clinic.prompts_queued > 100, "every prompt came once"
    # On a busy machine a poll may be asked for again while the one before still waits: a conflict, which loses nothing.
    assert [each for each in server.refusals() if each.method != "getupdates"] == []
    assert clinic.waiting == 0
