"""Which numbers are pain scores and of what, how pain is at rest, and how much of the plan was done."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass

from bot.program.terms import About, Asked, PlanDone, RestPattern
from bot.reader.phrases import Found
from bot.reader.quantities import Quantity
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_NEAR = 7
"""Tokens between a score and the words that say what it is of."""


@dataclass(frozen=True, slots=True)
class Score:
    """A number that can be a pain score, with what it was taken for."""

    value: int
    role: str
    """first, worst, rest, eased, past, other or plain."""
    strength: int
    """How plainly it is a score: 3 said to be one, 2 beside a word of pain, 1 by itself, 0 otherwise."""
    at: int
    last: int
    tagged: bool


class Scores:
    """The scores of a reply, after the deeds have taken their amounts."""

    def __init__(self, reply: Reply) -> None:
        self.reply = reply
        self.times: set[int] = set()
        """Amounts that go on a list of times of day."""
        self._unknown_after = False

    def all(self) -> list[Score]:
        found: list[Score] = []
        for index, amount in enumerate(self.reply.amounts):
            if index in self.reply.used or amount.kind not in {"score", "number"}:
                continue
            if amount.kind == "number" and amount.value > 10 and not self._off_the_scale(amount):
                continue
            score = self._score(amount, index)
            if score is not None:
                found.append(score)
        return self._corrected(found)

    def _off_the_scale(self, amount: Quantity) -> bool:
        """ "11!" in answer to the morning's question."""
        reply = self.reply
        only = len(reply.amounts) == 1 and reply.asked is Asked.MORNING and amount.value <= 15
        return only and self._isolated(amount, *reply.sentence_spans[reply.sentence[amount.first]])

    def _corrected(self, scores: list[Score]) -> list[Score]:
        """ "four. scratch that, I was half asleep, five": a score that is taken back goes."""
        kept: list[Score] = []
        for each in scores:
            taken_back = bool(kept) and (
                self.reply.within("cue strong_correction", kept[-1].last, each.at)
                or (
                    self.reply.text(kept[-1].last + 1) == "sorry"
                    and self.reply.sentence[kept[-1].at] == self.reply.sentence[each.at]
                )
            )
            if kept and taken_back and kept[-1].role not in {"past", "other"} and each.at - kept[-1].last <= 16:
                if each.strength < 0:
                    continue
                back = kept.pop()
                role = back.role if each.role == "plain" else each.role
                each = Score(each.value, role, max(each.strength, back.strength), each.at, each.last, True)
            kept.append(each)
        return kept

    def _score(self, amount: Quantity, index: int) -> Score | None:
        reply = self.reply
        value = min(10, math.ceil(amount.value))
        before, after = reply.text(amount.first - 1), reply.text(amount.last)
        said = amount.kind == "score"
        if not said and not self._can_be(amount, before, after):
            return None
        first, last = reply.sentence_spans[reply.sentence[amount.first]]
        role = self._role(amount, first, last)
        isolated = self._isolated(amount, first, last)
        strength = 3 if said else 2 if self._by_pain(amount, first) else 1 if isolated else 0
        stated = before in {"was", "is", "at"} or (
            before in {"a", "an"} and reply.text(amount.first - 2) in listed("scores", "score")
        )
        strength = max(strength, 1) if stated else strength
        if (
            said
            and amount.last < last
            and reply.row[amount.last].kind is Kind.WORD
            and reply.text(amount.last) not in reply.words.score_filler
        ):
            strength = 1  # "10/10 annoying"
        earlier = reply.amounts[index - 1] if index else None
        gone_on = (
            earlier is not None
            and (earlier.kind == "clock" or earlier.doubtful or index - 1 in self.times)
            and reply.said(earlier.last, amount.first) in ([","], ["and"], [",", "and"], ["or"])
        )
        if gone_on and not said:
            self.times.add(index)  # "up at 1, 3 and 5"
        if (
            index
            and earlier is not None
            and index - 1 not in reply.used
            and earlier.kind in {"score", "number"}
            and earlier.value <= 10
            and reply.said(earlier.last, amount.first) in ([","], ["then"], [",", "then"])
        ):
            strength = max(strength, 1)
        if before == "and" and after in listed("scores", "score_2"):
            strength = max(strength, 1)
        if gone_on or amount.doubtful or (before == "for" and not said and after != "pain"):
            strength = -1
        if self._unknown_after:
            strength = min(strength, 0)
        return Score(value, role, strength, amount.first, amount.last, amount.tagged)

    def _can_be(self, amount: Quantity, before: str, after: str) -> bool:
        reply = self.reply
        self._unknown_after = False
        if amount.tagged:
            return True
        if after == "of" and reply.text(amount.last + 1) == "pain":
            return True
        if after == "of" and reply.text(amount.last + 1) in listed("scores", "can_be"):
            return False
        if amount.value == 1 and reply.row[amount.first].by_words and after in listed("scores", "can_be_2"):
            return after == "or" or (after == "of" and reply.text(amount.last + 1) == "pain")
        if before in listed("scores", "can_be_3") and not (before in {"did", "take"} and after in {"", "."}):
            return False
        if (
            reply.row[amount.first].by_words
            and amount.value == 1
            and before not in reply.words.score_cues
            and before not in {"", ".", ",", ";", ":", "or"}
        ):
            return False
        if amount.last >= len(reply.row) or reply.row[amount.last].kind is not Kind.WORD:
            return after not in {"%", "x"}
        if after in reply.words.score_filler or self._is_role_word(amount.last):
            return True
        # An unknown word: not what is counted, where nothing else stands in the clause ("eight abeg.").
        opens = amount.first == 0 or reply.clause[amount.first] != reply.clause[amount.first - 1]
        ends = amount.last + 1 >= len(reply.row) or reply.row[amount.last + 1].kind is Kind.MARK
        counted = after.endswith("s") or after in reply.words.units or after in reply.words.other_units
        cued = self._by_pain(amount, reply.sentence_spans[reply.sentence[amount.first]][0]) or any(
            reply.within(f"score {role}", max(0, amount.first - 3), amount.first) for role in ("first", "worst")
        )
        return (opens or cued) and ends and amount.value != 1 and not counted

    def _is_role_word(self, at: int) -> bool:
        return any(
            found.first == at
            for label in (
                "score first",
                "score worst",
                "score rest",
                "score pain",
                "rest constant",
                "rest intermittent",
                "rest none",
                "cue yesterday",
                "score past",
                "score today",
                "score eased",
            )
            for found in self.reply.within(label, at, at + 6)
        )

    def _isolated(self, amount: Quantity, first: int, last: int) -> bool:
        reply = self.reply
        clause = reply.clause[amount.first]
        one, other = amount.first, amount.last
        while one > max(first, amount.first - 6) and reply.clause[one - 1] == clause:
            one -= 1
        while other < min(last, amount.last + 6) and reply.clause[other] == clause:
            other += 1
        words = [
            at for at in range(one, other) if reply.row[at].kind is Kind.WORD and not amount.first <= at < amount.last
        ]
        return len(words) <= 2

    def _by_pain(self, amount: Quantity, first: int) -> bool:
        for found in self.reply.within("score pain", max(first, amount.first - _NEAR), amount.first):
            if set(self.reply.said(found.last, amount.first)) <= listed("scores", "link") | listed("scores", "by_pain"):
                return True
        after = self.reply.within("score pain", amount.last, amount.last + 3)
        return bool(after) and after[0].first == amount.last

    def _role(self, amount: Quantity, first: int, last: int) -> str:
        reply = self.reply
        start, end = amount.first, amount.last
        if self._past(start, end, first, last):
            if (
                reply.asked is Asked.MORNING
                and reply.text(start - 1) in listed("scores", "role")
                and "worst" in reply.said(start - 3, start)
                and "yesterday" in reply.said(max(first, start - 6), end + 3)
            ):
                return "worst"
            return "past"
        if "if" in reply.said(max(first, start - 7), start) and "," not in reply.said(max(first, start - 5), start):
            after_if = reply.said(max(first, start - 7), start)
            if (
                not {"this", "mine", "then"} & set(after_if[after_if.index("if") :])
                and "honest" not in after_if
                and not {"honest", "anything"} & set(reply.said(end, end + 6))
            ):
                return "other"
        if self._other(start, end, first):
            return "other"
        places: list[tuple[int, int, str]] = []
        for role, reach in (("first", 12), ("worst", _NEAR + 2), ("rest", _NEAR), ("eased", 5)):
            for found in reply.within(f"score {role}", max(first, start - reach), start):
                gap = reply.said(found.last, start)
                if role == "eased" and not set(gap) <= listed("scores", "link") | listed("scores", "role_2"):
                    continue
                if (
                    role == "first"
                    and reply.asked is Asked.EVENING
                    and "," in gap
                    and any(each.isdigit() for each in gap)
                ):
                    continue
                if role in {"first", "rest"} and self._broken(gap, role):
                    continue
                if role == "worst" and self._broken(gap, role):
                    continue
                places.append((found.last, found.last - found.first, role))
        best = max(places, default=None)
        if best is not None and best[2] == "eased":
            best = max((each for each in places if each[2] == "worst"), default=best)
        behind = self._behind(end, last)
        if best is None or (best[2] == "eased" and behind is not None and behind[0] == "first"):
            return behind[0] if behind is not None else "plain"
        if (
            behind is not None
            and behind[1] == 0
            and start - best[0] >= 2
            and behind[0] != best[2]
            and best[2] != "eased"
        ):
            return behind[0]
        if (
            behind is not None
            and behind[0] == "worst"
            and best[2] == "first"
            and behind[1] <= 3
            and any(each[0].isdigit() or each == "," for each in reply.said(best[0], start))
        ):
            return "worst"
        return best[2]

    @staticmethod
    def _broken(gap: list[str], role: str) -> bool:
        """Whether what stands between parts the words from the number."""
        if any(each.isdigit() for each in gap) and role != "first":
            return True
        if role == "rest":
            return bool(listed("scores", "broken") & set(gap))
        if role == "worst":
            return len(gap) > _NEAR or ("," in gap and len(gap) > 3)
        return bool({"but", "then"} & set(gap)) or sum(each.isdigit() for each in gap) > 1

    def _behind(self, end: int, last: int) -> tuple[str, int] | None:
        reply = self.reply
        stop = min(last, end + 7)
        for at in range(end, stop):
            if reply.text(at) in listed("scores", "behind") or reply.row[at].kind is Kind.NUMBER:
                stop = at
                break
            if reply.text(at) == "and" and at > end:
                stop = at
                break
        best: tuple[int, str] | None = None
        for role in ("first", "worst", "rest"):
            for found in reply.within(f"score {role}", end, min(last, stop + 3)):
                if found.first < stop and (best is None or found.first < best[0]):
                    best = (found.first, role)
        return (best[1], best[0] - end) if best is not None else None

    def _past(self, start: int, end: int, first: int, last: int) -> bool:
        """A score of another day: "was a 6 yesterday", "7 last week", "6... no, that was yesterday"."""
        reply = self.reply
        for found in reply.within("score past", end, min(last, end + 7)):
            gap = reply.said(end, found.first)
            if set(gap) & listed("scores", "past") or any(each.isdigit() for each in gap):
                continue
            if "same" in reply.said(max(first, start - 3), start) or set(gap) & listed("scores", "past_2"):
                continue
            if reply.text(found.first) == "once":
                continue
            if reply.asked is not Asked.MORNING and "yesterday" in reply.said(found.first, found.last):
                continue
            if reply.text(found.first) in {"last"} and found.last - found.first == 1:
                continue
            return True
        for found in reply.within("score past", max(first, start - 9), start):
            gap = reply.said(found.last, start)
            if (
                {",", ":", "and"} & set(gap)
                or set(gap) & listed("scores", "past_3")
                or any(each.isdigit() for each in gap)
            ):
                continue
            if reply.text(found.first) in {"last", "once"} and found.last - found.first == 1:
                continue
            before = reply.text(found.first - 1)
            if before in listed("scores", "past_4") and not set(gap) & {"which", "when"}:
                continue
            day = reply.said(found.first, found.last)
            if reply.asked is not Asked.MORNING and "yesterday" in day:
                continue
            if listed("scores", "past_5") & set(gap) or len(gap) > 6:
                continue
            return bool(listed("scores", "past_6") & set(gap)) or not gap
        # "5ish. Wait, that was Sunday's. 3."
        for found in reply.within("score past", end, min(len(reply.row), end + 9)):
            if reply.said(found.first - 2, found.first) == ["that", "was"] and not any(
                each[0].isdigit() for each in reply.said(end, found.first)
            ):
                return True
        # "6... no hang on that was yesterday. 4."
        tail = reply.said(end, min(len(reply.row), end + 9))
        return bool(
            "yesterday" in tail
            and {"was"} & set(tail)
            and listed("scores", "past_7") & set(tail[: tail.index("yesterday")])
            and not any(each.isdigit() for each in tail[: tail.index("yesterday")])
        )

    def _other(self, start: int, end: int, first: int) -> bool:
        """A score of another part, thing or person."""
        reply = self.reply
        after = reply.text(end)
        if (
            after == "for"
            and end - start > 1
            and reply.text(end + 1) in {"the", "my", "a"}
            and reply.text(end + 2) not in listed("scores", "other")
        ):
            return True
        if (
            after == "for"
            and {reply.text(end + 1), reply.text(end + 2)} & listed("scores", "other_2")
            and reply.text(end + 2) not in listed("scores", "other")
        ):
            return True
        proxy = bool(reply.found("cue proxy"))
        for found in reply.within("score other_part", max(first, start - 6), start) if not proxy else []:
            gap = reply.said(found.last, start)
            if set(gap) <= listed("scores", "link") - {"heel", "foot", "pain"} | listed("scores", "other_3"):
                return reply.text(found.first - 1) not in {"with", "by", "and"} or reply.text(
                    found.first
                ) not in listed("scores", "other_4")
        for found in reply.within("score other_part", end, end + 3):
            gap = reply.said(end, found.first)
            if (
                set(gap) <= listed("scores", "other_5")
                and reply.text(found.first) not in {"back", "cold"}
                and not self._by_pain_only(start)
            ):
                return True
        for found in reply.within("score other_part", end, min(len(reply.row), end + 8)):
            if reply.said(found.first - 3, found.first - 1) == ["that", "was"] and not any(
                each[0].isdigit() for each in reply.said(end, found.first)
            ):
                return True
        # "my daughter is 8", "she turned 7"
        before = reply.said(max(first, start - 3), start)
        return bool(
            before[-1:] in (["is"], ["was"], ["turned"], ["turns"], ["nearly"])
            and any(
                each.first <= start - 2 < each.last
                for each in reply.within("scope others", max(first, start - 4), start)
            )
        )

    def _by_pain_only(self, start: int) -> bool:
        return self.reply.text(start - 1) in {"pain", "heel", "foot"}


