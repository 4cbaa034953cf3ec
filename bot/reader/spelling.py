"""Slips of spelling put right: words that nobody spells so, when one word of the vocabulary is near."""

from __future__ import annotations

from collections.abc import Iterable

from rapidfuzz import process
from rapidfuzz.distance import OSA

_SHORTEST = 4
"""Shorter words have too many neighbours."""
_TWO_SLIPS = 8
"""From this many letters on two slips are forgiven, below it one."""
_LONGEST = 20


class Spelling:
    """Knows the words that are meant (`targets`), those that stay as they are (`leave`) and those that
    another word may be run together with (`content`)."""

    def __init__(self, targets: Iterable[str], leave: Iterable[str], content: Iterable[str]) -> None:
        self._targets = sorted({each for each in targets if len(each) >= _SHORTEST and each.isalpha()})
        self._known = frozenset(self._targets)
        self._leave = frozenset(leave)
        self._content = frozenset(content)

    def corrected(self, word: str) -> tuple[str, ...]:
        """The word or words meant; the word itself where nothing in the vocabulary is near."""
        if len(word) < _SHORTEST or len(word) > _LONGEST or word in self._known or word in self._leave:
            return (word,)
        run_together = self._parted(word)
        if run_together is not None:
            return run_together
        slips = 2 if len(word) >= _TWO_SLIPS else 1
        best = process.extractOne(word, self._targets, scorer=OSA.distance, score_cutoff=slips)
        if best is None:
            return (word,)
        target = best[0]
        # A slip in the first letter is rare; two letters changing places there is not.
        if target[0] != word[0] and target[:2] != word[1::-1]:
            return (word,)
        if best[1] == 2 and (len(target) < _TWO_SLIPS - 1 or (target[-1] != word[-1] and target[:3] != word[:3])):
            return (word,)
        return (target,)

    def _parted(self, word: str) -> tuple[str, str] | None:
        """Two words of the vocabulary run together."""
        if len(word) < 2 * _SHORTEST - 1:
            return None
        for cut in range(3, len(word) - 2):
            one, other = word[:cut], word[cut:]
            if one in self._known and other in self._known and (one in self._content or other in self._content):
                return one, other
        return None
