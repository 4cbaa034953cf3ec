"""What patients are called, and which words of a message may be a name."""

from __future__ import annotations

import re
from collections.abc import Sequence

from sqlmodel import Session

from storage import people, shares
from storage.tables import Patient

_LONGEST_NAME = 8
"""Words of a name."""


def names_for(session: Session, clinician_id: int, seen: Sequence[Patient]) -> dict[int, str]:
    """What each of the patients is called to this clinician: each name once.

    A colleague's patient bears the colleague's name; an own one is marked only where a colleague's has the same alias.
    """
    found: dict[int, str] = {}
    taken: dict[str, int] = {}
    for each in seen:
        name = each.alias
        if each.clinician_id != clinician_id:
            owner = people.clinician_of(session, each)
            name = name if owner is None else f"{name} ({owner.name})"
        elif any(
            one.clinician_id != clinician_id
            and plain_name(one.alias) == plain_name(name)
            and one.status in shares.IN_CARE
            for one in seen
        ):
            name = f"{name} (mine)"
        key = plain_name(name)
        taken[key] = taken.get(key, 0) + 1
        found[each.id or 0] = name if taken[key] == 1 else f"{name} {taken[key]}"
    return found


def plain_name(name: str) -> str:
    return " ".join(name.casefold().split())


def first_word(text: str) -> tuple[str, str]:
    """The first word and what comes after it, with its lines as they are."""
    parts = text.strip().split(maxsplit=1)
    return (parts[0] if parts else "", parts[1].strip() if len(parts) > 1 else "")


def beginnings(text: str) -> list[tuple[str, str]]:
    """Every beginning of the text that may be a name, the longest first, and what comes after it."""
    found: list[tuple[str, str]] = []
    for each in list(re.finditer(r"\S+", text))[:_LONGEST_NAME]:
        said, after = plain_name(text[: each.end()]), text[each.end() :].strip()
        found.append((said, after))
        if said.rstrip(",:;.") != said:
            found.append((said.rstrip(",:;."), after))
    return [each for each in reversed(found) if each[0]]
