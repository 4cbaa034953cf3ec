"""Whether a sign that was found is the patient's own and present. The words are in `vocabulary/scope.toml`.

The idea is NegEx's (Chapman et al. 2001, J Biomed Inform 34:301-310) and ConText's (Harkema et al. 2009, J Biomed Inform
42:839-851): a finding is put aside when it is denied, somebody else's, long over or only asked about, as far as such words reach.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache, partial
from importlib.resources import files
from typing import Any

from bot.program.terms import RedFlag
from bot.reader.members import NEW_INJURY, NIGHT_PAIN, SADDLE, SELF_HARM, SEVERE_PAIN
from bot.reader.triggers import EVERYTHING, Sieve, Sought, everyday

_REACH = 60
"""Characters before a finding in which a word of denial is looked for; roughly NegEx's window of words."""
_WORDS = 5
_SIDE = 400
"""Characters of a sentence, before and behind the finding, that are looked at: keeps long texts linear."""
_NEXT = 90
"""Characters of the next sentence in which an answer, or that it is long over, is looked for."""
_CAUSED_BY_OTHERS = frozenset({NIGHT_PAIN})
"""Codes for which "me" does not make it the patient's own sign ("the kids had me up")."""
_NEARLY = frozenset({NEW_INJURY, SADDLE})
"""Codes that nearly happen."""
_NEVER_FINE_AFTER = frozenset({SELF_HARM, SEVERE_PAIN})
"""Codes that a following "fine" or "ok" does not take back ("I want to die, fine?")."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Scope:
    """The words that open and end a scope, compiled."""

    sieve: Sieve
    negation: re.Pattern[str]
    not_denial: Sought
    ends: re.Pattern[str]
    new_subject: re.Pattern[str]
    list_items: re.Pattern[str]
    list_end: re.Pattern[str]
    denied_after: re.Pattern[str]
    not_have: Sought
    fine_after: re.Pattern[str]
    near_miss: re.Pattern[str]
    missed: re.Pattern[str]
    not_missed: re.Pattern[str]
    explained: dict[str, re.Pattern[str]]
    people: Sought
    report: re.Pattern[str]
    own_after: re.Pattern[str]
    own: re.Pattern[str]
    back_to_self: re.Pattern[str]
    theirs_after: re.Pattern[str]
    no_person: re.Pattern[str]
    their_part: Sought
    his_part: Sought
    returned: re.Pattern[str]
    history: Sought
    now: re.Pattern[str]
    over: re.Pattern[str]
    hypothetical: Sought
    asked_of_death: re.Pattern[str]
    if_near: re.Pattern[str]
    opens: re.Pattern[str]
    really: re.Pattern[str]
    own_now: re.Pattern[str]
    admits: Sought
    own_self: re.Pattern[str]
    asked_except: re.Pattern[str]
    answered: re.Pattern[str]
    asks: Sought
    later: Sought
    yes: re.Pattern[str]
    curious: re.Pattern[str]
    plans: Sought
    wondering: re.Pattern[str]
    will_be: re.Pattern[str]
    will_inside: re.Pattern[str]
    stranger: re.Pattern[str]
    titled: re.Pattern[str]
    title_after: re.Pattern[str]
    has_it: re.Pattern[str]
    self_only: re.Pattern[str]
    not_self: re.Pattern[str]
    age_then: Sought
    age_now: re.Pattern[str]
    over_next: re.Pattern[str]


def _sought_whole(sieve: Sieve, alternatives: list[str]) -> Sought:
    return sieve.sought(_whole(alternatives).pattern)


def _whole(alternatives: list[str]) -> re.Pattern[str]:
    return re.compile(r"(?<![\w'])(?:" + "|".join(sorted(alternatives, key=len, reverse=True)) + r")(?!\w)")


@cache
def scope_words() -> Scope:
    """The scope words of `vocabulary/scope.toml`."""
    text = files("bot.reader").joinpath("vocabulary", "scope.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    denial, others, history, asked = data["denial"], data["others"], data["history"], data["asked"]
    fillers = "|".join(denial["list_fillers"])
    sieve = Sieve(everyday())
    sought, sought_whole = sieve.sought, partial(_sought_whole, sieve)
    return Scope(
        sieve=sieve,
        negation=re.compile(r"(?:(?<![\w'])(?:" + "|".join(denial["words"]) + r")|n't)(?!\w)"),
        not_denial=sought_whole(denial["not_denial"]),
        ends=re.compile(_whole(denial["ends"]).pattern + "|" + denial["end_marks"]),
        new_subject=_whole(denial["new_subject"]),
        list_items=_whole(denial["list_items"]),
        list_end=re.compile(rf"(?:,\s*|\b(?:or|and|nor)\s+|/\s*)(?:(?:{fillers}) ?)*$"),
        denied_after=re.compile(denial["after"]),
        not_have=sought(denial["not_have"]),
        fine_after=re.compile(denial["fine_after"]),
        near_miss=re.compile(r"(?<![\w'])(?:" + "|".join(data["near_miss"]["words"]) + r")(?: \w+)?\s*$"),
        missed=re.compile(data["near_miss"]["after"]),
        not_missed=re.compile(data["near_miss"]["after_not"]),
        explained={code: re.compile(each) for code, each in data["explained"].items()},
        people=sought_whole([f"(?:{each})(?:'?s)?" for each in others["people"]]),
        report=re.compile(r"\W*(?:\w+ )?(?:" + "|".join(others["report"]) + r")(?!\w)"),
        own_after=re.compile(others["own_after"]),
        own=re.compile(others["own"]),
        back_to_self=re.compile(others["back_to_self"]),
        their_part=sought(r"(?<![\w'])(?:" + "|".join(others["people"]) + ")" + others["their_part"]),
        his_part=sought(others["his_part"]),
        returned=re.compile(history["returned"]),
        no_person=re.compile(others["no_person"]),
        theirs_after=re.compile(others["theirs_after"]),
        history=sought_whole(history["words"]),
        now=re.compile(history["now"]),
        over=re.compile(history["over"]),
        hypothetical=sought_whole(asked["hypothetical"]),
        asked_of_death=_whole(asked["self_harm"]),
        if_near=re.compile(asked["if_near"]),
        opens=re.compile(asked["opens"]),
        really=re.compile(asked["really"]),
        own_now=re.compile(asked["own_now"]),
        admits=sought(asked["admits"]),
        own_self=re.compile(others["own_self"]),
        asked_except=_whole(asked["except"]),
        answered=re.compile(denial["answered"]),
        asks=sought_whole(denial["asks"]),
        later=sought(denial["later"]),
        yes=re.compile(asked["yes"]),
        curious=_whole(asked["curious"]),
        plans=sought_whole(asked["plans"]),
        wondering=_whole(asked["wondering"]),
        will_be=re.compile(asked["will_be"]),
        will_inside=re.compile(asked["will_inside"]),
        stranger=_whole(asked["stranger"]),
        titled=re.compile(r"(?<![\w'])(?:" + "|".join(data["titles"]["before"]) + r")\W{1,3}$"),
        title_after=re.compile(r"\W{1,3}(?:" + "|".join(data["titles"]["behind"]) + r")(?!\w)"),
        has_it=re.compile(others["has_it"]),
        self_only=re.compile(others["self_only"]),
        not_self=_whole(others["not_self"]),
        age_then=sought(history["age_then"]),
        age_now=re.compile(history["age_now"]),
        over_next=re.compile(history["over_next"]),
    )


def _blank(pattern: Sought, told: int, text: str) -> str:
    return blank(pattern.pattern, text) if pattern.among(told) else text


def blank(pattern: re.Pattern[str], text: str) -> str:
    """The text with every match made unreadable."""
    return pattern.sub(lambda found: "#" * len(found[0]), text)


def denial_before(scope: Scope, told: int, text: str, first: int, start: int) -> int | None:
    """Where the word of denial stands that reaches a sign at `start`; `None` where there is none. `told`: by `scope.sieve`."""
    begin = max(first, start - _REACH)
    if scope.negation.search(text, begin, start) is None:
        return None
    # The window may begin inside a word, of which the sieve cannot tell.
    before = _blank(scope.not_denial, told if begin == first else EVERYTHING, text[begin:start])
    ends = list(scope.ends.finditer(before))
    cut = ends[-1].end() if ends else 0
    changed = list(scope.new_subject.finditer(before, cut))
    if changed:
        cut = changed[-1].start()
    found = list(scope.negation.finditer(before, cut))
    if not found:
        return None
    between = before[found[-1].end() :]
    # A comma ends a denial unless a list of signs goes on: "no fever, swelling or numbness".
    if "," not in between:
        reaches = len(between.split()) <= _WORDS
    else:
        reaches = bool(scope.list_items.search(between) and scope.list_end.search(between))
    return begin + found[-1].start() if reaches else None


def _answered(scope: Scope, told: int, text: str, first: int, last: int, end: int) -> bool:
    """Whether the sign is named as a question, or as what was asked about, and the answer is no."""
    if scope.later.match(told, text, end, min(last, end + _NEXT)) is not None:
        return True
    if text[first:last].rstrip(" \"')").endswith("?") or scope.asks.search(told, text, first, last) is not None:
        return scope.answered.match(text[last : last + _NEXT]) is not None
    return False


def _asked_only(scope: Scope, told: int, text: str, first: int, last: int, start: int, end: int, code: RedFlag) -> bool:
    if code is SELF_HARM:
        # A thought of death counts in whatever mood it is said ("if I were gone ...").
        return (
            scope.asked_of_death.search(text, first, start) is not None
            or scope.stranger.search(text[max(first, start - 40) : start]) is not None
        )
    if scope.asked_except.search(text, first, start) or scope.admits.search(told, text, end, last + _NEXT):
        return False
    for answer in scope.yes.finditer(text, first, start):
        first = answer.end()
    near = text[max(first, start - 50) : start]
    if scope.hypothetical.search(told, text[first:start]) or scope.if_near.search(near) or scope.stranger.search(near):
        return True
    whole = text[first:last]
    asks = "?" in whole[-4:]
    if (asks or scope.opens.match(whole)) and (
        scope.curious.search(text, first, last + _NEXT)
        or (scope.own_now.search(whole) is None and scope.wondering.search(text, first, last + _NEXT))
    ):
        return True
    if (asks or scope.plans.search(told, text, first, last)) and (
        scope.will_be.search(near) or scope.will_inside.search(text, start, end)
    ):
        return True
    if not asks or not scope.opens.search(text[first:start]):
        return False
    return scope.really.search(whole) is not None or scope.own_now.search(whole) is None


def _long_over(scope: Scope, told: int, whole: str, start: int, end: int, behind: str) -> bool:
    """Whether a word of the past governs the finding at `start`..`end` of the sentence `whole`; `behind` comes after it."""
    past: list[re.Match[str]] = []
    if scope.history.search(told, whole) is not None:
        past = [*scope.history.pattern.finditer(_blank(scope.not_denial, told, whole))]
    if scope.age_then.search(told, whole) is not None and scope.age_now.search(whole + behind) is not None:
        return True
    if not past:
        return scope.over_next.match(behind) is not None
    present = list(scope.now.finditer(whole))
    if not present or scope.over.search(whole) is not None:
        return True
    if scope.returned.search(whole) is not None:
        return False

    def away(found: re.Match[str]) -> int:
        return max(start - found.end(), found.start() - end, 0)

    return min(map(away, past)) < min(map(away, present))


def _own(scope: Scope, words: str, code: RedFlag) -> bool:
    """Whether the words of a finding say themselves that it is the patient's."""
    if code is SELF_HARM:
        return scope.own_self.search(words) is not None
    return code not in _CAUSED_BY_OTHERS and scope.own.search(words) is not None


