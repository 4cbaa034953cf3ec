"""How a chart shows each thing: by shape, hatch and word, never by colour alone. All greys, so that print shows the same."""

from __future__ import annotations

from dataclasses import dataclass

from bot.program.terms import Cause, Decision, Phase, Step

INK = "#000000"
DARK = "#555555"
MIDDLE = "#9a9a9a"
BAND = "#c4c4c4"
LIGHT = "#d9d9d9"
SHADE = "#e9e9e9"
PALE = "#f0f0f0"
PAPER = "#ffffff"


@dataclass(frozen=True, kw_only=True, slots=True)
class Mark:
    """A block's hatch and grey, its letter or short word, and its word. Only blocks have a hatch, only points a marker."""

    word: str
    letter: str = ""
    hatch: str = ""
    face: str = PAPER
    marker: str = ""


DECISION: dict[Decision, Mark] = {
    Decision.STOP: Mark(word="stop", letter="S", hatch="xxxx", face=LIGHT),
    Decision.UNLOAD: Mark(word="unload", letter="U", hatch="....", face=PAPER),
    Decision.REST: Mark(word="rest", letter="R", hatch="////", face=PAPER),
    Decision.RESUME: Mark(word="start again", marker=">"),
    Decision.PROGRESS: Mark(word="step up", marker="^"),
    Decision.HOLD: Mark(word="hold", marker="_"),
}
"""Stop, unload and rest are blocks; the others are points on the line of days."""

PHASE: dict[Phase, Mark] = {
    Phase.INFLAMMATORY: Mark(word="inflammatory", letter="infl.", hatch="....", face=PAPER),
    Phase.REPARATIVE: Mark(word="reparative", letter="rep.", face=PALE),
    Phase.REMODELLING: Mark(word="remodelling", letter="rem.", hatch="--", face=LIGHT),
}

CAUSE: dict[Cause, Mark] = {
    Cause.INCREASE: Mark(word="increase", letter="I"),
    Cause.OVERDONE: Mark(word="walk overdone", letter="W"),
    Cause.OTHER: Mark(word="other load", letter="O"),
    Cause.UNKNOWN: Mark(word="unknown", letter="?"),
}

STEP: dict[Step, tuple[str, str]] = {
    Step.SEATED_BOTH: ("seated\nboth", "1"),
    Step.SEATED_ONE: ("seated\none", "2"),
    Step.STANDING_BOTH: ("standing\nboth", "3"),
    Step.UP_BOTH_DOWN_ONE: ("up both\ndown one", "4"),
    Step.STANDING_ONE: ("standing\none", "5"),
    Step.ONE_ON_TOWEL: ("one on\ntowel", "6"),
    Step.HOPS: ("hops", "7"),
}
"""Each heel-raise step in words that stand on two short lines, and its number where there is no room for them."""
