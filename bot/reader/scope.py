"""Whether a sign that was found is the patient's own and present.

The idea is NegEx's (Chapman et al. 2001, J Biomed Inform 34:301-310) and ConText's (Harkema et al. 2009, J Biomed Inform
42:839-851): a finding is put aside when it is denied, somebody else's, long over or only asked about, as far as such words reach.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from bot.program.terms import RedFlag

_REACH = 60
"""Characters before a finding in which a word of denial is looked for; roughly NegEx's window of words."""
_WORDS = 5
_SIDE = 400
"""Characters of a sentence, before and behind the finding, that are looked at: keeps long texts linear."""
_NEW_SUBJECT = re.compile(r"\b(?:and|then|so|now) (?:i|my|the|it|now)\b")
_LIST_END = re.compile(
    r"(?:,\s*|\b(?:or|and|nor)\s+|/\s*)(?:(?:any|the|a|or|no|more|else|really|much|foot|calf|chest|leg|in|night|open|back) ?)*$"
)
_DENIED_AFTER = re.compile(
    r"\s*(?:\?|:|-|\s(?:is|was))?\s*(?:no|none|nope|nah|nothing|not at all|negative|nil|normal|absent)\b(?! \w+ (?:more|longer)| matter| wonder| idea|t? (?:good|great|better))"
)
_FINE_AFTER = re.compile(r"\s*(?:is |are |all |looks? |feels? )*(?:normal|fine|ok|okay)\b(?! until| till| before)")
_OTHERS_AFTER = re.compile(r"\W*(?:is|was)? ?(?:hers|his|theirs|not mine|not me)\b")
_QUESTION_OPENS = re.compile(
    r"\s*(?:and |but |so |hi |also )?(?:is|does|do|can|could|should|would|will|are|how|what|when|why)\b"
)
_REALLY_ASKED = re.compile(
    r"\b(?:if|when|could|would|might|supposed|ever|know)\b|^\s*(?:what (?:is|does|do)|how do|does it|do people|can it|will it|is there)\b"
)
_NOW = re.compile(
    r"\b(?:now|today|this (?:morning|evening|afternoon|week)|again|tonight|last night|yesterday|is back|are back|came back)\b"
)
_OVER = re.compile(
    r"\b(?:nothing like (?:that|this)|healed|mended|fine (?:now|since|today|ever)|gone now|ok now|not any ?more|long gone|all clear)\b"
)
_OWN_AFTER = re.compile(
    r"(?:^|\W)(?:my|i|i'm|me|mine) (?:\w+ )?(?:foot|toes?|heel|calf|leg|ankle|have|am|got|feel|fell|can't)"
)
_OWN = re.compile(r"\b(?:my|me)\b")
_BACK_TO_SELF = re.compile(
    r"[,;]\s*(?:and |but |then |so )?(?:my|i|i'm|i've|the|me)\b|\b(?:and|then|while|when|so|because|but|cos) (?:my|i|i'm|i've|the)\b|\b(?:i|i'm|i've|my) "
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Scope:
    """The words that open and end a scope, from the vocabulary."""

    negation: re.Pattern[str]
    double: re.Pattern[str]
    ends: re.Pattern[str]
    list_items: re.Pattern[str]
    others: re.Pattern[str]
    report: re.Pattern[str]
    history: re.Pattern[str]
    hypothetical: re.Pattern[str]


def _blank(pattern: re.Pattern[str], text: str) -> str:
    return pattern.sub(lambda found: "#" * len(found[0]), text)


def denied(scope: Scope, text: str, first: int, start: int, end: int) -> bool:
    """Whether a word of denial reaches the finding; a denial inside the finding is part of it ("can't feel")."""
    before = _blank(scope.double, text[max(first, start - _REACH) : start])
    ends = list(scope.ends.finditer(before))
    if ends:
        before = before[ends[-1].end() :]
    changed = list(_NEW_SUBJECT.finditer(before))
    if changed:
        before = before[changed[-1].start() :]
    found = list(scope.negation.finditer(before))
    if found:
        between = before[found[-1].end() :]
        # A comma ends a denial unless a list of signs goes on: "no fever, swelling or numbness".
        if "," not in between:
            if len(between.split()) <= _WORDS:
                return True
        elif scope.list_items.search(between) and _LIST_END.search(between):
            return True
    return bool(_DENIED_AFTER.match(text[end : end + 24]))


def _asked_only(scope: Scope, text: str, first: int, last: int, start: int) -> bool:
    if scope.hypothetical.search(text[first:start]) or re.search(
        r"\bif\b[^.;!?]*$", text[max(first, start - 50) : start]
    ):
        return True
    whole = text[first:last]
    if not whole.rstrip().endswith("?") or not _QUESTION_OPENS.match(whole) or "should i mention" in whole:
        return False
    return bool(_REALLY_ASKED.search(whole)) or not re.search(
        r"\b(?:now|since|today|this week|got|my|i|me|i'm)\b", whole
    )


def _long_over(scope: Scope, whole: str) -> bool:
    if scope.history.search(_blank(scope.double, whole)) is None:
        return False
    return _OVER.search(whole) is not None or _NOW.search(whole) is None


def _somebody_else(scope: Scope, before: str) -> bool:
    last = None
    for match in scope.others.finditer(before):
        rest = before[match.end() :]
        if not scope.report.match(rest) and not _OWN_AFTER.search(rest):
            last = match
    # "my husband fell off the ladder", but not "walked with my sister, then my foot went numb".
    return last is not None and _BACK_TO_SELF.search(before[last.end() :]) is None


def set_aside(scope: Scope, text: str, sentence: tuple[int, int], start: int, end: int, code: RedFlag) -> bool:
    """Whether the finding at `start`..`end` is denied, asked about, long over or somebody else's."""
    first, last = max(sentence[0], start - _SIDE), min(sentence[1], end + _SIDE)
    return (
        denied(scope, text, first, start, end)
        or _asked_only(scope, text, first, last, start)
        or _long_over(scope, text[first:last])
        or (_OWN.search(text[start:end]) is None and _somebody_else(scope, text[first:start]))
        or (code is not RedFlag.SELF_HARM and _OTHERS_AFTER.match(text[end : end + 16]) is not None)
        or (
            code not in {RedFlag.SELF_HARM, RedFlag.SEVERE_PAIN} and _FINE_AFTER.match(text[end : end + 20]) is not None
        )
    )
