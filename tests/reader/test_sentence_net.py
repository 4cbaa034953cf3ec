"""The third voice on warning signs: it computes what it says it does, reads word order, and stays within its bounds."""

from __future__ import annotations

import random
from math import sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.program.terms import RedFlag
from bot.reader.second_net import NOT_LEARNT
from bot.reader.sentence_net import LEAST, LONGEST, MOST, SPREAD, _net, known_as, sentence_odds, telling

WORDS = sorted(_net().places)[1_000:]


def _by_hand(tokens: list[str]) -> np.ndarray:
    """The sums of one piece by the book, a window of three rows at a time; zeros beyond the ends (Conv1d, padding 1)."""
    net = _net()
    rows = np.array([net.vectors[net.places.get(known_as(each), 0)].astype(np.float64) * net.steps for each in tokens])

    def layer(given: np.ndarray, weights: np.ndarray, base: np.ndarray) -> np.ndarray:
        padded = np.vstack([np.zeros((1, given.shape[1])), given, np.zeros((1, given.shape[1]))])
        windows = [sum(padded[at + step] @ weights[step] for step in range(3)) for at in range(len(given))]
        return np.maximum(np.array(windows) + base, 0)

    first = layer(rows, net.first, net.first_base)
    made = first + layer(first, net.second, net.second_base)
    pooled = np.concatenate([made.max(axis=0), made.sum(axis=0) / (sqrt(len(tokens)) * SPREAD)])
    return np.clip(pooled @ net.out + net.out_base, LEAST, MOST)


@pytest.mark.parametrize("length", [1, 2, 3, 24, 25, 26, 49, LONGEST])
def test_the_sums_are_those_of_two_layers_of_windows(length: int) -> None:
    tokens = random.Random(length).sample(WORDS, length)
    assert np.allclose([*sentence_odds(tokens).values()], _by_hand(tokens), atol=1e-3)


def test_of_a_long_text_the_piece_that_says_most_counts() -> None:
    plain, telling_words = ["the", "cat", "sat"] * (LONGEST // 3), ["my", "calf", "is", "swollen", "and", "hot"]
    whole = sentence_odds([*plain, "the", *telling_words])
    pieces = [sentence_odds([*plain, "the"]), sentence_odds(telling_words)]
    assert len(plain) + 1 == LONGEST
    assert whole == {code: max(each[code] for each in pieces) for code in whole}


def test_it_speaks_of_every_sign_that_is_learnt() -> None:
    assert sentence_odds(["hello"]).keys() == set(RedFlag) - NOT_LEARNT
    assert set(sentence_odds([]).values()) == {LEAST}


def test_word_order_counts() -> None:
    """Other words in the same places of a denial: what the weight of words one by one cannot tell."""
    clot = RedFlag.CLOT_SIGNS
    told = sentence_odds(["no", "pain", "in", "the", "heel", "but", "the", "calf", "is", "swollen", "and", "hot"])[clot]
    denied = sentence_odds(["pain", "in", "the", "heel", "but", "the", "calf", "is", "no", "swollen", "and", "hot"])[
        clot
    ]
    assert told != denied


@pytest.mark.parametrize(
    ("text", "code", "near"),
    [
        ("worst 3 and my whole foot has gone numb", RedFlag.NERVE_SIGNS, {"foot", "gone", "numb"}),
        ("3 today , calf swollen like a balloon", RedFlag.CLOT_SIGNS, {"calf", "swollen", "balloon"}),
        ("walked 20 min , there is pus on the sock", RedFlag.INFECTION_SIGNS, {"pus", "sock"}),
    ],
)
def test_it_tells_where_a_sign_stands(text: str, code: RedFlag, near: set[str]) -> None:
    tokens = text.split()
    assert near & {tokens[at] for at in telling(tokens, code)}


@settings(max_examples=100, deadline=None)
@given(tokens=st.lists(st.text(min_size=1, max_size=8), max_size=200))
def test_any_tokens_have_odds_within_bounds(tokens: list[str]) -> None:
    odds = sentence_odds(tokens)
    assert all(LEAST <= each <= MOST for each in odds.values())
    for code in (RedFlag.CLOT_SIGNS, RedFlag.SELF_HARM):
        assert all(0 <= at < len(tokens) for at in telling(tokens, code))
