"""What an amount is."""

from __future__ import annotations

from dataclasses import dataclass

MEASURES = frozenset({"minutes", "seconds", "km", "steps", "count"})


@dataclass(slots=True)
class Quantity:
    """An amount from token `first` up to `last`. Never changed; not frozen, since many are made for each reply.

    Kinds: minutes, seconds, km, steps, count (flights), sets (`sets` of `value`), hold (`sets` of `value` seconds), setcount,
    reps, times, number, score (said to be out of ten), clock, none (a number that is no amount of the reader's).
    """

    kind: str
    first: int
    last: int
    value: float = 0.0
    sets: int = 1
    each: bool = False
    """Said of one time of several ("10 min a go")."""
    total: bool = False
    """Said to be all of it ("20 min altogether")."""
    doubtful: bool = False
    """Perhaps a time of day or a name: a score only where there is no other."""
    tagged: bool = False
    """Corrected or from-to: surely the number that is meant."""
    parts: tuple[float, ...] = ()
    """The amounts it was multiplied or added up from."""
