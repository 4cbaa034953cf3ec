"""Phrases in a row of words, against a plain search that spells every phrase out."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.reader.automaton import Automaton, Phrase
from bot.reader.phrases import Phrases, parsed

WORDS = ["a", "b", "ab", "abc", "3"]
PART = st.sampled_from(["a", "b", "ab", "ab*", "_", "{n}"])
PHRASE: st.SearchStrategy[Phrase] = st.recursive(
    st.lists(PART, min_size=1, max_size=3),
    lambda inner: st.lists(PART | st.lists(inner | st.just([]), min_size=1, max_size=3), min_size=1, max_size=3),
    max_leaves=6,
)


def spelled_out(phrase: Phrase) -> Iterator[tuple[str, ...]]:
    """Every row of words that a phrase stands for."""
    parts = [
        [(part,)] if isinstance(part, str) else [row for alternative in part for row in spelled_out(alternative)]
        for part in phrase
    ]
    for rows in product(*parts):
        yield tuple(word for row in rows for word in row)


def fits(pattern: str, word: str) -> bool:
    """Whether a word is one that a word of a phrase stands for."""
    if pattern in {"_", "{n}"}:
        return pattern == "_" or word.isdigit()
    return word.startswith(pattern[:-1]) if pattern.endswith("*") else word == pattern


@settings(max_examples=300, deadline=None)
@given(phrases=st.lists(PHRASE, min_size=1, max_size=3), words=st.lists(st.sampled_from(WORDS), max_size=8))
def test_finds_the_longest_row_of_each_label_at_each_place(phrases: list[Phrase], words: list[str]) -> None:
    automaton = Automaton()
    expected: dict[str, list[tuple[int, int]]] = {}
    for number, phrase in enumerate(phrases):
        automaton.add(phrase, str(number))
        rows = [row for row in spelled_out(phrase) if row]
        for first in range(len(words)):
            ends = [
                first + len(row)
                for row in rows
                if first + len(row) <= len(words) and all(map(fits, row, words[first : first + len(row)]))
            ]
            if ends:
                expected.setdefault(str(number), []).append((first, max(ends)))
    assert automaton.find(words) == expected
    assert automaton.labels(words, 0, len(words)) == expected.keys()


def test_a_phrase_of_a_million_rows_costs_no_more_than_its_words() -> None:
    choice = "(one|two|three|four|five|six|seven|eight|nine|ten)"
    begun = process_time()
    phrases = Phrases({"many": [" ".join([choice] * 6)]})
    assert phrases.find(["one", "two", "three", "ten", "ten", "six"])["many"][0].last == 6
    assert process_time() - begun < 0.5


@pytest.mark.parametrize("phrase", ["walk (a|b", "walk a)", "a | b"])
def test_brackets_that_do_not_match_are_named(phrase: str) -> None:
    with pytest.raises(ValueError, match="bracket"):
        parsed(phrase)
