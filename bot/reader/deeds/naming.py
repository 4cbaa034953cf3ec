"""Which phrases name something done, and which only sound like it."""

from __future__ import annotations

from bot.program.terms import Activity, Exercise
from bot.reader.deeds.denial import is_denied, only_said
from bot.reader.deeds.mentions import Deeds, Mention
from bot.reader.members import (
    CYCLING,
    DANCING,
    DRIVING,
    GARDENING,
    HEEL_RAISE,
    HOUSEWORK,
    JUMPING,
    MORNING,
    RUNNING,
    SPORT,
    STAIRS,
    STANDING,
    SWIMMING,
    TOE_HOLD,
    WALKING,
)
from bot.reader.quantities import MEASURES, Quantity
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_AFTER_RUNNING_OF_OTHER_THINGS = listed["deeds", "after_running_of_other_things"]
_AT_THE_WHEEL = listed["deeds", "at_the_wheel"]
_BEFORE_A_TIME = listed["deeds", "before_a_time"]
_BEFORE_CLEAN_AS_A_QUALITY = listed["deeds", "before_clean_as_a_quality"]
_COUNTED_IN_A_ROW = listed["deeds", "counted_in_a_row"]
_ON_THE_FOOT_ITSELF = listed["deeds", "on_the_foot_itself"]
_NO_WALK = listed["deeds", "rules_out_a_walk"]
_THE_WHOLE_TIME = listed["deeds", "the_whole_time"]
_WHAT_A_DOG_DOES_AT_HOME = listed["deeds", "what_a_dog_does_at_home"]
_DONE_TO_A_DRIVE = listed["deeds", "done_to_a_drive"]
_PRONOUNS_TAKEN = listed["deeds", "pronouns_taken_along"]
_TAKES_ALONG = listed["deeds", "takes_somebody_along"]
_WHAT_IS_HELD = listed["deeds", "what_is_held"]
_IN_A_PLACE = listed["deeds", "in_a_place"]
_PARTS_OF_THE_DAY = listed["deeds", "parts_of_the_day"]
_RAISES_ONLY_WITH_AMOUNT = listed["deeds", "raises_only_with_amount"]
_SINCE_WHEN_I_STOOD = listed["deeds", "since_when_i_stood"]
_CLEANED_WITH_IT = listed["deeds", "cleaned_with_it"]
_BEFORE_SO_MANY_HOURS = listed["deeds", "before_so_many_hours_stood"]
_TOWARDS_A_PLACE = listed["deeds", "towards_a_place"]
_WORDS_OF_HOLDING = listed["deeds", "words_of_holding"]

_NEAR = 7
_LONG_FOR_STANDING_UP = 20
_TAKEN_TO = frozenset({SPORT, DANCING, SWIMMING, RUNNING, JUMPING})
_ON_WHEELS = ("activity cycling", "activity driving")

_RANK = {"not_deeds": 0, "exercise": 1, "activity": 2, "not_loading": 3}
"""Of phrases for the same words the first counts."""
_IDIOMS = ("rest constant", "rest intermittent", "rest none", "score first")


_NAMED = {
    "not_deeds": ("not_deeds", ""),
    "not_loading": ("not_loading", ""),
    **{f"activity {kind}": ("activity", str(kind)) for kind in Activity},
    **{f"exercise {kind}": ("exercise", str(kind)) for kind in Exercise},
}
"""For the labels of phrases that name anything done: the group and the kind of it."""


def _idioms(reply: Reply) -> set[int]:
    """The places of words that say how rest is or which steps are meant, not what was done."""
    return {
        at
        for label in _IDIOMS
        for phrase in reply.phrases.get(label, ())
        if phrase.last - phrase.first > 1
        for at in range(phrase.first, phrase.last)
    }


