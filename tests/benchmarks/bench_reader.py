"""Replies a second: the reader against a general-purpose recogniser, on the same replies in the same run.

    pip install -e ".[benchmarks]"
    python -m tests.benchmarks.bench_reader

The recogniser is recognizers-text-suite with its English number and date-time models, built before the clock starts. It finds
numbers and times only; the reader reads the whole reply, warning signs too. Each side's best of several rounds counts.
"""

from __future__ import annotations

import json
import warnings
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

from bot.program.terms import Asked
from bot.reader import read

CORPUS = Path(__file__).parent.parent / "reader" / "corpus"
TURNS, ROUNDS = 4, 10
"""Turns of both, and rounds of the reader in each: it takes so little time that one round may fall into one slow moment."""
WANTED = 50
"""Times the recogniser's throughput that the reader is to reach."""


def replies() -> list[tuple[str, Asked]]:
    """The replies of the corpus that was looked at once: morning, evening and any."""
    lines = (CORPUS / "looked_at_once.jsonl").read_text(encoding="utf-8").splitlines()
    return [(each["text"], Asked(each["asked"])) for each in map(json.loads, lines)]


def recogniser() -> Callable[[str], None]:
    """Both models of the recogniser as one call. Raises `ImportError` where it is not installed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from recognizers_date_time import DateTimeRecognizer
        from recognizers_number import NumberRecognizer
        from recognizers_text import Culture

        numbers = NumberRecognizer(Culture.English).get_number_model()
        times = DateTimeRecognizer(Culture.English).get_datetime_model()

    def recognise(text: str) -> None:
        numbers.parse(text)
        times.parse(text)

    return recognise


def seconds(work: Callable[[], None]) -> float:
    """How long it takes once."""
    begun = perf_counter()
    work()
    return perf_counter() - begun


def measured() -> tuple[float, float]:
    """Replies a second of the reader and of the recogniser."""
    texts = replies()
    recognise = recogniser()

    def ours() -> None:
        for text, asked in texts:
            read(text, asked)

    def theirs() -> None:
        for text, _ in texts:
            recognise(text)

    ours()
    theirs()
    # By turns, the best of each: on a machine that others use too, a slow moment must not meet only one of them.
    turns = [(min(seconds(ours) for _ in range(ROUNDS)), seconds(theirs)) for _ in range(TURNS)]
    return len(texts) / min(one for one, _ in turns), len(texts) / min(other for _, other in turns)


def main() -> None:
    """Print the table."""
    ours, theirs = measured()
    print(f"{'':24}{'replies a second':>18}{'ms a reply':>12}")
    for name, pace in (("the reader, whole", ours), ("recogniser, two models", theirs)):
        print(f"{name:24}{pace:18,.0f}{1000 / pace:12.3f}")
    print(f"{ours / theirs:.0f} times; wanted: {WANTED}")


if __name__ == "__main__":
    main()
