"""Red flags by words: findings first, then their scope.

The idea of scope is NegEx's (Chapman et al. 2001, J Biomed Inform 34:301-310) and ConText's (Harkema et al. 2009): a finding is
put aside when it is denied, somebody else's, long over or only asked about, as far as such words reach.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from bot.program.terms import Asked, RedFlag
from bot.reader.normalise import normalised
from bot.reader.reading import FlagFinding

_BETWEEN = r"(?:[\s,]+[\w']+){0,5}?[\s,]+"
_SENTENCE = re.compile(r"[.!?;]+(?=\s|$)|;")
_QUESTION = re.compile(r"^[^.!?;]*\?")
_DENIED_INSIDE = frozenset(
    {
        RedFlag.CLOT_SIGNS,
        RedFlag.INFECTION_SIGNS,
        RedFlag.CIRCULATION_SIGNS,
        RedFlag.JOINT_SIGNS,
        RedFlag.SYSTEMIC_SIGNS,
    }
)
"""Signs that are body part and quality with words in between, where a denial may stand ("calf not hot")."""
_REACH = 60
"""Characters before a finding in which a word of denial is looked for; roughly NegEx's window of words."""


def _pattern(alternatives: list[str], *, spaced: bool = False) -> re.Pattern[str]:
    made: list[str] = []
    for each in sorted(alternatives, key=len, reverse=True):
        # A last part that may be missing takes its gap with it.
        each = re.sub(r" ~ (\((?:[^()]|\([^()]*\))*\))\?$", "", each)
        made.append(each.replace(" ~ ", _BETWEEN))
    start = r"(?<![\w'])" if not spaced else ""
    return re.compile(start + "(?:" + "|".join(made) + r")(?!\w)")


@dataclass(frozen=True, kw_only=True, slots=True)
class _Signs:
    present: dict[RedFlag, re.Pattern[str]]
    unsure: dict[RedFlag, re.Pattern[str]]
    figures: re.Pattern[str]
    negation: re.Pattern[str]
    double: re.Pattern[str]
    ends: re.Pattern[str]
    fine: re.Pattern[str]
    others: re.Pattern[str]
    report: re.Pattern[str]
    own: re.Pattern[str]
    history: re.Pattern[str]
    hypothetical: re.Pattern[str]


