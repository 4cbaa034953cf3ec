"""Rows of words found in a row of words, in time linear in its length.

`*` at the end of a word stands for any ending, `_` for any one word, `{n}` for a number. The rows are walked as an
automaton: which of them may still go on is one state, and a state with its steps is made when it is first met, since replies are
made of few different words. Steps that lead to the same nodes share one state; words that only `_` or `{n}` stand for share one step.
"""

from __future__ import annotations

from collections.abc import Container, Sequence

ANY_WORD = "_"
NUMBER = "{n}"
_MOST_STEPS = 20_000
"""Kept of the first step."""
_MOST_LATER_STEPS = 500
"""Kept of a later one that any word may make."""
_MOST_STATES = 20_000
"""Kept to be shared."""

Span = tuple[int, int]
Phrase = Sequence["str | Sequence[Phrase]"]
"""Words, and choices among phrases; an empty one among them may be left out."""


class _Node:
    """A place in the rows: the words that may follow, and where they lead. Most nodes end a row: they hold no tables."""

    __slots__ = ("labels", "prefixes", "sizes", "words")

    def __init__(self) -> None:
        self.words: dict[str, list[_Node]] | None = None
        self.prefixes: dict[str, list[_Node]] | None = None
        self.sizes: tuple[int, ...] = ()
        """The lengths of the beginnings in `prefixes`."""
        self.labels: tuple[str, ...] = ()

    def after(self, word: str) -> list[_Node]:
        """The nodes that a word of a row leads to, to be added to."""
        if word.endswith("*") and len(word) > 1:
            if self.prefixes is None:
                self.prefixes = {}
            self.sizes = tuple(sorted({*self.sizes, len(word) - 1}))
            return self.prefixes.setdefault(word[:-1], [])
        if self.words is None:
            self.words = {}
        return self.words.setdefault(word, [])

    @property
    def goes_on(self) -> bool:
        return self.words is not None or self.prefixes is not None

    @property
    def open(self) -> bool:
        """Not only certain words lead on, but any, any number, or any with a certain beginning."""
        return self.prefixes is not None or (
            self.words is not None and (ANY_WORD in self.words or NUMBER in self.words)
        )

    def following(self, word: str) -> list[_Node]:
        """The nodes that a word leads to."""
        nodes: list[_Node] = []
        if self.words is not None:
            words = self.words
            nodes += words.get(word, ())
            for general in _general(word):
                nodes += words.get(general, ())
        if self.prefixes is not None:
            for size in self.sizes:
                if size > len(word):
                    break
                nodes += self.prefixes.get(word[:size], ())
        return nodes

    def begins(self, word: str) -> bool:
        """Whether a beginning of the word leads on."""
        prefixes = self.prefixes
        return prefixes is not None and any(word[:size] in prefixes for size in self.sizes)


def _general(word: str) -> tuple[str, ...]:
    """What may stand for a word whatever its letters are."""
    sign = word[0]
    if sign.isdigit() or (sign == "." and len(word) > 1):
        return (NUMBER, ANY_WORD)
    return (ANY_WORD,) if sign.isalpha() else ()


def _linked(reached: list[_Node], phrase: Phrase) -> list[_Node]:
    """Hang a phrase on some nodes; the nodes where it ends."""
    for part in phrase:
        target = _Node()
        ends: dict[_Node, None] = {}
        for alternative in ((part,),) if isinstance(part, str) else part:
            last = alternative[-1] if alternative else None
            if isinstance(last, str):
                for node in _linked(reached, alternative[:-1]):
                    node.after(last).append(target)
                ends[target] = None
            else:
                ends.update(dict.fromkeys(_linked(reached, alternative)))
        reached = [*ends]
    return reached