def find_mentions(deeds: Deeds) -> None:
    reply = deeds.reply
    named: list[Mention] = []
    for label, all_of in reply.phrases.items():
        if label in _NAMED:
            group, kind = _NAMED[label]
            named += [Mention(group, kind, phrase.first, phrase.last) for phrase in all_of]
    if not named:
        return
    blocked = _idioms(reply)
    if len(named) > 1:
        named.sort(key=lambda each: (each.first, -each.last, _RANK[each.group]))
    last = -1
    for each in named:
        if each.first < last or not_meant(deeds, each):
            continue
        if each.group != "not_loading" and each.first in blocked and not _stood_up_so_long(deeds, each):
            continue
        last = each.last
        if each.group != "not_deeds":
            deeds.mentions.append(each)
    deeds.mentions = without_repeats(deeds)
    deeds.firsts = [each.first for each in deeds.mentions]
    deeds.look_up_scope()
    for at, each in enumerate(deeds.mentions):
        if each.group != "not_loading":
            each.denied = is_denied(deeds, each, at)
            each.ignored = not each.denied and only_said(deeds, each)


def _only_accompanies(deeds: Deeds, each: Mention) -> bool:
    """ "toe stretch with the dog asleep beside me", "paper round on my bike": no walk of its own."""
    reply = deeds.reply
    if reply.text(each.last - 1) == "round" and each.last - each.first > 1:
        near = max(0, each.first - _NEAR), each.last + _NEAR
        return any(reply.within(label, *near) for label in _ON_WHEELS if label in reply.phrases)
    if reply.text(each.first) != "with":
        return False
    if reply.text(each.last) in _WHAT_A_DOG_DOES_AT_HOME:
        return True
    clause = reply.clause[each.first]
    return reply.text(each.first - 1) not in {"out", "up"} and any(
        reply.clause[other.first] == clause and other.last <= each.first
        for label in reply.phrases
        if label == "not_loading" or label.startswith(("exercise ", "activity "))
        for other in reply.within(label, max(0, each.first - _NEAR), each.first)
    )


def _part_of_a_minute(amount: Quantity) -> bool:
    """ "held it for half a minute, three times"."""
    return amount.kind == "minutes" and (amount.parts[0] if amount.parts else amount.value) <= 1


def _where_one_went(reply: Reply, each: Mention) -> bool:
    """ "walked to the allotment", "cycled to tennis"."""
    to = each.first - 1 - (reply.text(each.first - 1) in {"the", "my", "our"})
    if reply.text(to) != "to" or each.kind not in _TAKEN_TO | {GARDENING}:
        return False
    return any(
        other.last == to
        for label in ("activity walking", "activity cycling", "activity driving")
        for other in reply.within(label, max(0, to - _NEAR), to)
    )


def _cleaned(reply: Reply, each: Mention) -> bool:
    """ "hoovered two floors and the stairs", "mopped the stairs": what was cleaned."""
    if "activity housework" not in reply.phrases:
        return False
    near = reply.within("activity housework", max(0, each.first - _NEAR), each.first)
    if near and reply.text(near[-1].last) == "and" and reply.text(near[-1].last - 1).endswith("ing"):
        return False  # "did the hoovering and the stairs"
    return bool(near) and _CLEANED_WITH_IT.issuperset(
        word
        for at, word in enumerate(reply.said(near[-1].last, each.first), near[-1].last)
        if reply.row[at].kind is not Kind.NUMBER
    )


def _took_somebody(reply: Reply, each: Mention) -> bool:
    """ "drove the kids to football", "dropped him at dancing": where somebody else did it."""
    first, _ = reply.sentence_spans[reply.sentence[each.first]]
    clause = reply.clause[each.first]
    for at in range(each.first - 2, max(first, each.first - _NEAR) - 1, -1):
        if reply.clause[at] != clause:
            return False
        if reply.text(at) in _TAKES_ALONG:
            between = reply.within("scope others", at, each.first)
            return bool(between) or not _PRONOUNS_TAKEN.isdisjoint(reply.said(at, each.first))
    return False


def _place_of_another(reply: Reply, each: Mention) -> bool:
    """ "raises in the back garden", "a walk round the garden": where."""
    opens = next((at for at in range(each.first, each.first - 4, -1) if reply.text(at) in _IN_A_PLACE), None)
    if opens is None or reply.clause[opens] != reply.clause[each.first]:
        return False
    return any(
        other.last == opens
        for label in reply.phrases
        if label.startswith(("exercise ", "activity "))
        and not label.endswith((" gardening", " housework", " carrying"))
        for other in reply.within(label, max(0, opens - _NEAR), opens)
    )