def first_and_worst(reply: Reply, scores: list[Score]) -> tuple[int | None, int | None, RestPattern | None, int | None]:
    """First-step pain, worst pain, a rest pattern that a score at rest gives, and a number without a meaning."""
    rest: RestPattern | None = None
    bare: int | None = None
    live = [each for each in scores if each.role not in {"past", "other"}]
    if not live:
        # "yesterday 5" in answer to today's prompt is no score; but a lone number with a day is better than nothing in the evening.
        live = [each for each in scores if each.role == "past" and reply.asked is Asked.EVENING and len(scores) == 1]
    for each in live:
        if each.role == "rest" and each.value == 0:
            rest = RestPattern.NONE
    if any(each.strength >= 0 for each in live):
        live = [each for each in live if each.strength >= 0 or _sided(reply, each)]
    firsts = [each for each in live if each.role == "first"]
    worsts = [each for each in live if each.role == "worst"]
    plain = [each for each in live if each.role == "plain"]
    eased = [each for each in live if each.role == "eased"]
    if reply.asked is Asked.MORNING:
        chosen = _chosen_first(reply, firsts, plain)
        if chosen is None and not firsts and worsts and not plain and not _named_worst(reply, worsts[0]):
            chosen, worsts = worsts[0], worsts[1:]
        if chosen is None and worsts:
            opening = reply.sentence_spans[reply.sentence[worsts[0].at]][0]
            if reply.within("score first", opening, worsts[0].at):
                chosen, worsts = worsts[0], worsts[1:]  # "the first time was the worst, say a 4"
        if chosen is not None and not worsts:
            worsts = [
                each
                for each in plain
                if each.at > chosen.at
                and each.value > chosen.value
                and each.strength >= 1
                and _deed_between(reply, chosen, each)
            ]
        if chosen is None and eased:
            chosen = eased[-1]
        if chosen is not None and not worsts:
            worsts = [
                each for each in eased if each.at > chosen.at and each.value > chosen.value and each.strength >= 1
            ]
        worst = max(worsts, key=lambda each: each.value, default=None)
        if worst is not None and chosen is not None and worst.value < chosen.value and not _named_worst(reply, worst):
            worst = None  # "4 on the landing, 2 by the time I reached the kitchen"
        if worst is None and chosen is not None and reply.found("cue same_worst"):
            worst = chosen
        return _noted(reply, "first_step_pain", chosen), _noted(reply, "worst_pain", worst), rest, bare
    if reply.asked is Asked.EVENING:
        day_worst = [
            each
            for each in firsts
            if reply.within("score worst", max(0, each.at - 12), each.at)
            and reply.within("score worst", max(0, each.at - 12), each.at)[-1].last
            - reply.within("score worst", max(0, each.at - 12), each.at)[-1].first
            == 1
        ]
        candidates = [*worsts, *plain]
        if not candidates and not firsts:
            candidates = eased
        worst = _chosen_worst(reply, candidates)
        first = max(firsts, key=lambda each: each.value, default=None)
        if worst is None and first is not None and (day_worst or reply.found("cue same_worst")):
            worst = first
        if first is None and worst is not None:
            one, _ = reply.sentence_spans[reply.sentence[worst.at]]
            same = bool(reply.within("cue same_worst", one, worst.at) and reply.within("score first", one, worst.at))
            if same or reply.within("cue same_first", worst.at, len(reply.row)):
                first = worst
        if (
            worst is None
            and first is not None
            and first.strength >= 2
            and len(live) == 1
            and reply.within("score worst", 0, len(reply.row))
        ):
            worst = first
        return _noted(reply, "first_step_pain", first), _noted(reply, "worst_pain", worst), rest, bare
    surely = [each for each in plain if each.strength >= 2]
    if not surely and not worsts and any(label.startswith("activity") for label in reply.phrases):
        surely = [
            each
            for each in [*plain, *eased]
            if each.strength >= 0 and reply.text(each.at - 1) in listed("scores", "first_and_worst")
        ]
    if surely:
        worsts = [*worsts, *surely]
    elif plain:
        bare = plain[-1].value
    first = max(firsts, key=lambda each: each.value, default=None)
    worst = max(worsts, key=lambda each: each.value, default=None)
    return _noted(reply, "first_step_pain", first), _noted(reply, "worst_pain", worst), rest, bare


