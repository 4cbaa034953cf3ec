"""A reply ready to be read: its tokens, amounts, the phrases of the vocabulary in it, and where sentences and clauses end."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from bot.program.terms import About, Asked
from bot.reader.members import TODAY, YESTERDAY
from bot.reader.phrases import Found
from bot.reader.quantities import Quantity, quantities
from bot.reader.reading import Evidence
from bot.reader.tokens import Token, Tokens, tokenised
from bot.reader.vocabulary import PARTING, Vocabulary, vocabulary

_FAR = 60
"""Tokens on each side in which words of time are looked for."""
_FEW = 8
"""So few are looked through one by one."""
_STOPS = frozenset({".", ";", "?"})


@dataclass(slots=True)
class Reply:
    """What the later steps share. `used` marks amounts that have a meaning already."""

    asked: Asked
    words: Vocabulary
    tokens: Tokens
    row: list[Token]
    texts: list[str]
    text: Callable[[int], str]
    """The text of a token, or nothing a little before the first and behind the last."""
    amounts: list[Quantity]
    phrases: dict[str, list[Found]]
    sentence: list[int]
    """For each token the number of its sentence."""
    clause: list[int]
    """For each token the number of its clause: commas, dashes and words such as "but" begin a new one."""
    sentence_spans: list[tuple[int, int]]
    """Where each sentence begins and ends."""
    used: set[int] = field(default_factory=set)
    evidence: list[Evidence] = field(default_factory=list)

    def said(self, first: int, last: int) -> list[str]:
        return self.texts[first if first > 0 else 0 : last]

    def found(self, label: str) -> Sequence[Found]:
        return self.phrases.get(label, ())

    def within(self, label: str, first: int, last: int) -> Sequence[Found]:
        """The phrases of a label that lie between two tokens."""
        all_of = self.phrases.get(label)
        if not all_of:
            return ()
        if len(all_of) == 1:
            only = all_of[0]
            return all_of if first <= only.first < last >= only.last else ()
        if len(all_of) < _FEW:
            return [each for each in all_of if first <= each.first < last >= each.last]
        at = bisect_right(all_of, first - 1, key=lambda each: each.first)
        found: list[Found] = []
        while at < len(all_of) and all_of[at].first < last:
            if all_of[at].last <= last:
                found.append(all_of[at])
            at += 1
        return found

    def note(self, what: str, first: int, last: int) -> None:
        """Keep the words that a field of the reading came from."""
        row = self.row
        if first >= last or first >= len(row):
            return
        start, end = row[first].start, row[last - 1 if last < len(row) else -1].end
        self.evidence.append(Evidence(what, self.tokens.text[start:end], start, end))

    def amounts_within(self, first: int, last: int) -> list[Quantity]:
        """The amounts that begin between two tokens."""
        at = bisect_left(self.amounts, first, key=lambda each: each.first)
        found: list[Quantity] = []
        while at < len(self.amounts) and self.amounts[at].first < last:
            found.append(self.amounts[at])
            at += 1
        return found

    def day_at(self, at: int) -> About:
        """The day that the words at a place speak of, by the nearest word of time in the sentence."""
        if "cue yesterday" not in self.phrases:
            return TODAY
        first, last = self.sentence_spans[self.sentence[at]]
        first, last = max(first, at - _FAR), min(last, at + _FAR)
        yesterdays = self.within("cue yesterday", first, last)
        if not yesterdays:
            return TODAY
        todays = self.within("cue today", first, last)
        if not todays:
            return YESTERDAY
        near = min(abs(at - each.first) for each in yesterdays)
        return YESTERDAY if near <= min(abs(at - each.first) for each in todays) else TODAY


def _without_figures(phrases: dict[str, list[Found]], size: int) -> dict[str, list[Found]]:
    """The phrases but for those with a word that belongs to a figure of speech."""
    taken = bytearray(size)
    for each in phrases["figure"]:
        taken[each.first : each.last] = b"\x01" * (each.last - each.first)
    kept = {
        label: all_of if label == "figure" else [each for each in all_of if not any(taken[each.first : each.last])]
        for label, all_of in phrases.items()
    }
    return {label: all_of for label, all_of in kept.items() if all_of}


def _parts(tokens: Tokens, turns: list[Found]) -> tuple[list[int], list[int], list[tuple[int, int]]]:
    """For each token the numbers of its sentence and its clause; and where each sentence begins and ends."""
    texts = tokens.texts
    sentences: list[int] = []
    clauses: list[int] = []
    spans: list[tuple[int, int]] = []
    clause = 0
    turned = {each.first for each in turns}
    breaks = [at for at in tokens.noted if texts[at] in PARTING]
    first = 0
    for at in sorted(turned.union(breaks)) if turned else breaks:
        text = texts[at]
        if turned and at in turned:
            clauses += [clause] * (at - len(clauses))
            clause += 1
            if text not in PARTING:
                continue
        clauses += [clause] * (at + 1 - len(clauses))
        clause += 1
        if text in _STOPS:
            sentences += [len(spans)] * (at + 1 - first)
            spans.append((first, at + 1))
            first = at + 1
    size = len(texts)
    clauses += [clause] * (size - len(clauses))
    if first < size:
        sentences += [len(spans)] * (size - first)
        spans.append((first, size))
    return sentences, clauses, spans


def prepared(plain: str, asked: Asked) -> Reply:
    """Take a normalised message apart. Linear in its length; never raises."""
    words = vocabulary()
    tokens = tokenised(plain, words)
    texts = tokens.texts
    phrases = words.phrases.find(texts)
    if "figure" in phrases:
        phrases = _without_figures(phrases, len(texts))
    sentence, clause, spans = _parts(tokens, phrases.get("scope turns", []))
    return Reply(
        asked=asked,
        words=words,
        tokens=tokens,
        row=tokens.all,
        texts=texts,
        text=tokens.around.__getitem__,
        amounts=quantities(tokens, words),
        phrases=phrases,
        sentence=sentence,
        clause=clause,
        sentence_spans=spans,
    )