def _somebody_else(scope: Scope, told: int, before: str, opening: str) -> bool:
    if scope.people.search(told, before) is None:
        return False
    last = None
    before = blank(scope.not_self, blank(scope.no_person, before))
    for match in scope.people.pattern.finditer(before):
        rest = before[match.end() :]
        if scope.report.match(rest) or scope.own_after.search(rest):
            last = None
        else:
            last = match
    if last is None:
        return False
    # "my husband fell off the ladder", but not "walked with my sister, then my foot went numb".
    rest = before[last.end() :]
    own = scope.self_only if scope.has_it.match(rest) else scope.back_to_self
    return own.search(rest + opening) is None


def set_aside(
    scope: Scope,
    told: int,
    text: str,
    sentence: tuple[int, int],
    firsts: tuple[int, ...],
    whole: tuple[int, int],
    parts: tuple[tuple[int, int], ...],
    code: RedFlag,
) -> bool:
    """Whether the finding is denied, asked about, long over or somebody else's.

    `sentence` is the one that it begins in, `firsts` where the sentence of each part begins. `whole` is all of it, `parts` are the
    places of the words that make the finding, in order; body parts may be left out of it. A denial inside one of them belongs to the
    sign ("can't feel", "won't heal"). `told`: what `scope.sieve` tells of the text.
    """
    start, end = parts[0][0], max(each[1] for each in parts)
    first, last = max(sentence[0], start - _SIDE), min(sentence[1], end + _SIDE)
    # The window may begin inside a word, of which the sieve cannot tell.
    told = told if first == sentence[0] else EVERYTHING
    for (begin, _), its_first in zip(parts, firsts, strict=True):
        denial = denial_before(scope, told, text, its_first, begin)
        if denial is not None and not any(opens <= denial < closes for opens, closes in parts):
            return True
    after, behind = text[end : end + 24], max(end, whole[1])
    return (
        scope.denied_after.match(after) is not None
        or (behind > end and scope.denied_after.match(text[behind : behind + 24]) is not None)
        or scope.not_have.search(told, text, end, min(last, end + 60)) is not None
        or _asked_only(scope, told, text, first, last, start, end, code)
        or _answered(scope, told, text, first, last, behind)
        or _long_over(scope, told, text[first:last], start - first, end - first, text[last : last + _NEXT])
        or scope.titled.search(text[max(first, start - 24) : start]) is not None
        or scope.title_after.match(text[behind : behind + 30]) is not None
        or (
            not _own(scope, text[whole[0] : whole[1]], code)
            and _somebody_else(scope, told, text[first:start], text[start:end].partition(" ")[0])
        )
        or scope.their_part.search(told, text, max(first, whole[0] - 20), whole[1]) is not None
        or scope.his_part.search(told, text, max(first, whole[0] - 20), min(last, whole[1] + 16)) is not None
        or (code is not SELF_HARM and scope.theirs_after.match(after[:16]) is not None)
        or (code not in _NEVER_FINE_AFTER and scope.fine_after.match(after[:20]) is not None)
        or (code in _NEARLY and scope.near_miss.search(text[max(first, start - 30) : start]) is not None)
        or (
            code is NEW_INJURY
            and scope.missed.search(text, start, last) is not None
            and scope.not_missed.search(text, start, end) is None
        )
        or (code in scope.explained and scope.explained[code].search(text, first, last + _NEXT) is not None)
    )
