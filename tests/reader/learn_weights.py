"""Learns the weights of the second net for warning signs from the labelled replies of this folder.

    python -m tests.reader.learn_weights [--without NAME ...]

One logistic regression with a ridge penalty for each sign, over words and pairs of neighbours that stand in at least two replies.
`--without` leaves out files whose name contains NAME, to see what the net is worth on writers that it has not learnt from.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize  # type: ignore[import-untyped]
from scipy.sparse import csr_matrix  # type: ignore[import-untyped]

from bot.program.terms import RedFlag
from bot.reader import second_net
from bot.reader.flags import without_figures
from bot.reader.frames import TOKEN
from bot.reader.second_net import NOT_LEARNT, features, share

FOLDER = Path(__file__).parent
WEIGHTS = Path(second_net.__file__).parent / "vocabulary" / "flag_weights.txt"
PENALTY = 0.0005
SEEN_IN = 3
"""Replies that a word or pair must stand in."""
SMALLEST = 0.2
"""Weights below this are left out."""
_HEAD = """\
# Weights of words and pairs of neighbours for each warning sign, in hundredths, learnt from labelled replies by
# `python -m tests.reader.learn_weights`; do not edit by hand. First each sign with its base, then "word<tab>sign:weight ...",
# signs by their place in the first row.
"""


def labelled(without: list[str]) -> dict[str, set[str]]:
    """Every reply of the folder with its signs."""
    replies: dict[str, set[str]] = {}
    for path in sorted(FOLDER.rglob("*.jsonl")):
        if not any(each in path.name for each in without):
            for line in path.read_text(encoding="utf-8").splitlines():
                reply = json.loads(line)
                replies[reply["text"]] = set(reply.get("gold", reply)["red_flags"])
    return replies


def main() -> None:
    """Learn and write the file."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--without", nargs="*", default=[])
    parser.add_argument("--penalty", type=float, default=PENALTY)
    options = parser.parse_args()
    replies = labelled(options.without)
    found = [features(TOKEN.findall(without_figures(text))) for text in replies]
    often = Counter(name for each in found for name in each)
    names = sorted(name for name, count in often.items() if count >= SEEN_IN)
    place = {name: number for number, name in enumerate(names)}
    rows, columns, values = [], [], []
    for row, each in enumerate(found):
        known = [place[name] for name in each if name in place]
        rows.extend([row] * len(known))
        columns.extend(known)
        values.extend([share(len(known))] * len(known))
    matrix = csr_matrix((values, (rows, columns)), shape=(len(found), len(names)))
    base: list[str] = []
    weights: dict[str, list[str]] = {}
    for number, code in enumerate(each for each in RedFlag if each not in NOT_LEARNT):
        wanted = np.array([code.value in signs for signs in replies.values()], dtype=float)

        def loss(guess: Any, wanted: Any = wanted) -> tuple[float, Any]:
            margins = matrix @ guess[:-1] + guess[-1]
            missed = 1 / (1 + np.exp(-margins)) - wanted
            # log(1 + e^m) - y m, and its slope
            cost = float(np.sum(np.logaddexp(0, margins) - wanted * margins))
            slope = np.append(matrix.T @ missed, missed.sum())
            penalty = options.penalty * len(found)
            cost += penalty / 50 * 0.5 * float(guess[:-1] @ guess[:-1])
            slope[:-1] += penalty / 50 * guess[:-1]
            return cost, slope

        learnt = minimize(loss, np.zeros(len(names) + 1), jac=True, method="L-BFGS-B", options={"maxiter": 300}).x
        base.append(f"{code.value}:{learnt[-1]:.2f}")
        for name, weight in zip(names, learnt[:-1], strict=True):
            if abs(weight) >= SMALLEST:
                weights.setdefault(name, []).append(f"{number}:{round(weight * 100)}")
    lines = [f"{name}\t{' '.join(each)}" for name, each in sorted(weights.items())]
    WEIGHTS.write_text(_HEAD + "\n".join([" ".join(base), *lines]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