def _place_of_jumping(reply: Reply, each: Mention) -> bool:
    """ "skipping rope at boxing 6 mins": where it was."""
    if reply.text(each.first - 1) not in {"at", "during", "for"}:
        return False
    return any(other.last == each.first - 1 for other in reply.found("activity jumping"))


def _at_a_table(reply: Reply, each: Mention) -> bool:
    """ "played 20 minutes of chess", "played 90 minutes on the organ"."""
    first, last = reply.sentence_spans[reply.sentence[each.first]]
    return not _NO_WALK.isdisjoint(reply.said(max(first, each.first - _NEAR), min(last, each.last + _NEAR)))


def _stood_up_so_long(deeds: Deeds, each: Mention) -> bool:
    """ "stood up the full ten hours", "stood up all shift": not the getting up."""
    reply, at = deeds.reply, each.last + 1
    if each.kind != STANDING or reply.text(each.last) != "up":
        return False
    while reply.text(at) in _BEFORE_SO_MANY_HOURS and not reply.amounts_within(at, at + 1):
        at += 1
    if reply.text(at) in _THE_WHOLE_TIME - {"again", "since", "from", "today"}:
        return True
    return any(q.kind == "minutes" and q.value >= _LONG_FOR_STANDING_UP for q in reply.amounts_within(at, at + 1))


def without_repeats(deeds: Deeds) -> list[Mention]:
    """The mentions, two of one kind side by side as one: "standing" "behind the bar"."""
    kept: list[Mention] = []
    for each in deeds.mentions:
        if kept and kept[-1].last == each.first and (kept[-1].group, kept[-1].kind) == (each.group, each.kind):
            kept[-1].last = each.last
        else:
            kept.append(each)
    return kept