class _State(dict[str, "_Step"]):
    """Which rows may still go on; the steps from here, each made when it is first asked for."""

    __slots__ = ("follow", "general", "most", "nodes", "open", "prefixed", "shared")

    def __init__(self, nodes: tuple[_Node, ...], shared: _States, most: int = _MOST_LATER_STEPS) -> None:
        self.nodes, self.shared, self.most = nodes, shared, most
        words = [node.words for node in nodes if node.words is not None]
        self.follow: Container[str] = words[0] if len(words) == 1 else set().union(*words)
        """Words that lead on."""
        self.prefixed = [node for node in nodes if node.prefixes is not None]
        """The nodes from which beginnings of words lead on."""
        self.open = any(node.open for node in nodes)
        """Others may lead on too."""
        self.general: dict[tuple[str, ...], _Step] = {}
        """The steps of all other words, by what stands for them."""

    def __missing__(self, word: str) -> _Step:
        if len(self) >= self.most:
            self.clear()
        if word in self.follow or any(node.begins(word) for node in self.prefixed):
            step = self._made(word)
        else:
            general = _general(word)
            found = self.general.get(general)
            step = self.general[general] = self._made(word) if found is None else found
        self[word] = step
        return step

    def _made(self, word: str) -> _Step:
        reached = [found for node in self.nodes for found in node.following(word)]
        labels = tuple(dict.fromkeys(label for node in reached for label in node.labels))
        going_on = tuple(node for node in reached if node.goes_on)
        if not going_on:
            return labels, None
        shared = self.shared
        state = shared.get(going_on)
        if state is None:
            if len(shared) >= _MOST_STATES:
                shared.clear()
            state = shared[going_on] = _State(going_on, shared)
        return labels, state


_States = dict[tuple[_Node, ...], _State]
"""The states made so far, by the nodes that they stand at."""

_Step = tuple[tuple[str, ...], _State | None]
"""What a word leads to: the labels of the rows that it ends, and those that go on."""


class Automaton:
    """All rows with their labels."""

    def __init__(self) -> None:
        self._root = _Node()
        self._root.words, self._root.prefixes = {}, {}
        self._start = _State((self._root,), {}, _MOST_STEPS)

    def add(self, phrase: Phrase, label: str) -> None:
        """One more phrase under a label. Not after the first search.

        Its choices are not spelt out: however many rows of words it stands for, there is about one node for each word written.
        """
        for node in _linked([self._root], phrase):
            if node is not self._root and label not in node.labels:
                node.labels = (*node.labels, label)

    def labels(self, words: Sequence[str], first: int, last: int) -> set[str]:
        """The labels of all rows that lie between two places; quicker than to find where they are."""
        steps = [*map(self._start.__getitem__, words[first:last])]
        found = set().union(*[labels for labels, _ in steps])
        following = zip(steps, words[first + 1 : last], strict=False)
        for at, ((_, state), word) in enumerate(following, first + 1):
            while state is not None and (word in state.follow or state.open):
                labels, state = state[word]
                if labels:
                    found.update(labels)
                at += 1
                if at >= last:
                    break
                word = words[at]
        return found

    def find(self, words: Sequence[str], first: int = 0, last: int | None = None) -> dict[str, list[Span]]:
        """By labels, in the order of the words: for each place up to `last` where some begin, the longest row."""
        found: dict[str, list[Span]] = {}
        size = len(words) if last is None else last
        part = words if last is None and not first else words[first:size]
        for at, (labels, state) in enumerate(map(self._start.__getitem__, part), first + 1):
            if state is not None and at < size and ((word := words[at]) in state.follow or state.open):
                labels_then, then = state[word]
                if labels_then or then is not None:
                    self._go_on(found, dict.fromkeys(labels, at), labels_then, then, words, at, size)
                    continue
            for label in labels:
                if label in found:
                    found[label].append((at - 1, at))
                else:
                    found[label] = [(at - 1, at)]
        return found

    @staticmethod
    def _go_on(
        found: dict[str, list[Span]],
        longest: dict[str, int],
        labels: tuple[str, ...],
        state: _State | None,
        words: Sequence[str],
        at: int,
        size: int,
    ) -> None:
        """Follow the rows that begin at the word before `at` and go on with the word there; note the longest of each label."""
        first = at - 1
        while True:
            at += 1
            for label in labels:
                longest[label] = at
            if state is None or at >= size or not ((word := words[at]) in state.follow or state.open):
                break
            labels, state = state[word]
        for label, end in longest.items():
            if label in found:
                found[label].append((first, end))
            else:
                found[label] = [(first, end)]