def _named_worst(reply: Reply, score: Score) -> bool:
    """Whether the words before the score say "worst" in so many words."""
    return any(
        word.startswith(("worst", "max", "peak", "highest", "worse"))
        for found in reply.within("score worst", max(0, score.at - 9), score.last + 7)
        for word in reply.said(found.first, found.last)
    )


def _deed_between(reply: Reply, one: Score, other: Score) -> bool:
    return any(
        one.last <= found.first < other.at
        for label, all_of in reply.phrases.items()
        if label.startswith("activity ")
        for found in all_of
    )


def _noted(reply: Reply, what: str, score: Score | None) -> int | None:
    if score is None:
        return None
    first = score.at
    while (
        first > max(0, score.at - 3)
        and reply.clause[first - 1] == reply.clause[score.at]
        and reply.row[first - 1].kind is Kind.WORD
    ):
        first -= 1
    reply.note(what, first, score.last)
    return score.value


def _sided(reply: Reply, score: Score) -> bool:
    sides = listed("scores", "sided_sides")
    at = score.at - 1
    while at >= max(0, score.at - 10) and reply.row[at].kind is not Kind.NUMBER:
        if reply.text(at) in sides:
            return True
        at -= 1
    return bool(sides & set(reply.said(score.last, score.last + 3)))


