"""The chat message: short enough, most pressing first, nobody left out, no line torn."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from bot.digest.attention import in_order
from bot.digest.message import LIMIT, messages
from bot.digest.values import History
from bot.program.terms import RedFlag
from tests.digest.builders import lived
from tests.digest.cases import LONG_ALIAS, cases
from tests.digest.conftest import Demo


def many(count: int) -> list[History]:
    """A caseload in which every third patient needs something, with long aliases."""
    kinds = list(cases().values())
    return [
        replace(kinds[at % len(kinds)], patient_id=at, alias=f"P{at:03d} {'😀' * 30 if at % 2 else LONG_ALIAS}")
        for at in range(count)
    ]


def utf16(text: str) -> int:
    """Telegram counts a text in UTF-16 code units (https://core.telegram.org/api/entities#entity-length)."""
    return len(text.encode("utf-16-le")) // 2


def test_no_message_is_longer_than_a_chat_takes() -> None:
    """4,096: https://core.telegram.org/bots/api#sendmessage."""
    assert LIMIT == 4096
    histories = many(60)
    found = messages(in_order(histories), histories[0].until)
    assert len(found) > 1
    assert all(0 < utf16(text) <= 4096 for text in found)
    assert all(text == text.strip() for text in found)


def test_nobody_is_left_out_and_no_line_is_torn() -> None:
    histories = many(60)
    lines = in_order(histories)
    whole = "\n".join(messages(lines, histories[0].until))
    for at in range(60):
        told = 2 if next(line for line in lines if line.history.patient_id == at).needs else 1
        assert whole.count(f"P{at:03d} ") == told
    small = [replace(each, alias=each.alias[:4]) for each in histories]
    from bot.digest import wording

    together = "\n".join(messages(in_order(small), small[0].until)).splitlines()
    for line in in_order(small):
        assert wording.patient_line(line) in together


def test_a_heading_never_stands_alone_at_the_end_of_a_message() -> None:
    histories = many(40)
    lines = in_order(histories)
    for count in range(1, 41):
        for text in messages(lines[:count], histories[0].until):
            assert not text.endswith(("NEEDS YOU FIRST", "EVERYONE"))


def test_the_most_pressing_comes_first_with_its_reason(demo: Demo) -> None:
    (text,) = messages(in_order(list(demo.histories.values())), demo.until)
    head, _, rest = text.partition("\n\n")
    assert head == "Week Mon 23 Mar to Sun 29 Mar 2026: 5 patients, 4 need you, 1 open red flag."
    needs, _, everyone = rest.partition("\n\nEVERYONE\n")
    assert needs.splitlines()[0] == "NEEDS YOU FIRST"
    assert needs.splitlines()[1].startswith("1. Tarn: open red flag, same day: sudden pop since Fri 27 Mar (rule 10)")
    assert [each.split(":")[0] for each in needs.splitlines()[1:]] == ["1. Tarn", "2. Ilex", "3. Moss", "4. Sorrel"]
    assert [each.split(",")[0] for each in everyone.split("\n\n")[:5]] == ["Tarn", "Ilex", "Moss", "Sorrel", "Wren"]


def test_a_caseload_of_five_can_be_read_in_two_minutes(demo: Demo) -> None:
    """Silent reading of English is about 238 words a minute (Brysbaert 2019, J Mem Lang 109:104047) [value from memory]."""
    (text,) = messages(in_order(list(demo.histories.values())), demo.until)
    assert len(text.split()) <= 2 * 238


def test_it_is_plain_text(demo: Demo) -> None:
    (text,) = messages(in_order(list(demo.histories.values())), demo.until)
    assert not set("*`<>{}#|") & set(text)


def test_nobody_needs_anything() -> None:
    history = lived("3333333 3333333 3333333")
    (text,) = messages(in_order([history]), history.until)
    assert "1 patient, none needs you first." in text
    assert "NEEDS YOU FIRST" not in text


def test_an_empty_caseload_is_said_to_be_empty() -> None:
    history = lived("3")
    assert messages((), history.until + timedelta(days=6)) == ["Week Mon 5 Jan to Sun 11 Jan 2026: 0 patients."]


def test_an_alias_cannot_forge_a_line() -> None:
    history = lived("333", alias="A\n1. B: open red flag", flags={RedFlag.NIGHT_PAIN: (2, None)})
    (text,) = messages(in_order([history]), history.until)
    assert "\n1. B" not in text
