"""Learns the weights of the second net for warning signs, and of the verdict, from the labelled replies of this folder.

    python -m tests.reader.learn_weights [--without NAME ...]
    python -m tests.reader.learn_weights --verdict FILE ...

The first learns `flag_weights.txt`: one logistic regression with a ridge penalty for each sign. `--without` leaves out files
whose name contains NAME, to see what the net is worth on writers that it has not learnt from. One thread (OMP_NUM_THREADS=1) is
quicker than many.

The second prints the weights for `verdict.toml`. It wants files that the lists have not been built on yet: what the lists find in
lines that they were built on says too much. Each file is judged by weights that have not learnt from it; the net of sentences
must be one that has not either (`python -m tests.reader.sentence_net --without NAME ...`).
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize  # type: ignore[import-untyped]
from scipy.sparse import csr_matrix  # type: ignore[import-untyped]

from bot.program.terms import RedFlag
from bot.reader import second_net
from bot.reader.flags import considered, listed_in
from bot.reader.normalise import plain_characters
from bot.reader.second_net import NOT_LEARNT, features, log_odds, share
from bot.reader.sentence_net import sentence_odds

FOLDER = Path(__file__).parent
WEIGHTS = Path(second_net.__file__).parent / "vocabulary" / "flag_weights.txt"
RIDGE = 5e-7
"""Penalty on the squares of the weights, for each reply."""
SEEN_IN = 3
"""Replies that a feature must stand in."""
SMALLEST = 0.8
"""Weights below this are left out."""
_HEAD = """\
# Weights of words, pairs of neighbours, denied words ("!word"), classes of words ("@class"), a question ("?") and the length
# ("= 2") for each warning sign, in hundredths, learnt from labelled replies by `python -m tests.reader.learn_weights`; do not
# edit by hand. First each sign with its base, then "feature<tab>sign:weight ...", signs by their place in the first row.
"""


def of_file(path: Path) -> dict[str, set[str]]:
    """The replies of one file with their signs."""
    replies = map(json.loads, path.read_text(encoding="utf-8").splitlines())
    return {each["text"]: set(each.get("gold", each)["red_flags"]) for each in replies}


def labelled(without: Iterable[str]) -> dict[str, set[str]]:
    """Every reply of the folder with its signs."""
    replies: dict[str, set[str]] = {}
    for path in sorted(FOLDER.rglob("*.jsonl")):
        if not any(each in path.name for each in without):
            replies.update(of_file(path))
    return replies


def features_of(text: str) -> dict[str, int]:
    """The features of a reply as the reader sees them."""
    by = listed_in(plain_characters(text)).by
    return {**features(by.tokens), **{f"@{name}": 0 for name in sorted(by.all_classes)}}


def regression(matrix: Any, wanted: Any, ridge: float) -> Any:
    """The weights of a logistic regression, the base last."""

    def loss(guess: Any) -> tuple[float, Any]:
        margins = matrix @ guess[:-1] + guess[-1]
        missed = 1 / (1 + np.exp(-margins)) - wanted
        # log(1 + e^m) - y m, and its slope
        cost = float(np.sum(np.logaddexp(0, margins) - wanted * margins)) + ridge / 2 * float(guess[:-1] @ guess[:-1])
        slope = np.append(matrix.T @ missed, missed.sum())
        slope[:-1] += ridge * guess[:-1]
        return cost, slope

    return minimize(loss, np.zeros(matrix.shape[1] + 1), jac=True, method="L-BFGS-B", options={"maxiter": 300}).x


def learn(replies: dict[str, set[str]], found: dict[str, dict[str, int]]) -> str:
    """The text of `flag_weights.txt` that these replies teach."""
    often = Counter(name for text in replies for name in found[text])
    names = sorted(name for name, count in often.items() if count >= SEEN_IN)
    place = {name: number for number, name in enumerate(names)}
    rows, columns, values = [], [], []
    for row, text in enumerate(replies):
        known = [place[name] for name in found[text] if name in place]
        rows.extend([row] * len(known))
        columns.extend(known)
        values.extend([share(len(known))] * len(known))
    matrix = csr_matrix((values, (rows, columns)), shape=(len(replies), len(names)))
    base: list[str] = []
    weights: dict[str, list[str]] = {}
    for number, code in enumerate(each for each in RedFlag if each not in NOT_LEARNT):
        wanted = np.array([code.value in signs for signs in replies.values()], dtype=float)
        learnt = regression(matrix, wanted, RIDGE * len(replies))
        base.append(f"{code.value}:{learnt[-1]:.2f}")
        for name, weight in zip(names, learnt[:-1], strict=True):
            if abs(weight) >= SMALLEST:
                weights.setdefault(name, []).append(f"{number}:{round(weight * 100)}")
    lines = [f"{name}\t{' '.join(each)}" for name, each in sorted(weights.items())]
    return _HEAD + "\n".join([" ".join(base), *lines]) + "\n"


def put(text: str) -> None:
    """Make these the weights that the reader uses."""
    WEIGHTS.write_text(text, encoding="utf-8")
    second_net._weights.cache_clear()


def verdict_weights(paths: list[Path], found: dict[str, dict[str, int]]) -> Any:
    """What each fact counts, learnt from replies that neither the lists nor, one file at a time, the net have seen."""
    known = labelled([])
    new = {path: of_file(path) for path in paths}
    rows: list[tuple[float, ...]] = []
    wanted: list[float] = []
    for path, replies in new.items():
        others = {text: signs for other, each in new.items() if other is not path for text, signs in each.items()}
        taught = {text: signs for text, signs in {**known, **others}.items() if text not in replies}
        put(learn(taught, found))
        for text, signs in replies.items():
            findings = listed_in(plain_characters(text))
            found_in = features(findings.by.tokens)
            odds = dict(log_odds(found_in, findings.by.all_classes))
            for candidate, facts in considered(findings, found_in, odds, sentence_odds(findings.by.tokens)):
                rows.append(facts.row()[:-1])
                wanted.append(float(candidate.code.value in signs))
    return regression(np.array(rows), np.array(wanted), 2.0)


def main() -> None:
    """Learn and write the file, or print the verdict's weights."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--without", nargs="*", default=[])
    parser.add_argument("--verdict", nargs="*", type=Path, default=[])
    options = parser.parse_args()
    replies = labelled(options.without)
    found = {text: features_of(text) for text in replies}
    if options.verdict:
        for path in options.verdict:
            found.update((text, features_of(text)) for text in of_file(path))
        print(", ".join(f"{each:.2f}" for each in verdict_weights(options.verdict, found)))
    put(learn(replies, found))


if __name__ == "__main__":
    main()