@cache
def _signs() -> _Signs:
    text = files("bot.reader").joinpath("vocabulary", "flags.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    scope = data["scope"]
    return _Signs(
        present={RedFlag(code): _pattern(data[code]["present"]) for code in RedFlag},
        unsure={RedFlag(code): _pattern(data[code]["unsure"]) for code in RedFlag},
        figures=_pattern(data["figures"]["phrases"]),
        negation=re.compile(r"(?:(?<![\w'])(?:" + "|".join(scope["negation"]) + r")|n't)(?!\w)"),
        double=_pattern(scope["double_negation"]),
        ends=_pattern(scope["ends"]),
        fine=re.compile(r"^[^.;!?]{0,40}?(?:" + "|".join(scope["fine"]) + r")(?!\w)"),
        others=_pattern(scope["others"]),
        report=_pattern(scope["others_report"]),
        own=_pattern(scope["own"]),
        history=_pattern(scope["history"]),
        hypothetical=_pattern(scope["hypothetical"]),
    )


def _sentences(text: str) -> list[tuple[int, int]]:
    parts: list[tuple[int, int]] = []
    start = 0
    for match in _SENTENCE.finditer(text):
        parts.append((start, match.end()))
        start = match.end()
    parts.append((start, len(text)))
    return parts


def _denied(signs: _Signs, text: str, first: int, start: int, end: int) -> bool:
    """Whether a word of denial reaches the finding; a denial inside the finding is part of it ("can't feel")."""
    before = text[max(first, start - _REACH) : start]
    ends = list(signs.ends.finditer(before))
    if ends:
        before = before[ends[-1].end() :]
    # A comma ends a denial unless a list goes on: "no fever, swelling or numbness".
    comma = before.rfind(",")
    if (comma >= 0 and len(before) - comma > 14) or (
        comma >= 0 and re.search(r"\b(?:i|it|the|my|its|it's|is|was|has|have|feel|and then)\b", before[comma:])
    ):
        before = before[comma + 1 :]
    before = signs.double.sub(lambda m: "#" * len(m[0]), before)
    if re.search(r"\b(?:and|then|so|now) (?:i|my|the|it|now)\b", before):
        before = before[re.search(r"\b(?:and|then|so|now) (?:i|my|the|it|now)\b", before).start() :]  # type: ignore[union-attr]
    found = list(signs.negation.finditer(before))
    if found and len(before[found[-1].end() :].split()) <= 5:
        return True
    return bool(
        re.match(
            r"\s*(?:\?|:)?\s*(?:no|none|nope|nah|nothing|not at all|negative)\b(?! \w+ (?:more|longer))",
            text[end : end + 14],
        )
    )


def _set_aside(signs: _Signs, text: str, sentence: tuple[int, int], start: int, end: int, code: RedFlag) -> bool:
    first, last = sentence
    whole = text[first:last]
    if _denied(signs, text, first, start, end):
        return True
    if code in _DENIED_INSIDE and re.search(
        r"\b(?:not|no|isn't|aren't|wasn't|never|nothing)\b", text[start:end].partition(" ")[2]
    ):
        return True
    if signs.hypothetical.search(text[first:start]) or re.search(
        r"\bif\b[^.;!?]*$", text[max(first, start - 50) : start]
    ):
        return True
    if _QUESTION.match(text[start:last]) and re.match(
        r"\s*(?:is|does|do|can|could|should|would|will|are|how|what|when|why)\b", whole
    ):
        return "should i mention" not in whole and not re.search(r"\b(?:now|since|today|this week|got)\b", whole)
    past = signs.history.search(signs.double.sub(lambda m: "#" * len(m[0]), whole))
    if past is not None and (
        re.search(
            r"\b(?:nothing like (?:that|this)|healed|fine (?:now|since|today|ever)|gone now|ok now|not any ?more)\b",
            whole,
        )
        or not re.search(r"\b(?:now|today|this morning|again|tonight|is back|are back)\b", whole)
    ):
        return True
    before = text[first:start]
    own_after_other = None
    for match in signs.others.finditer(before):
        rest = before[match.end() :]
        if not signs.report.search(rest) and not re.search(
            r"(?:^|\W)(?:my|i|i'm|me|mine) (?:foot|toes?|heel|calf|leg|have|am|got|feel|fell)", rest
        ):
            own_after_other = match
    if own_after_other is not None:
        # "my husband fell off the ladder", but not "walked with my sister, then my foot went numb".
        between = before[own_after_other.end() :]
        if not re.search(
            r"[,;]\s*(?:and |but |then )?(?:my|i|i'm|the)\b|\band (?:my|i)\b|\bthen (?:my|i)\b|\b(?:i|my) ", between
        ):
            return True
    if code is not RedFlag.SELF_HARM and re.match(
        r"\W*(?:is|was)? ?(?:hers|his|theirs|not mine|not me)\b", text[end : end + 16]
    ):
        return True
    return code not in {RedFlag.SELF_HARM, RedFlag.SEVERE_PAIN} and bool(
        re.match(r"\s*(?:is |are |all |looks? |feels? )*(?:normal|fine|ok|okay)\b", text[end : end + 20])
    )


def find_flags(text: str, asked: Asked) -> tuple[FlagFinding, ...]:
    """The warning signs that a reply speaks of as the patient's own present state, with the words they rest on."""
    signs = _signs()
    plain = normalised(text, number_words=False)
    plain = signs.figures.sub(lambda m: "#" * len(m[0]), plain)
    sentences = _sentences(plain)
    found = _found(signs, plain, sentences, signs.present)
    doubtful = _found(signs, plain, sentences, signs.unsure)
    if RedFlag.BLADDER_BOWEL_SADDLE in found and RedFlag.NERVE_SIGNS in found:
        # A numb saddle is named once (contract); another nerve sign beside it stays.
        words = found[RedFlag.BLADDER_BOWEL_SADDLE]
        if found[RedFlag.NERVE_SIGNS].split()[0] in words:
            del found[RedFlag.NERVE_SIGNS]
    sure = [FlagFinding(code=code, words=words) for code, words in found.items()]
    unsure = [
        FlagFinding(code=code, words=words, certain=False) for code, words in doubtful.items() if code not in found
    ]
    return (*sure, *unsure)


def _found(
    signs: _Signs, text: str, sentences: list[tuple[int, int]], patterns: dict[RedFlag, re.Pattern[str]]
) -> dict[RedFlag, str]:
    found: dict[RedFlag, str] = {}
    for code, pattern in patterns.items():
        for match in pattern.finditer(text):
            sentence = next((each for each in sentences if each[0] <= match.start() < each[1]), sentences[-1])
            if not _set_aside(signs, text, sentence, match.start(), match.end(), code):
                found[code] = match[0]
                break
    return found