def _chosen_first(reply: Reply, firsts: list[Score], plain: list[Score]) -> Score | None:
    pool = firsts or plain
    if not pool:
        return None
    tagged = [each for each in pool if each.tagged]
    if tagged:
        return tagged[-1]
    sided = [each for each in [*firsts, *plain] if _sided(reply, each)]
    if len(sided) > 1:
        return max(sided, key=lambda each: each.value)
    if firsts:
        best = max(each.strength for each in firsts)
        return (
            next(each for each in firsts if each.strength == best)
            if best >= 2 and firsts[0].strength == 0
            else firsts[0]
        )
    best = max(each.strength for each in plain)
    return next(each for each in plain if each.strength == best)


def _chosen_worst(reply: Reply, pool: list[Score]) -> Score | None:
    if not pool:
        return None
    tagged = [each for each in pool if each.tagged]
    literal = [each for each in pool if each.role == "worst" and _named_worst(reply, each)]
    named = literal or [each for each in pool if each.role == "worst" or each.strength >= 2]
    if tagged and not [each for each in named if not each.tagged and each.role == "worst"]:
        return tagged[-1]
    if named:
        if not literal:
            named += [
                each
                for each in pool
                if each.strength == 1 and reply.text(each.at - 1) in listed("scores", "chosen_worst")
            ]
        return max(named, key=lambda each: each.value)
    alone = [each for each in pool if each.strength == 1]
    if alone:
        sided = [each for each in alone if _sided(reply, each)]
        return max(sided or alone, key=lambda each: each.value)
    return pool[-1]


