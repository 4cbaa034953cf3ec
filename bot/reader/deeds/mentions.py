"""What a reply names as done, and what stands near each."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Set
from dataclasses import dataclass, field

from bot.reader.quantities import MEASURES, Quantity
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_BETWEEN_ACTIVITY_AND_AMOUNT = listed["deeds", "between_activity_and_amount"]
_IRREGULAR_PAST = listed["deeds", "irregular_past"]


@dataclass(slots=True)
class Mention:
    """A phrase that names something done, or something else that takes an amount along."""

    group: str
    kind: str
    first: int
    last: int
    denied: bool = False
    ignored: bool = False
    amounts: list[Quantity] = field(default_factory=list)


def in_the_past(word: str) -> bool:
    return word in _IRREGULAR_PAST or (word.endswith("ed") and len(word) > 4)


def replace_kind(amount: Quantity, kind: str, factor: float = 1.0) -> Quantity:
    """The same amount as another kind."""
    return Quantity(kind, amount.first, amount.last, amount.value * factor, amount.sets)


def replace_total(amount: Quantity) -> Quantity:
    """The same amount as the whole of it."""
    return Quantity(amount.kind, amount.first, amount.last, amount.value, amount.sets, total=True)


class Deeds:
    """The mentions of a reply in order, and what is near each."""

    def __init__(self, reply: Reply) -> None:
        self.reply = reply
        self.mentions: list[Mention] = []
        self.firsts: list[int] = []
        self.settle: list[Quantity] = []
        self.deny_ends: Set[int] = frozenset()
        self.plan_ends: Set[int] = frozenset()
        self.turns: Set[int] = frozenset()
        self.others: Set[int] = frozenset()

    def look_up_scope(self) -> None:
        """Find the words that may deny a mention. Only where there is one: most replies name nothing done."""
        self.deny_ends = self._ends("scope denies")
        self.plan_ends = self._ends("scope plans")
        self.turns = {each.first for each in self.reply.found("scope turns")}
        self.others = self._ends("scope others")

    def _ends(self, label: str) -> Set[int]:
        found = self.reply.phrases.get(label)
        return {each.last - 1 for each in found} if found else frozenset()

    def mention_at(self, at: int) -> bool:
        index = bisect_right(self.firsts, at) - 1
        return index >= 0 and self.mentions[index].first <= at < self.mentions[index].last

    def amounts_near(self, each: Mention) -> list[Quantity]:
        amounts = self.reply.amounts
        if len(amounts) <= 2:
            return amounts
        at = bisect_left(amounts, each.first, key=lambda q: q.first)
        return amounts[max(0, at - 2) : at + 3]

    def amount_beside(self, each: Mention) -> bool:
        """Whether an amount stands right before or behind: "20 min walk", "walked 20 min", "raises 3x10"."""
        sentence = self.reply.sentence
        for q in self.amounts_near(each):
            before = 0 <= each.first - q.last <= 1 and each.last - 1 <= q.last
            behind = 0 <= q.first - each.last <= 1 and sentence[q.first] == sentence[each.first]
            if not (before or behind) or q.kind in {"none", "clock", "score"}:
                continue
            if q.kind != "number" or q.value != 0:
                return True
        return False

    def amounts_around(self, each: Mention) -> list[Quantity]:
        amounts, sentence = self.reply.amounts, self.reply.sentence
        at = bisect_left(amounts, each.first, key=lambda q: q.first)
        return [q for q in amounts[max(0, at - 6) : at + 6] if sentence[q.first] == sentence[each.first]]

    def beside_last(self, amount: Quantity) -> bool:
        index = bisect_left(self.firsts, amount.first) - 1
        return (
            index >= 0
            and self.mentions[index].group != "not_loading"
            and _BETWEEN_ACTIVITY_AND_AMOUNT.issuperset(self.reply.said(self.mentions[index].last, amount.first))
        )

    def nothing_else_between(self, first: int, last: int) -> bool:
        """Whether no deed, number or new statement stands between two tokens."""
        reply = self.reply
        if any(
            reply.row[at].kind is Kind.NUMBER or reply.row[at].text in {".", ";", "and", "but", ",", "?"}
            for at in range(first, last)
        ):
            return False
        at = bisect_left(self.firsts, first)
        return at >= len(self.firsts) or self.firsts[at] >= last or self.mentions[at].group == "not_loading"

    def last_mentions(self, at: int) -> list[Mention]:
        index = bisect_left(self.firsts, at)
        return self.mentions[max(0, index - 3) : index]

    def earlier_without_amount(self, index: int, sentence: int) -> Mention | None:
        each = self.earlier_done(index, sentence)
        return None if each is None or any(q.kind in MEASURES for q in each.amounts[-4:]) else each

    def earlier_done(self, index: int, sentence: int) -> Mention | None:
        at = index
        while at >= 0 and index - at < 4:
            each = self.mentions[at]
            if self.reply.sentence[each.first] != sentence:
                return None
            if each.group == "activity" and not each.denied and not each.ignored:
                return each
            at -= 1
        return None

    def insert(self, made: Mention) -> None:
        at = bisect_left(self.firsts, made.first)
        self.mentions.insert(at, made)
        self.firsts.insert(at, made.first)

    def mentions_around(self, each: Mention) -> list[Mention]:
        at = bisect_left(self.firsts, each.first)
        return self.mentions[max(0, at - 2) : at + 3]

    def mentions_backwards(self, index: int, sentence: int) -> list[Mention]:
        found: list[Mention] = []
        at = index
        while at >= 0 and len(found) < 4 and self.reply.sentence[self.mentions[at].first] == sentence:
            found.append(self.mentions[at])
            at -= 1
        return found

    def mention_between(self, first: int, last: int, apart_from: Mention | None = None) -> bool:
        at = bisect_left(self.firsts, first)
        while at < len(self.firsts) and self.firsts[at] < last:
            if self.mentions[at].group != "not_loading" and self.mentions[at] is not apart_from:
                return True
            at += 1
        return False
