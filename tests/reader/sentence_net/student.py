"""The student: the net that the reader ships, taught to say what the teacher says."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import nn
from torch.nn import functional

from bot.program.terms import RedFlag
from bot.reader.flags import listed_in
from bot.reader.normalise import plain_characters
from bot.reader.second_net import NOT_LEARNT
from bot.reader.sentence_net import LONGEST, NUMBER, SPREAD, UNKNOWN, known_as
from tests.reader.sentence_net.teacher import CODES, batches
from tests.reader.sentence_net.texts import Vectors, listed_words

EPOCHS = 6
BATCH = 128
HIDDEN = 96
WORDS_LEFT_OUT = 0.02
"""Share of the words that the net is not shown, so that it learns to read past words it does not know."""
_NORM = 3.0
"""Length that every word's vector begins with."""
_NOTHING, _UNKNOWN = 0, 1
_STEPS = 127


def tokens_of(text: str) -> list[str]:
    """The tokens of a text as the reader's net gets them."""
    return list(listed_in(plain_characters(text)).by.tokens)


def words_of(tokens: Sequence[Sequence[str]], vectors: Vectors) -> list[str]:
    """The words that the net will know: nothing, the unknown, then those of the texts and frequent ones with a vector."""
    often = Counter(known_as(word) for each in tokens for word in each)
    common = {each for each in listed_words("common_words.txt") if each in vectors}
    words = {word for word, count in often.items() if count >= 2} | common
    return ["<nothing>", UNKNOWN, NUMBER, *sorted(words - {UNKNOWN, NUMBER})]


class Student(nn.Module):
    """Two layers of windows of three words, as `bot.reader.sentence_net` reads them."""

    def __init__(self, words: Sequence[str], vectors: Vectors) -> None:
        super().__init__()
        width = 100
        begin = np.random.default_rng(0).normal(0, 0.1, (len(words), width)).astype(np.float32)
        for place, word in enumerate(words):
            if word in vectors:
                begin[place] = _NORM * vectors[word] / np.linalg.norm(vectors[word])
        begin[_NOTHING] = 0
        self.vectors = nn.Embedding.from_pretrained(torch.tensor(begin), freeze=False, padding_idx=_NOTHING)
        self.first = nn.Conv1d(width, HIDDEN, 3, padding=1)
        self.second = nn.Conv1d(HIDDEN, HIDDEN, 3, padding=1)
        self.out = nn.Linear(2 * HIDDEN, len(CODES))

    def forward(self, numbers: Any) -> Any:
        """The log odds of each sign for each row of word numbers."""
        mask = (numbers != _NOTHING).float().unsqueeze(1)
        rows = functional.dropout(self.vectors(numbers), 0.1, self.training).transpose(1, 2)
        first = functional.relu(self.first(rows)) * mask
        second = (first + functional.relu(self.second(first))) * mask
        pooled = torch.cat([second.max(2).values, second.sum(2) / (mask.sum(2).sqrt() * SPREAD)], 1)
        return self.out(functional.dropout(pooled, 0.1, self.training))


def taught(tokens: Sequence[Sequence[str]], odds: np.ndarray, vectors: Vectors) -> tuple[list[str], Student]:
    """The words of a student and the student, which has learnt what the teacher says of texts of these tokens."""
    random.seed(0)
    torch.manual_seed(0)
    words = words_of(tokens, vectors)
    place = {word: number for number, word in enumerate(words)}
    rows = [[place.get(known_as(word), _UNKNOWN) for word in each[:LONGEST]] or [_UNKNOWN] for each in tokens]
    lengths = [len(each) for each in rows]
    said = torch.tensor(odds)
    student = Student(words, vectors)
    of_words = {id(each) for each in student.vectors.parameters()}
    rest = [each for each in student.parameters() if id(each) not in of_words]
    optimiser = torch.optim.AdamW(
        [{"params": student.vectors.parameters(), "weight_decay": 0.0}, {"params": rest, "weight_decay": 1e-4}]
    )
    steps, step = EPOCHS * (len(rows) // BATCH + 1), 0
    student.train()
    for _ in range(EPOCHS):
        for batch in batches(lengths, BATCH):
            numbers = torch.zeros((len(batch), max(3, *(lengths[each] for each in batch))), dtype=torch.long)
            for row, each in enumerate(batch):
                numbers[row, : lengths[each]] = torch.tensor(rows[each])
            hidden = (torch.rand(numbers.shape) < WORDS_LEFT_OUT) & (numbers != _NOTHING)
            found, wanted = student(numbers.masked_fill(hidden, _UNKNOWN)), said[batch]
            missed = len(CODES) * functional.binary_cross_entropy_with_logits(found, torch.sigmoid(wanted))
            missed = missed + 0.1 * functional.mse_loss(found.clamp(-8, 8), wanted.clamp(-6, 6))
            step += 1
            for group, rate in zip(optimiser.param_groups, (1e-3, 2e-3), strict=True):
                group["lr"] = rate * min(1.0, step / 200) * max(0.02, 1 - step / steps)
            optimiser.zero_grad()
            missed.backward()
            optimiser.step()
    return words, student.eval()


def write(words: Sequence[str], student: Student, path: Path) -> None:
    """Put the student where the reader finds it: word vectors in whole numbers of 8 bits, the rest in 16 bits."""
    of = {name: each.numpy() for name, each in student.state_dict().items()}
    vectors = of["vectors.weight"][_UNKNOWN:]
    steps = np.abs(vectors).max(axis=0) / _STEPS
    codes = [number for number, code in enumerate(CODES) if code not in NOT_LEARNT]

    def layer(name: str) -> np.ndarray:
        """A layer's weights for the word before, the word itself and the word behind."""
        return of[name].transpose(2, 1, 0).astype(np.float16)

    def text(lines: Sequence[str]) -> np.ndarray:
        return np.frombuffer("\n".join(lines).encode("utf-8"), dtype=np.uint8)

    np.savez_compressed(
        path,
        words=text(words[_UNKNOWN:]),
        codes=text([RedFlag(CODES[each]).value for each in codes]),
        vectors=np.clip(np.round(vectors / steps), -_STEPS, _STEPS).astype(np.int8),
        steps=steps.astype(np.float32),
        first=layer("first.weight"),
        first_base=of["first.bias"],
        second=layer("second.weight"),
        second_base=of["second.bias"],
        out=of["out.weight"][codes].T.astype(np.float16),
        out_base=of["out.bias"][codes],
    )