# -- rest


_GAP_OK = 5


def rest_pattern(reply: Reply) -> tuple[RestPattern | None, bool]:
    """The pattern at rest that is said, and whether it was said of rest itself; denial turns "constant" into "intermittent"."""
    found: list[tuple[int, RestPattern, int, int]] = []
    for pattern in (RestPattern.NONE, RestPattern.INTERMITTENT, RestPattern.CONSTANT):
        for each in reply.found(f"rest {pattern}"):
            kind = _with_scope(reply, each, pattern)
            if kind is not None:
                found.append((each.first, kind, each.first, each.last))
    free = _free_at_rest(reply)
    if free is not None:
        found.append((free[0], RestPattern.NONE, *free))
    if not found:
        return None, False
    kinds = {each[1] for each in found}
    chosen: RestPattern
    if free is not None and RestPattern.CONSTANT not in kinds:
        chosen = RestPattern.NONE
        if RestPattern.INTERMITTENT in kinds and _twinge(reply, found):
            chosen = RestPattern.INTERMITTENT
    elif RestPattern.CONSTANT in kinds and RestPattern.INTERMITTENT in kinds:
        chosen = max(found)[1]
    elif RestPattern.NONE in kinds and RestPattern.INTERMITTENT not in kinds:
        chosen = RestPattern.NONE
    elif RestPattern.CONSTANT in kinds:
        chosen = RestPattern.CONSTANT
    else:
        chosen = RestPattern.INTERMITTENT
    for _, kind, first, last in found:
        if kind is chosen:
            reply.note("rest_pattern", first, last)
    return chosen, free is not None