def not_meant(deeds: Deeds, each: Mention) -> bool:
    reply = deeds.reply
    word, after, before = reply.text(each.first), reply.text(each.last), reply.text(each.first - 1)
    if each.group == "not_loading":
        if word in _PARTS_OF_THE_DAY and before in _BEFORE_A_TIME:
            return True  # "10 mins at lunch"
        if word == "call" and after == "it":
            return True  # "40 lengths, call it 35 min"
        if before in {"the", "a", "my"} and reply.text(each.first - 2) in _AT_THE_WHEEL:
            return True  # "drove the coach 6 hrs"
        # "to the cinema" is where the walk went.
        return not _TOWARDS_A_PLACE.isdisjoint(reply.said(each.first - 3, each.first))
    if each.group == "not_deeds":
        return False
    if before == "a" and reply.text(each.first - 2) in {"like", "as"}:
        return True
    if word == "gym" or (word == "the" and reply.text(each.first + 1) == "gym"):
        # "skipping at the gym": where, not what.
        first, last = reply.sentence_spans[reply.sentence[each.first]]
        others = [
            label
            for label in reply.phrases
            if label.startswith("activity ")
            and reply.within(label, max(first, each.first - 12), min(last, each.last + 12))
        ]
        return len(others) > 1
    if before in _COUNTED_IN_A_ROW and word == "running":
        return True  # "third morning running"
    if (
        word == "on"
        and each.kind == WALKING
        and reply.text(each.first + 1) == "foot"
        and "activity stairs" in reply.phrases
    ):
        return True  # "4 flights up on foot"
    if word == "on" and each.kind == WALKING and before in _ON_THE_FOOT_ITSELF:
        return True  # "a wound on foot"
    if (
        word == "flight"
        and before not in {"a", "1", "another", "each", "per", "every"}
        and after not in {"of", "up", "down"}
    ):
        return True  # by air
    if before in {"on", "the", "a", "my"} and each.kind in {STAIRS, CYCLING}:
        near_exercise = any(
            reply.within(f"exercise {exercise}", max(0, each.first - 7), each.last + 7) for exercise in Exercise
        )
        if near_exercise and "on" in reply.said(each.first - 2, each.first) and not deeds.amount_beside(each):
            return True  # "raises on the stairs", "the one on the stair with the toes bent back"
    if _where_one_went(reply, each) or (each.kind == STAIRS and _cleaned(reply, each)):
        return True
    if each.kind in _TAKEN_TO and before in {"to", "from", "at"} and _took_somebody(reply, each):
        return True
    if (
        each.kind == GARDENING
        and reply.text(each.last - 1) in {"garden", "gardens", "yard"}
        and _place_of_another(reply, each)
    ):
        return True
    if word == "drive" and before in {"the", "my", "our"} and reply.text(each.first - 2) in _DONE_TO_A_DRIVE:
        return True  # "cleared the drive of snow"
    if each.kind == WALKING and _only_accompanies(deeds, each):
        return True
    if each.kind == SPORT and (_place_of_jumping(reply, each) or (word == "played" and _at_a_table(reply, each))):
        return True
    if word in {"at", "behind"} and each.kind == DRIVING:
        # "fell asleep at the wheel": where; "at the wheel all day", "7 hours at the wheel": what was done
        timed = any(q.kind in MEASURES for q in reply.amounts_within(each.first - _NEAR, each.last + _NEAR))
        return not timed and _THE_WHOLE_TIME.isdisjoint(reply.said(each.last, each.last + 3))
    if word in {"round", "around"} and each.kind == WALKING:
        # "carried him round the zoo": where, not what.
        first, last = reply.sentence_spans[reply.sentence[each.first]]
        return any(
            reply.within(label, max(first, each.first - 12), min(last, each.last + 12))
            for label in reply.phrases
            if label.startswith("activity ") and label != "activity walking"
        )
    if word == "treadmill":
        if any(reply.text(other.first - 1) not in {"not", "no", "never"} for other in reply.found("activity running")):
            each.kind = RUNNING
        return False
    if each.kind == STANDING:
        if after == "up" and (
            reply.text(each.last + 1).endswith("ing") or reply.text(each.last + 1) in {"all", "for", "most"}
        ):
            return False
        if _stood_up_so_long(deeds, each):
            return False
        if after == "by" and reply.text(each.last + 1) in {"the", "my", "our", "a", "an"}:
            return False  # "stood by the fire two hours"
        if after in {"up", "by", "out"} and word != "on" and reply.text(each.last + 1) not in {"all"}:
            return True
        return (
            before in {"i", "first"}
            and reply.text(each.first - 2) in _SINCE_WHEN_I_STOOD
            and word in {"stand", "stood"}
        )
    if each.kind == STAIRS and reply.asked is MORNING and "on" in reply.said(each.first - 2, each.first):
        return True
    if each.kind == STAIRS and before in {"the", "on", "my"} and "on" in reply.said(each.first - 2, each.first):
        # "raises on the stairs": where, not what.
        near = reply.within("exercise heel_raise", max(0, each.first - 7), each.first)
        if near:
            return True
    if each.kind == DRIVING:
        return after == "me"
    if each.kind == RUNNING and word in {"runs", "running"}:
        return (after in _AFTER_RUNNING_OF_OTHER_THINGS and after not in {"in"}) or before in {
            "days",
            "nights",
            "weeks",
        }
    if each.kind == TOE_HOLD and word in _WORDS_OF_HOLDING and each.last - each.first == 1:
        held = [q for q in deeds.amounts_around(each) if q.kind in {"seconds", "hold"} or _part_of_a_minute(q)]
        return not any(q.kind != "minutes" for q in held) and (not held or after not in _WHAT_IS_HELD)
    if each.kind == HEEL_RAISE and word == "hr":
        return True
    if each.kind == HEEL_RAISE and word in _RAISES_ONLY_WITH_AMOUNT and each.last - each.first == 1:
        amounts = [
            q
            for q in deeds.amounts_around(each)
            if q.kind in {"sets", "setcount", "reps"} or (q.kind == "number" and q.last == each.first)
        ]
        return not amounts
    if each.kind == HOUSEWORK and word in {"clean", "washing"}:
        joined = each.last - each.first == 1 and after in {"bill", "and", "sheets"}
        return joined or before in _BEFORE_CLEAN_AS_A_QUALITY
    return False
