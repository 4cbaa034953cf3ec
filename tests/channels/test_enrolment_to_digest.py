"""From the operator's invitation to the weekly digest, through the real service."""

from __future__ import annotations

import io
from datetime import timedelta

from pypdf import PdfReader

from bot.conversation.wording import menus
from tests.channels.running import Person, new_clinician, running, token_in
from tests.telegram_server import TelegramServer


def test_a_patient_is_invited_enrolled_guided_and_told_of_in_the_digest(
    server: TelegramServer, database_url: str
) -> None:
    with running(server, database_url) as service:
        vale = new_clinician(service, 1, "Dr Vale")
        invitation = vale.says("/invite Rowan walk 6 target 30")
        picture = vale.user.received()
        assert any(each.kind == "photo" and each.data[:8] == b"\x89PNG\r\n\x1a\n" for each in picture)
        assert "walking 6 min" in invitation

        rowan = Person(service, 2)
        assert "check-in bot for heel pain" in rowan.opens(token_in(invitation))
        for label in ("yes", "no", "left", "yes"):
            rowan.presses(label)
        rowan.says("7:30 and 19:00")
        rowan.presses("4")
        rowan.presses("comes and goes")
        assert "3 March 2026" in rowan.presses("moderately")
        assert "Rowan has joined" in vale.text()
        assert dict(menus.MENUS["patient"]) == server.commands(2)
        assert dict(menus.MENUS["clinician"]) == server.commands(1)

        service.go_to(service.at(1, "07:30"))
        prompt = rowan.new()
        assert [each.text.startswith("Good morning, Rowan") for each in prompt] == [True]
        assert "10" in {label for row in prompt[0].buttons for label in row}
        guidance = rowan.presses("3")
        assert "first steps 3" in guidance
        assert "6 minutes" in guidance

        for day in range(1, 7):
            service.go_to(service.at(day, "19:05"))
            rowan.says("walked 6 min, all done, worst 3")
            service.go_to(service.at(day + 1, "07:35"))
            rowan.says("3, comes and goes")
        service.go_to(service.at(7, "08:05"))
        digest = [each for each in vale.new() if each.kind == "document"]
        assert len(digest) == 1
        assert digest[0].file_name is not None and digest[0].file_name.endswith(".pdf")
        pages = PdfReader(io.BytesIO(digest[0].data or b"")).pages
        assert len(pages) == 2 or len(pages) == 1
        words = "\n".join(page.extract_text() for page in pages)
        assert "Rowan" in words
        assert not server.refusals()
        assert service.clock() - service.at(7, "08:05") < timedelta(minutes=5)