def _twinge(reply: Reply, found: list[tuple[int, RestPattern, int, int]]) -> bool:
    """Whether the intermittent part speaks of rest too ("fine lying down mostly, an odd twinge")."""
    return any(
        kind is RestPattern.INTERMITTENT and listed("scores", "twinge") & set(reply.said(first, last))
        for _, kind, first, last in found
    )


def _with_scope(reply: Reply, each: Found, pattern: RestPattern) -> RestPattern | None:
    before = reply.said(max(0, each.first - 5), each.first)
    near = before[-2:]
    if pattern is RestPattern.CONSTANT:
        timed = reply.amounts_within(max(0, each.first - 3), each.first)
        if timed and timed[-1].kind == "minutes" and timed[-1].last == each.first:
            return None  # "2 hours continuous"
        if near[-1:] in (["she"], ["he"], ["they"], ["who"], ["kids"], ["dog"]):
            return None
        if {"not", "never", "isnt", "nor"} & set(near) or near[-1:] == ["no"]:
            return RestPattern.INTERMITTENT
        if listed("scores", "deeds") & set(before) and not listed("scores", "with_scope") & set(
            before + reply.said(each.first, each.last)
        ):
            return None
        if reply.text(each.last) in listed("scores", "with_scope_2") or {"if", "when"} & set(near):
            return None
        if reply.text(each.first) == "not" and reply.text(each.first - 1) in {"do", "does"} and "if" in before:
            return None
    if (
        pattern is RestPattern.INTERMITTENT
        and ({"not", "never", "even", "no"} & set(near))
        and not {"but", "only"} & set(near)
        and reply.text(each.first) != "not"
    ):
        return None
    if (
        pattern is RestPattern.INTERMITTENT
        and reply.amounts_within(max(0, each.first - 3), each.first)
        and reply.amounts_within(max(0, each.first - 3), each.first)[-1].kind == "minutes"
        and reply.amounts_within(max(0, each.first - 3), each.first)[-1].last == each.first
    ):
        return None  # "danced two hours on and off"
    if pattern is RestPattern.INTERMITTENT and listed("scores", "with_scope_3") & set(before):
        return None
    if (
        pattern is RestPattern.NONE
        and reply.asked is not Asked.MORNING
        and each.last - each.first <= 3
        and "rest" not in reply.said(each.first, each.last)
    ):
        return None
    return pattern


