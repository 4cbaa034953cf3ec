"""Teaches the net of sentences; see the package's own text."""

from __future__ import annotations

import argparse
import random
from pathlib import Path

import numpy as np

from tests.reader.sentence_net import student, teacher, texts

NO_SIGN = -5.0
"""Log odds of a sign that a text cannot have by its making."""
LABELLED = 5.0
"""The same for a label, before it is put together with what the teacher says."""


def main() -> None:
    """Learn and write the file of the net."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--vectors", type=Path, required=True)
    parser.add_argument("--work", type=Path, required=True)
    parser.add_argument("--without", nargs="*", default=[])
    options = parser.parse_args()
    options.work.mkdir(parents=True, exist_ok=True)
    random.seed(texts.SEED)
    labels = texts.replies(options.without)
    tuned = teacher.kept(options.work / "teacher.pt", labels)

    vectors = texts.vectors(options.vectors)
    chance = random.Random(texts.SEED)
    own = {word.lower() for text in labels for word in text.split()}
    varied = texts.Varied(chance, texts.neighbours(vectors, own), texts.word_classes())
    no_sign = texts.without_signs(labels, chance)
    no_sign += [each for text in no_sign if (each := varied.exchanged(text, 0.1, 0.3)) not in labels]
    said_by_teacher = [*labels, *texts.signs_in_frames(chance)]
    said_by_teacher = varied.variations([*dict.fromkeys(said_by_teacher)], texts.VARIATIONS)

    place = options.work / "odds.npy"
    if not place.exists():
        np.save(place, teacher.said_of(tuned, said_by_teacher))
    odds = np.load(place)
    for row, text in enumerate(said_by_teacher[: len(labels)]):
        label = np.array([LABELLED if code in labels[text] else -LABELLED for code in teacher.CODES], dtype=np.float32)
        odds[row] = (odds[row] + label) / 2
    odds = np.concatenate([odds, np.full((len(no_sign), len(teacher.CODES)), NO_SIGN, dtype=np.float32)])

    tokens = [student.tokens_of(text) for text in [*said_by_teacher, *no_sign]]
    words, learnt = student.taught(tokens, odds, vectors)
    student.write(words, learnt, texts.VOCABULARY / "sentence_net.npz")


if __name__ == "__main__":
    main()
