"""The second level: neighbours that make one amount. One pass from left to right over a stack."""

from __future__ import annotations

from bot.reader.quantities.corrections import corrected, ranged
from bot.reader.quantities.neighbours import Neighbours
from bot.reader.quantities.products import in_sets, multiplied
from bot.reader.quantities.quantity import Quantity
from bot.reader.quantities.sums import added_up, from_to, marked


def joined(items: list[Quantity], near: Neighbours) -> list[Quantity]:
    """The amounts with neighbours put together, in order."""
    stack: list[Quantity] = []
    for item in items:
        stack.append(item)
        while len(stack) > 1:
            both = put_together(near, stack[-2], stack[-1])
            if both is None:
                break
            stack[-2:] = [both]
    return stack


def put_together(near: Neighbours, one: Quantity, other: Quantity) -> Quantity | None:
    if (
        other.first - one.last > 8
        or one.kind == "none"
        or (one.kind == "clock" and other.kind not in {"clock", "number"})
    ):
        return None
    gap = near.gap(one, other)
    said = " ".join(gap)
    return (
        corrected(near, one, other, gap)
        or from_to(near, one, other, said)
        or added_up(near, one, other, said)
        or ranged(near, one, other, said)
        or multiplied(near, one, other, gap, said)
        or in_sets(near, one, other, gap, said)
        or marked(near, one, other, gap)
    )