def _free_at_rest(reply: Reply) -> tuple[int, int] | None:
    """A place of rest and a word of no pain near each other in one sentence: "nothing when I sit", "lying down it is fine"."""
    places = reply.found("place places")
    frees = reply.found("place free")
    if not places or not frees:
        return None
    firsts = [each.first for each in frees]
    inside = {at for q in reply.amounts if q.last - q.first > 1 for at in range(q.first, min(q.last, q.first + 20))}
    for place in places:
        if place.first in inside:
            continue
        if (
            place.last - place.first == 1
            and reply.text(place.first) in {"night", "otherwise", "reading"}
            and reply.asked is not Asked.MORNING
        ):
            continue
        if (
            reply.text(place.first) in {"rest"}
            and reply.text(place.last) in listed("scores", "free_at_rest")
            and reply.text(place.last) == "of"
        ):
            continue
        at = bisect_left(firsts, place.first - 9)
        while at < len(frees) and frees[at].first <= place.last + 8:
            free = frees[at]
            at += 1
            if free.first < place.last and place.first < free.last:
                # "no pain lying down": the longest of both overlap only where one phrase holds the other.
                continue
            if reply.sentence[free.first] != reply.sentence[place.first]:
                continue
            one, other = (free, place) if free.last <= place.first else (place, free)
            gap = reply.said(one.last, other.first)
            if _joins(reply, gap, one is place, free, place):
                return one.first, other.last
    return None


def _joins(reply: Reply, gap: list[str], place_first: bool, free: Found, place: Found) -> bool:
    known = len(gap) <= 10 and set(gap) <= listed("scores", "gap_words")
    if not known and not (
        len(gap) <= 5 and not set(gap) & listed("scores", "gap_stops") and not any(each[0].isdigit() for each in gap)
    ):
        return False
    if "," in gap and not place_first and "when" not in gap and "at" not in gap and len(gap) > 2:
        return False
    word = reply.text(free.first)
    before = reply.text(free.first - 1)
    if before in {"not", "never", "less"} and free.last - free.first == 1:
        return False
    if word in listed("scores", "joins") and free.last - free.first == 1:
        following = reply.text(free.last)
        if word == "no" and following not in {"", ".", ",", ";", "pain"}:
            return False
        if word in {"0", "zero", "nil"} and following in {"/", "out", "min"} and not place_first:
            return True
        if not place_first and word in listed("scores", "joins_2") and "," in gap:
            return False
        if word == "good" and following in {"rest", "night", "sleep", "morning"}:
            return False
    if (
        free.last - free.first == 1
        and reply.text(free.last) not in listed("scores", "after_free")
        and free.last != place.first
    ):
        return False
    place_words = reply.said(place.first, place.last)
    if set(place_words) & listed("scores", "joins_3") and not {"pain", "hurt", "ache"} & set(
        reply.said(free.first, free.last)
    ):
        return False
    return not (
        place_first
        and gap[:1] == [","]
        and "when" not in place_words
        and not listed("scores", "joins_4") & set(place_words)
    )


# -- the plan


