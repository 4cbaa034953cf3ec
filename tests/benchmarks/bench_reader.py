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


def a_second(work: Callable[[], None], count: int, rounds: int) -> float:
    """Replies a second, the best of the rounds; one round before them warms up."""
    work()
    best = float("inf")
    for _ in range(rounds):
        begun = perf_counter()
        work()
        best = min(best, perf_counter() - begun)
    return count / best


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

    return a_second(ours, len(texts), 5), a_second(theirs, len(texts), 2)


def main() -> None:
    """Print the table."""
    ours, theirs = measured()
    print(f"{'':24}{'replies a second':>18}{'ms a reply':>12}")
    for name, pace in (("the reader, whole", ours), ("recogniser, two models", theirs)):
        print(f"{name:24}{pace:18,.0f}{1000 / pace:12.3f}")
    print(f"{ours / theirs:.0f} times; wanted: {WANTED}")


if __name__ == "__main__":
    main()