def plan_done(reply: Reply) -> tuple[PlanDone | None, About, bool]:
    """How much of the plan was done, the day it speaks of, and whether "rested" alone says so."""
    for kind in (PlanDone.SOME, PlanDone.NONE, PlanDone.ALL):
        for each in reply.found(f"plan {kind}"):
            if _plan_meant(reply, each, kind):
                reply.note("plan_done", each.first, each.last)
                words = reply.said(each.first, each.last)
                return kind, reply.day_at(each.first), "rested" in words or "rest" in words or "lazy" in words
    return None, About.TODAY, False


def _plan_meant(reply: Reply, each: Found, kind: PlanDone) -> bool:
    before = reply.said(max(0, each.first - 3), each.first)
    after = reply.text(each.last)
    inside = reply.said(each.first, each.last)
    first, last = reply.sentence_spans[reply.sentence[each.first]]
    if reply.text(last - 1) == "?" and reply.text(first) in listed("scores", "plan_meant"):
        return False
    said_before = reply.said(max(first, each.first - 4), each.first)
    if ":" in said_before:
        said_before = said_before[len(said_before) - said_before[::-1].index(":") :]
    if listed("scores", "plan_meant_2") & set(said_before) and "plan" not in inside[:1]:
        return False
    if after == "tomorrow":
        return False
    if kind is PlanDone.SOME and (
        "100" in inside or before[-1:] == ["every"] or (each.first and reply.text(each.first - 1) == "100")
    ):
        return False
    if kind is PlanDone.ALL and before[-1:] and before[-1] in listed("scores", "plan_meant_3"):
        return False
    if kind is PlanDone.ALL:
        if listed("scores", "plan_meant_4") & set(before[-2:]):
            return False
        if before[-1:] and before[-1] in listed("scores", "plan_meant_5"):
            return False
        if inside[:1] in (["to"], ["as"], ["like"]) and not listed("scores", "plan_meant_6") & set(
            reply.said(first, last)
        ):
            return False
        if inside == ["like", "you", "said"]:
            return False
        return not (inside[-1:] == ["everything"] and after in listed("scores", "plan_meant_7"))
    if kind is PlanDone.NONE:
        if (
            before[-1:]
            and before[-1] in listed("scores", "plan_meant_8")
            and inside[:1] in (["nothing"], ["none"], ["not"], ["no"])
        ):
            return False
        if inside[-1:] == ["any"] and (
            after in listed("scores", "plan_meant_9") and reply.text(each.last + 1) not in {"it", "the", "them", "my"}
        ):
            return False
        if after in listed("scores", "plan_meant_10") or (after == "else" and "nothing" in inside):
            return False
        if inside == ["nothing", "at", "all"] or inside == ["nothing", "else"] or inside == ["not", "a", "thing"]:
            return False
        if (
            inside[:1] == ["not"]
            and inside[-1:] == ["done"]
            and reply.text(each.first - 1) in {"is", "are", "have", "was"}
            and len(inside) == 2
        ):
            return {"exercises", "plan", "exercise", "programme"} & set(before) != set()
        return not ("rest" in inside and before[-1:] == ["the"])
    if kind is PlanDone.SOME:
        if "but" in inside and inside[-1] in listed("scores", "goes_on"):
            return False  # "plan done but extra walking"
        if inside[:1] in (["nearly"], ["almost"]) and after not in listed("scores", "plan_meant_11"):
            return False
        if inside[:1] == ["half"] and set(inside) & {"it"} and before[-1:] in (["other"], ["first"], ["second"]):
            return False
        if inside[:2] == ["did", "some"] or inside == ["bit", "of", "it"]:
            return (after in {"", ".", ",", ";", "of", "exercises"} and after != "exercises") or (
                after == "of" and reply.text(each.last + 1) in {"it", "the", "them", "my"}
            )
        if inside[:1] in (["half"], ["only"]) or inside[:2] in (
            ["did", "half"],
            ["about", "half"],
            ["only", "half"],
            ["managed", "half"],
        ):
            return _half_of_plan(reply, each, inside)
        return True
    return True


def _half_of_plan(reply: Reply, each: Found, inside: list[str]) -> bool:
    after = reply.text(each.last)
    if inside[-1] in {"half", "of", "the", "my"}:
        if after in listed("scores", "half_of_plan"):
            following = {reply.text(each.last + step) for step in range(3)}
            return bool(listed("scores", "half_of_plan_2") & following)
        return after in listed("scores", "half_of_plan_3")
    return True
