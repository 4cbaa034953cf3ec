"""What was done: activities and exercises with their amounts, what was said not to be done, and how long pain took to ease."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field

from bot.program.terms import About, Activity, Asked, Exercise
from bot.reader.quantities import MEASURES, Quantity
from bot.reader.reading import ActivityDone, ExerciseDone
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_ANY = frozenset({"activity", "exercise", "not_loading", "not_deeds"})
_REACH = 6
"""Tokens before a mention in which a word of denial is looked for."""
_PLAN_REACH = 9
_LONG_CLAUSE = 40
"""A clause of so many tokens says more than an amount."""


@dataclass(slots=True)
class Mention:
    """A phrase that names something done, or something else that takes an amount along."""

    group: str
    kind: str
    first: int
    last: int
    denied: bool = False
    ignored: bool = False
    amounts: list[Quantity] = field(default_factory=list)


def _past(word: str) -> bool:
    return word in listed("deeds", "past") or (word.endswith("ed") and len(word) > 4)


def _overlaps(spans: list[tuple[int, int]], first: int, last: int) -> bool:
    return any(one < last and first < other for one, other in spans)


class Deeds:
    """One pass over a reply. After `read()` the mentions have their amounts."""

    def __init__(self, reply: Reply) -> None:
        self.reply = reply
        self.mentions: list[Mention] = []
        self.firsts: list[int] = []
        self.deny_ends = self._ends("scope denies")
        self.plan_ends = self._ends("scope plans")
        self.turns = {each.first for each in reply.found("scope turns")}
        self.others = {each.last - 1 for each in reply.found("scope others")}
        self.settle: list[Quantity] = []

    def _ends(self, label: str) -> set[int]:
        return {each.last - 1 for each in self.reply.found(label)}

    # -- mentions

    def find_mentions(self) -> None:
        reply = self.reply
        size = len(reply.row)
        blocked = bytearray(size)
        for label in ("rest constant", "rest intermittent", "rest none", "score first"):
            for phrase in reply.found(label):
                if phrase.last - phrase.first > 1:
                    blocked[phrase.first : phrase.last] = b"\x01" * (phrase.last - phrase.first)
        named = [
            Mention(group, kind, phrase.first, phrase.last)
            for label, all_of in reply.phrases.items()
            for group, _, kind in [label.partition(" ")]
            if group in _ANY
            for phrase in all_of
        ]
        rank = {"not_deeds": 0, "exercise": 1, "activity": 2, "not_loading": 3}
        named.sort(key=lambda each: (each.first, -each.last, rank[each.group]))
        last = -1
        for each in named:
            if each.first < last or self._not_meant(each):
                continue
            if each.group != "not_loading" and all(blocked[each.first : each.last]):
                continue
            last = each.last
            if each.group != "not_deeds":
                self.mentions.append(each)
        self.firsts = [each.first for each in self.mentions]
        for at, each in enumerate(self.mentions):
            if each.group != "not_loading":
                each.denied = self._denied(each, at)
                each.ignored = not each.denied and self._only_said(each)

    def _not_meant(self, each: Mention) -> bool:
        reply = self.reply
        word, after, before = reply.text(each.first), reply.text(each.last), reply.text(each.first - 1)
        if each.group == "not_loading":
            # "to the cinema" is where the walk went.
            return bool(listed("deeds", "not_meant") & set(reply.said(each.first - 3, each.first)))
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
        if word == "treadmill":
            if reply.found("activity running"):
                each.kind = Activity.RUNNING
            return False
        if each.kind == Activity.STANDING:
            if after == "up" and (
                reply.text(each.last + 1).endswith("ing") or reply.text(each.last + 1) in {"all", "for", "most"}
            ):
                return False
            if after in {"up", "by", "out"} and word != "on" and reply.text(each.last + 1) not in {"all"}:
                return True
            return (
                before in {"i", "first"}
                and reply.text(each.first - 2) in {"when", "first", "since", "as"}
                and word in {"stand", "stood"}
            )
        if (
            each.kind == Activity.STAIRS
            and reply.asked is Asked.MORNING
            and "on" in reply.said(each.first - 2, each.first)
        ):
            return True
        if (
            each.kind == Activity.STAIRS
            and before in {"the", "on", "my"}
            and "on" in reply.said(each.first - 2, each.first)
        ):
            # "raises on the stairs": where, not what.
            near = reply.within("exercise heel_raise", max(0, each.first - 7), each.first)
            if near:
                return True
        if each.kind == Activity.DRIVING:
            return after == "me"
        if each.kind == Activity.RUNNING and word in {"runs", "running"}:
            return (after in listed("deeds", "not_meant_2") and after not in {"in"}) or before in {
                "days",
                "nights",
                "weeks",
            }
        if (
            each.kind == Exercise.TOE_HOLD
            and word in {"hold", "held", "holding", "holds"}
            and each.last - each.first == 1
        ):
            held = [q for q in self._around_in_sentence(each) if q.kind in {"seconds", "hold"}]
            return not held
        if each.kind == Exercise.HEEL_RAISE and word == "hr":
            return True
        if each.kind == Exercise.HEEL_RAISE and word in listed("deeds", "not_meant_3") and each.last - each.first == 1:
            amounts = [
                q
                for q in self._around_in_sentence(each)
                if q.kind in {"sets", "setcount", "reps"} or (q.kind == "number" and q.last == each.first)
            ]
            return not amounts
        if each.kind == Activity.HOUSEWORK and word in {"clean", "washing"}:
            return after in {"bill", "and", "sheets"} or before in listed("deeds", "not_meant_4")
        return False

    def _denied(self, each: Mention, index: int) -> bool:
        return self._denied_before(each, index) or self._denied_after(each) or self._asked_or_planned(each)

    def _denied_before(self, each: Mention, index: int) -> bool:
        reply = self.reply
        noun = not _past(reply.text(each.first)) and not self._amount_beside(each)
        at, steps, crossed = each.first - 1, 0, False
        while at >= 0 and steps < _REACH + (3 if crossed else 0):
            word = reply.text(at)
            if at in self.deny_ends and not (word == "0" and not reply.row[at].by_words):
                # "no pain walking", "no bother": what is denied is not the deed.
                if word in {"no", "not", "without", "never"} and reply.text(at + 1) in listed("deeds", "denied_before"):
                    return False
                if word == "no" and reply.text(at + 1) in {"lift", "car", "bus"}:
                    return False
                return not (word in {"stopped", "zero", "nil"} and reply.text(at + 1) in {".", ","})
            if word == ":" and self.deny_ends & {at - 1, at - 2, at - 3}:
                return True
            if word in {".", ";", "?", ":", "-"} or at in self.turns:
                return False
            if word in {"and", "or", "nor", ","} or self._mention_at(at):
                if not noun and word != "or" and word != "nor":
                    return False
                crossed = True
            if reply.row[at].kind is Kind.NUMBER:
                return False
            at -= 1
            steps += 1
        return False

    def _mention_at(self, at: int) -> bool:
        index = bisect_right(self.firsts, at) - 1
        return index >= 0 and self.mentions[index].first <= at < self.mentions[index].last

    def _amount_beside(self, each: Mention) -> bool:
        """Whether an amount stands right before or behind: "20 min walk", "walked 20 min", "raises 3x10"."""
        return any(
            (each.last - 1 <= q.last <= each.first + 1 and q.last in {each.first, each.first - 1})
            or (
                q.first in {each.last, each.last + 1}
                and self.reply.sentence[q.first] == self.reply.sentence[each.first]
            )
            for q in self._near(each)
            if q.kind not in {"none", "clock", "score"} and not (q.kind == "number" and q.value == 0)
        )

    def _near(self, each: Mention) -> list[Quantity]:
        amounts = self.reply.amounts
        at = bisect_left(amounts, each.first, key=lambda q: q.first)
        return amounts[max(0, at - 2) : at + 3]

    def _around_in_sentence(self, each: Mention) -> list[Quantity]:
        amounts, sentence = self.reply.amounts, self.reply.sentence
        at = bisect_left(amounts, each.first, key=lambda q: q.first)
        return [q for q in amounts[max(0, at - 6) : at + 6] if sentence[q.first] == sentence[each.first]]

    def _denied_after(self, each: Mention) -> bool:
        reply = self.reply
        at = each.last
        steps = 0
        while reply.text(at) in listed("deeds", "denied_after") and steps < 3:
            at += 1
            steps += 1
        if steps and reply.row[at].kind is Kind.NUMBER if at < len(reply.row) else False:
            nothing = reply.row[at].value == 0 and reply.row[at].by_words and reply.text(at - 1) in {":", "-", "?"}
            return nothing and reply.text(at + 1) in {"", ".", ",", ";"}
        for found in reply.within("scope said_no", at, at + 4):
            if found.first != at:
                continue
            after = reply.text(found.last)
            if reply.text(at) == "notdone":
                return True
            if found.last - found.first > 1 and after not in {"pain"}:
                return True
            if reply.text(at) in listed("deeds", "denied_after_2"):
                ends = after in listed("deeds", "denied_after_3")
                if after == "pain" or after == "worst":
                    return steps > 0 and reply.text(at - 1) in {":", "-", "?"} and after == "worst"
                if reply.text(at) in {"not"}:
                    return after in listed("deeds", "denied_after_4") and reply.text(found.last + 1) not in {"bad"}
                if steps == 0 and reply.text(at) == "no":
                    return after in {"", ".", ";", "sorry"}
                if reply.text(each.last) == "," and reply.text(at) in {"nothing", "none", "zero", "nil"}:
                    return False
                return ends
            if reply.text(at) == "tomorrow":
                return True
            return (
                steps > 0
                or reply.text(at) in {"skipped", "cancelled", "missed", "forgot"}
                or after in {"", ".", ",", ";"}
            )
        return False

    def _asked_or_planned(self, each: Mention) -> bool:
        reply = self.reply
        first, last = reply.sentence_spans[reply.sentence[each.first]]
        at, steps = each.first - 1, 0
        while at >= first and steps < _PLAN_REACH:
            if at in self.plan_ends:
                word = reply.text(at)
                if word == "to" and reply.text(at - 1) == "back" and not _past(reply.text(each.first)):
                    return False
                if word == "to" and reply.text(at - 1) == "have" and reply.text(at - 2) in {"did", "would"}:
                    return True
                return not (
                    reply.text(at - 1) == "had"
                    or (word == "to" and reply.text(at - 1) in {"have", "need"} and reply.text(at - 2) == "had")
                )
            if at in self.turns and reply.text(at) not in listed("deeds", "asked_or_planned"):
                break
            if reply.text(at) in {",", "-"} or (reply.text(at) == "and" and reply.text(at + 1) in {"i", "did", "then"}):
                break
            at -= 1
            steps += 1
        clause = reply.clause[each.first]
        for label in ("scope history",):
            for found in reply.within(label, max(first, each.first - 12), min(last, each.last + 12)):
                if (
                    reply.clause[found.first] == clause
                    and abs(found.first - each.first) <= 8
                    and not reply.within("cue today", first, last)
                ):
                    return True
        for found in reply.within("scope plans", each.last, min(last, each.last + 5)):
            if reply.text(found.first) == "tomorrow" and reply.clause[found.first] == clause:
                return True
        if reply.text(last - 1) == "?":
            opening = reply.text(first)
            if opening in {"did", "have"} and reply.text(first + 1) == "i":
                # A question to oneself: the answer stands behind it.
                answer = reply.text(last)
                if answer in {"also", "sadly", "sorry", ","}:
                    answer = reply.text(last + 1)
                return answer in listed("deeds", "asked_or_planned_2") and not self._amount_soon(last)
            if opening in listed("deeds", "asked_or_planned_3"):
                return True
        return False

    def _amount_soon(self, at: int) -> bool:
        amounts = self.reply.amounts
        index = bisect_left(amounts, at, key=lambda q: q.first)
        return index < len(amounts) and amounts[index].first <= at + 2 and amounts[index].kind in MEASURES

    def _only_said(self, each: Mention) -> bool:
        """Named as a condition ("hurts when walking") or done by somebody else ("my husband walked the dog")."""
        reply = self.reply
        at = each.first - 1
        steps = 0
        while steps < 2 and reply.text(at) in listed("deeds", "only_said"):
            at -= 1
            steps += 1
        if at in self.others and reply.text(at) not in {"you", "physio"}:
            before = reply.text(at - 1) if reply.text(at - 1) not in {"my", "the", "our", "a"} else reply.text(at - 2)
            if before not in listed("deeds", "only_said_2") or reply.text(at) in {"he", "she", "they"}:
                return not (
                    steps and reply.text(each.first - 1) in {"a", "the", "for"} and before in {"watched", "took"}
                )
        if self._amount_beside(each) or _past(reply.text(each.first)):
            return False
        if each.group == "exercise":
            return reply.text(each.first - 1) == "from" or (
                reply.text(each.first - 1) in {"the", "my", "those", "all"} and reply.text(each.first - 2) in {"from"}
            )
        before, second = reply.text(each.first - 1), reply.text(each.first - 2)
        if before in listed("deeds", "only_said_3") and not (
            before in {"from", "with", "like"} and each.kind != Activity.WALKING and each.kind != Activity.STANDING
        ):
            if (
                reply.asked is Asked.EVENING
                and before in {"when", "while", "whilst"}
                and each.kind not in {Activity.WALKING, Activity.STANDING, Activity.RUNNING}
            ):
                return False
            return before not in {"from", "with"}
        if before in {"i", "to", "am", "just"} and second in listed("deeds", "only_said_4"):
            return True
        if before == "not" and second in {"can", "could"}:
            return True
        return before in {"can", "could"} and second == "i"

    # -- amounts

    def assign(self) -> None:
        """Give each amount to the deed that it belongs to."""
        reply = self.reply
        for index, amount in enumerate(reply.amounts):
            if index in reply.used:
                continue
            if amount.kind in {"minutes", "km", "steps", "count", "seconds"}:
                if amount.kind == "minutes" and self._is_settling(amount):
                    reply.used.add(index)
                    self.settle.append(amount)
                    reply.note("settle_minutes", amount.first, amount.last)
                    continue
                if self._is_when(amount):
                    reply.used.add(index)
                    continue
                if amount.kind == "steps" and self._steps(amount, index):
                    continue
                target = self._target(amount, index)
                if target is not None:
                    reply.used.add(index)
                    if reply.text(amount.first - 1) in {"so", "making", "ie", "is"} and any(
                        q.kind == amount.kind for q in target.amounts[-2:]
                    ):
                        amount = replace_total(amount)
                    elif reply.text(amount.first - 1) in {"so", "making", "ie", "is"}:
                        for each in self.mentions[
                            max(0, bisect_left(self.firsts, target.first) - 3) : bisect_left(self.firsts, target.first)
                        ]:
                            if each.kind == target.kind and reply.sentence[each.first] == reply.sentence[target.first]:
                                each.amounts = [q for q in each.amounts if q.kind != amount.kind]
                    target.amounts.append(amount)
            elif amount.kind == "number" and amount.value >= 5 and self._settled_in(amount):
                reply.used.add(index)
                self.settle.append(amount)
                reply.note("settle_minutes", amount.first, amount.last)
            elif amount.kind in {"sets", "hold", "setcount", "reps", "times", "number"}:
                self._assign_exercise(amount, index)

    def _settled_in(self, amount: Quantity) -> bool:
        """ "calmed down in 20": minutes without their unit."""
        reply = self.reply
        ahead = reply.said(amount.last, amount.last + 5)
        if (
            ahead[:1] == ["more"]
            and {"before", "until", "till"} & set(ahead)
            and reply.within("cue settled", amount.last, amount.last + 6)
        ):
            return True
        if reply.text(amount.first - 1) not in {"in", "within", "after"} or reply.text(amount.last) not in listed(
            "deeds", "settled_in"
        ):
            return False
        settled = reply.within("cue settled", max(0, amount.first - 5), amount.first)
        return bool(settled) and amount.first - settled[-1].last <= 2

    def _steps(self, amount: Quantity, index: int) -> bool:
        """Steps belong to a walk or a run of the same sentence, or are a walk by themselves."""
        reply = self.reply
        here = bisect_left(self.firsts, amount.first)
        near = [
            each
            for each in self.mentions[max(0, here - 2) : here + 2]
            if reply.sentence[each.first] == reply.sentence[amount.first]
            and each.group == "activity"
            and not each.denied
        ]
        fitting = [
            each
            for each in near
            if each.kind in {Activity.WALKING, Activity.RUNNING, Activity.HILLS} and not each.ignored
        ]
        if fitting:
            return False
        reply.used.add(index)
        made = Mention("activity", Activity.WALKING, amount.first, amount.last)
        made.amounts.append(amount)
        inside = self.mentions[here] if here < len(self.mentions) and self.mentions[here].first < amount.last else None
        if inside is not None and inside.kind == Activity.WALKING:
            inside.amounts.append(amount)
        else:
            self._insert(made)
        return True

    def _is_when(self, amount: Quantity) -> bool:
        """ "an hour later", "5 minutes late": says when, not how long."""
        reply = self.reply
        after = reply.text(amount.last)
        if after in {"ago", "early", "late"} or (after == "earlier" and not self._beside_last(amount)):
            return True
        if after == "later":
            return True
        if reply.text(amount.first - 1) in {"every"}:
            return True
        return (
            amount.kind == "minutes"
            and after in {"after", "before", "into"}
            and reply.text(amount.last + 1) in listed("deeds", "is_when")
            and reply.text(amount.last + 1) != "a"
            and not self._beside_last(amount)
        )

    def _beside_last(self, amount: Quantity) -> bool:
        index = bisect_left(self.firsts, amount.first) - 1
        return (
            index >= 0
            and self.mentions[index].group != "not_loading"
            and set(self.reply.said(self.mentions[index].last, amount.first)) <= listed("deeds", "after_last")
        )

    def _is_settling(self, amount: Quantity) -> bool:
        reply = self.reply
        first, last = reply.sentence_spans[reply.sentence[amount.first]]
        nxt = bisect_left(self.firsts, amount.last)
        if (
            nxt < len(self.mentions)
            and self.mentions[nxt].first - amount.last <= 2
            and self.mentions[nxt].group != "not_loading"
            and set(reply.said(amount.last, self.mentions[nxt].first)) <= {"of", "a", "slow", "gentle"}
        ):
            return False
        linking_before = listed("deeds", "is_settling_linking_before")
        for found in reversed(reply.within("cue settled", max(first, amount.first - 14), amount.first)):
            between = reply.said(found.last, amount.first)
            guess = listed("deeds", "is_settling_guess")
            if between[:1] == [","] and (reply.asked is Asked.MORNING or len(between) > 1) and set(between) <= guess:
                return True
            if (
                "," in between
                and reply.asked is Asked.MORNING
                and between[-1] == ","
                and len(between) <= 12
                and not self._mention_between(found.last, amount.first)
            ):
                return True
            if set(between) <= linking_before or (len(between) <= 4 and self._nothing_else(found.last, amount.first)):
                return True
        linking_after = listed("deeds", "is_settling_linking_after")
        for found in reply.within("cue settled", amount.last, min(last, amount.last + 9)):
            between = reply.said(amount.last, found.first)
            if (
                between[-3:-1] == ["and", "it"]
                and between[-1] in {"had", "has", "was"}
                and not self._beside_last(amount)
                and not self._mention_between(amount.last, found.first)
            ):
                return True
            if (
                between
                and not set(between) <= linking_after
                and not (len(between) <= 5 and self._nothing_else(amount.last, found.first))
            ):
                continue
            if ("," in between or "and" in between or "then" in between) and self._beside_last(amount):
                continue
            return True
        if reply.said(amount.last, amount.last + 5) == [".", "that", "is", "how", "long"]:
            return True
        if reply.asked is Asked.MORNING and reply.said(amount.first - 3, amount.first) == ["for", "the", "first"]:
            return True
        took = reply.text(amount.first - 1) in {"took", "takes", "taking"} or (
            reply.text(amount.first - 2) in {"took", "takes", "taking"}
            and reply.text(amount.first - 1) in listed("deeds", "is_settling")
        )
        return (
            took
            and reply.asked is Asked.MORNING
            and not any(first <= each.first < amount.first and not each.denied for each in self._some(amount.first))
        )

    def _nothing_else(self, first: int, last: int) -> bool:
        """Whether no deed, number or new statement stands between two tokens."""
        reply = self.reply
        if any(
            reply.row[at].kind is Kind.NUMBER or reply.row[at].text in {".", ";", "and", "but", ",", "?"}
            for at in range(first, last)
        ):
            return False
        at = bisect_left(self.firsts, first)
        return at >= len(self.firsts) or self.firsts[at] >= last or self.mentions[at].group == "not_loading"

    def _some(self, at: int) -> list[Mention]:
        index = bisect_left(self.firsts, at)
        return self.mentions[max(0, index - 3) : index]

    def _target(self, amount: Quantity, index: int) -> Mention | None:
        reply = self.reply
        here = bisect_left(self.firsts, amount.first)
        inside = self.mentions[here] if here < len(self.mentions) and self.mentions[here].first < amount.last else None
        if inside is not None and inside.group == "activity" and not inside.denied:
            return inside
        before = self.mentions[here - 1] if here else None
        if before is not None and before.last > amount.first:
            before = self.mentions[here - 2] if here > 1 else None
        nxt = bisect_left(self.firsts, amount.last)
        after = self.mentions[nxt] if nxt < len(self.mentions) else None
        if amount.kind == "seconds":
            return self._hold(amount, before, after, index)
        if amount.kind == "count":
            return self._stairs(amount, before, after)
        sentence = reply.sentence[amount.first]
        gap_before = (
            reply.said(before.last, amount.first) if before is not None and amount.first - before.last <= 40 else [" "]
        )
        gap_after = (
            reply.said(amount.last, after.first) if after is not None and after.first - amount.last <= 40 else [" "]
        )
        same_before = before is not None and reply.sentence[before.last - 1] == sentence
        same_after = after is not None and reply.sentence[after.first] == sentence
        close_before = same_before and set(gap_before) <= listed("deeds", "after_last") and "," not in gap_before
        close_after = same_after and len(gap_after) <= 5 and set(gap_after) <= listed("deeds", "before_next")
        if after is not None and after.group == "exercise":
            close_after = False
            if amount.kind == "minutes" and after.kind == Exercise.TOE_HOLD and not gap_after and amount.value <= 5:
                return self._minutes_held(amount, after, index)
        if (
            before is not None
            and before.group == "exercise"
            and not (before.kind == Exercise.TOE_HOLD and amount.kind == "minutes" and amount.value <= 5)
        ):
            before = self._earlier(here - 1, sentence)
            same_before = before is not None
            close_before = False
            gap_before = reply.said(before.last, amount.first) if before is not None else [" "]
        elif before is not None and before.group == "exercise" and close_before:
            return self._minutes_held(amount, before, index)
        if close_after and close_before and after is not None and before is not None:
            if after.group == "not_loading":
                return before
            if not gap_after and self._has_amount_after(after, nxt):
                return before
            if gap_after[:2] in (["of", "my"], ["of", "the"], ["of", "a"]) and gap_before:
                return before
            if {"for", ":", "about"} & set(gap_before) and gap_after and gap_after[0] not in {"of"}:
                return before
            if "and" in gap_after:
                return before
            return after
        if close_after and not ("and" in gap_after and same_before):
            return after
        if close_before:
            return before
        if same_before and before is not None:
            clause_after = same_after and after is not None and reply.clause[after.first] == reply.clause[amount.first]
            clause_before = reply.clause[before.last - 1] == reply.clause[amount.first]
            if (
                clause_after
                and not clause_before
                and after is not None
                and after.first - amount.last <= 6
                and after.group != "exercise"
            ):
                return after
            if before.denied and {"but", "only"} & set(gap_before) and listed("deeds", "target") & set(gap_before):
                before.denied = False  # "was going to walk 40 but quit at 20 min"
                return before
            if before.denied or before.group == "not_loading":
                earlier = self._earlier_done(here - 1, sentence)
                if "," in gap_before or reply.text(amount.first - 1) in self_starting(gap_before):
                    return (
                        earlier
                        if before.denied and earlier is not None
                        else (after if same_after and after is not None and after.group == "activity" else None)
                        if before.denied
                        else before
                    )
                return before
            return before
        if same_after and after is not None and after.group != "exercise":
            if after.first - amount.last <= 8 and ("," not in gap_after or len(gap_after) <= 2) and not after.denied:
                return after
            if set(gap_after) & {","} and after.first - amount.last > 3:
                return None
            return after if not after.denied else None
        # "Cleaned the house. Took 2 hours." The sentence before has a deed without such an amount.
        if (
            before is not None
            and before.group == "activity"
            and not before.denied
            and not before.ignored
            and sentence - reply.sentence[before.last - 1] == 1
        ):
            if not any(each.kind == amount.kind for each in before.amounts[-4:]):
                return before
            if set(reply.said(max(amount.first - 2, 0), amount.first)) & {"another", "then", "more"} or reply.text(
                amount.last
            ) in {"more", "again"}:
                return before
        return None

    def _earlier(self, index: int, sentence: int) -> Mention | None:
        at = index
        while at >= 0 and index - at < 4:
            each = self.mentions[at]
            if self.reply.sentence[each.first] != sentence:
                return None
            if each.group == "activity" and not each.denied and not each.ignored:
                return each if not any(q.kind in MEASURES for q in each.amounts[-4:]) else None
            at -= 1
        return None

    def _earlier_done(self, index: int, sentence: int) -> Mention | None:
        at = index
        while at >= 0 and index - at < 4:
            each = self.mentions[at]
            if self.reply.sentence[each.first] != sentence:
                return None
            if each.group == "activity" and not each.denied and not each.ignored:
                return each
            at -= 1
        return None

    def _has_amount_after(self, after: Mention, index: int) -> bool:
        upper = self.mentions[index + 1].first if index + 1 < len(self.mentions) else len(self.reply.row)
        amounts = self.reply.amounts
        at = bisect_left(amounts, after.last, key=lambda q: q.first)
        return (
            at < len(amounts)
            and amounts[at].last <= upper
            and amounts[at].kind in MEASURES
            and set(self.reply.said(after.last, amounts[at].first)) <= listed("deeds", "after_last")
        )

    def _stairs(self, amount: Quantity, before: Mention | None, after: Mention | None) -> Mention | None:
        reply = self.reply
        if reply.text(amount.last) in {"up", "down"}:
            amount_up = True
        else:
            amount_up = False
        flights = amount_up or any(
            each in {"flight", "flights", "storeys"} for each in reply.said(amount.first, amount.last)
        )
        for each in (after, before):
            if (
                each is not None
                and each.kind == Activity.STAIRS
                and reply.sentence[each.first] == reply.sentence[amount.first]
            ):
                return each
        if not flights:
            return None
        made = Mention("activity", Activity.STAIRS, amount.first, amount.last)
        self._insert(made)
        return made

    def _insert(self, made: Mention) -> None:
        at = bisect_left(self.firsts, made.first)
        self.mentions.insert(at, made)
        self.firsts.insert(at, made.first)

    def _hold(self, amount: Quantity, before: Mention | None, after: Mention | None, index: int) -> Mention | None:
        reply = self.reply
        sentence = reply.sentence[amount.first]
        for each in (before, after):
            if (
                each is not None
                and each.group == "exercise"
                and not each.denied
                and reply.sentence[each.first] == sentence
                and (each is before or each.first - amount.last <= 6)
            ):
                if each.kind == Exercise.HEEL_RAISE and any(m.kind == Exercise.TOE_HOLD for m in self._around(each)):
                    continue
                return each
        if before is not None and before.group == "activity" and reply.sentence[before.first] == sentence:
            reply.used.add(index)
            before.amounts.append(Quantity("minutes", amount.first, amount.last, amount.value / 60))
            return None
        if (
            after is not None
            and after.group == "activity"
            and reply.sentence[after.first] == sentence
            and set(reply.said(amount.last, after.first)) <= listed("deeds", "before_next")
        ):
            reply.used.add(index)
            after.amounts.append(Quantity("minutes", amount.first, amount.last, amount.value / 60))
        return None

    def _around(self, each: Mention) -> list[Mention]:
        at = bisect_left(self.firsts, each.first)
        return self.mentions[max(0, at - 2) : at + 3]

    def _minutes_held(self, amount: Quantity, each: Mention, index: int) -> Mention | None:
        self.reply.used.add(index)
        each.amounts.append(Quantity("seconds", amount.first, amount.last, amount.value * 60))
        return None

    def _assign_exercise(self, amount: Quantity, index: int) -> None:
        reply = self.reply
        here = bisect_left(self.firsts, amount.first)
        nxt = bisect_left(self.firsts, amount.last)
        sentence = reply.sentence[amount.first]
        inside = self.mentions[here] if here < nxt and self.mentions[here].group == "exercise" else None
        before = self.mentions[here - 1] if here and reply.sentence[self.mentions[here - 1].first] == sentence else None
        after = (
            self.mentions[nxt]
            if nxt < len(self.mentions) and reply.sentence[self.mentions[nxt].first] == sentence
            else None
        )
        gap_before = (
            reply.said(before.last, amount.first) if before is not None and amount.first - before.last <= 12 else [" "]
        )
        gap_after = (
            reply.said(amount.last, after.first) if after is not None and after.first - amount.last <= 12 else [" "]
        )
        next_to = after is not None and after.group == "exercise" and set(gap_after) <= listed("deeds", "ex_before")
        if amount.kind == "number":
            self._number(amount, index, before, after, gap_before, next_to)
            return
        if amount.kind == "times":
            self._times(amount, index, before, after, gap_before, gap_after, next_to)
            return
        target: Mention | None = inside
        if target is None and next_to:
            target = after
            fits = (
                before is not None
                and before.group == "exercise"
                and not before.amounts
                and not before.denied
                and not ({","} & set(gap_before))
                and self._is_hold(before) == (amount.kind == "hold")
            )
            if fits and self._amount_follows(after):
                target = before
        if target is None:
            for each in self._backwards(here - 1, sentence):
                if (
                    each.group == "exercise"
                    and not each.denied
                    and (self._is_hold(each) == (amount.kind == "hold") or amount.kind == "setcount")
                ):
                    target = each
                    break
        if (
            target is None
            and after is not None
            and after.group == "exercise"
            and after.first - amount.last <= 6
            and self._is_hold(after) == (amount.kind == "hold")
        ):
            target = after
        if target is None:
            # "Raises? Yes, 3x10": the sentence before; in a list, the lines before.
            earlier = sentence - 1
            if (
                here
                and self.mentions[here - 1].last <= amount.first
                and not {".", "?"} & set(reply.said(max(self.mentions[here - 1].last, amount.first - 12), amount.first))
            ):
                earlier = reply.sentence[self.mentions[here - 1].first]
            for each in self._backwards(here - 1, earlier):
                if (
                    each.group == "exercise"
                    and not each.amounts
                    and not each.denied
                    and self._is_hold(each) == (amount.kind == "hold")
                ):
                    target = each
                break
        if target is not None and not target.denied:
            reply.used.add(index)
            target.amounts.append(amount)
            if amount.kind == "sets":
                self._more(target, index)
            return
        if (
            reply.asked is not Asked.MORNING
            and amount.kind in {"sets", "hold", "reps", "setcount"}
            and (amount.kind != "setcount" or self._bare(amount))
        ):
            reply.used.add(index)
            kind = Exercise.TOE_HOLD if amount.kind == "hold" else Exercise.HEEL_RAISE
            made = Mention("exercise", kind, amount.first, amount.last)
            made.amounts.append(amount)
            self._insert(made)

    def _amount_follows(self, after: Mention | None) -> bool:
        if after is None:
            return False
        amounts = self.reply.amounts
        at = bisect_left(amounts, after.last, key=lambda q: q.first)
        return (
            at < len(amounts)
            and amounts[at].first - after.last <= 1
            and amounts[at].kind in {"sets", "hold", "reps", "seconds"}
        )

    def _bare(self, amount: Quantity) -> bool:
        after = self.reply.text(amount.last)
        index = bisect_left(self.firsts, amount.first) - 1
        if (
            index >= 0
            and self.mentions[index].kind == Activity.SPORT
            and self.reply.sentence[self.mentions[index].first] == self.reply.sentence[amount.first]
        ):
            return False
        return after in listed("deeds", "bare") and bool(
            {"sets", "set"} & set(self.reply.said(amount.first, amount.last))
        )

    def _is_hold(self, each: Mention) -> bool:
        return each.kind == Exercise.TOE_HOLD

    def _backwards(self, index: int, sentence: int) -> list[Mention]:
        found: list[Mention] = []
        at = index
        while at >= 0 and len(found) < 4 and self.reply.sentence[self.mentions[at].first] == sentence:
            found.append(self.mentions[at])
            at -= 1
        return found

    def _number(
        self,
        amount: Quantity,
        index: int,
        before: Mention | None,
        after: Mention | None,
        gap_before: list[str],
        next_to: bool,
    ) -> None:
        reply = self.reply
        here = bisect_left(self.firsts, amount.last)
        named = self.mentions[here] if here < len(self.mentions) and self.firsts[here] == amount.last else None
        if (
            named is not None
            and named.kind in {Activity.WALKING, Activity.RUNNING}
            and amount.value >= 10
            and not named.denied
            and named.last - named.first == 1
            and reply.row[amount.first].kind is Kind.NUMBER
            and reply.text(amount.first - 1) in {"", ".", ",", ";", "and", "a"}
            and not _past(reply.text(named.first))
        ):
            reply.used.add(index)
            named.amounts.append(replace_kind(amount, "minutes"))  # "25 walk 30 raise"
            return
        if (
            before is not None
            and before.group == "activity"
            and not before.denied
            and self._leg_of(amount, index, before, gap_before)
        ):
            return
        if amount.value < 1 or not float(amount.value).is_integer():
            return
        timed = self.reply.amounts[index - 1] if index else None
        if (
            (after is None or after.group != "exercise")
            and timed is not None
            and timed.kind == "minutes"
            and reply.text(amount.last) == "of"
            and amount.value >= 5
        ):
            nxt = bisect_left(self.firsts, amount.last)
            deed = self.mentions[nxt] if nxt < len(self.mentions) else None
            if (
                deed is not None
                and deed.group == "activity"
                and set(reply.said(amount.last, deed.first)) <= listed("deeds", "before_next")
            ):
                reply.used.add(index)
                deed.amounts.append(replace_kind(amount, "minutes"))  # "30 mins of ironing and 20 of hoovering"
                return
        if (
            next_to
            and after is not None
            and not after.denied
            and (not before or before.group != "exercise" or before.amounts or amount.last == after.first)
        ):
            if reply.text(amount.first - 1) in {"worst", "pain", "/"} and amount.value <= 10:
                return
            reply.used.add(index)
            self._earlier_goes(after, index)
            after.amounts.append(replace_kind(amount, "reps"))
            self._more(after, index)
            return
        if before is None and reply.text(amount.last) == "of" and reply.text(amount.last + 1) == "them":
            here = bisect_left(self.firsts, amount.first)
            earlier = next(
                (each for each in reversed(self.mentions[max(0, here - 3) : here]) if each.group != "not_loading"), None
            )
            if (
                earlier is not None
                and earlier.group == "exercise"
                and not earlier.amounts
                and reply.sentence[amount.first] - reply.sentence[earlier.last - 1] == 1
            ):
                before = earlier
        if before is None or before.denied or before.ignored:
            return
        taken = (
            {each for q in before.amounts[-4:] for each in reply.said(q.first, q.last)}
            if before.group == "exercise"
            else set()
        )
        plain = [
            each
            for each in gap_before
            if each not in listed("deeds", "number") and not (taken and (each in taken or each == "in"))
        ]
        x = plain[-1:] == ["x"] or plain == ["times"]
        if before.group == "exercise":
            of_them = reply.text(amount.last) == "of" and reply.text(amount.last + 1) in {
                "them",
                "those",
                "these",
                "em",
            }
            other = reply.text(amount.first - 1) in {"other", "remaining"} and bool(before.amounts)
            sided = plain == [","] and reply.text(amount.last) in listed("deeds", "number_2")
            reduced = sided or (amount.last - amount.first > 1 and plain == [","])
            if (
                (not plain and (amount.value > 10 or self._listed(index)))
                or (x and len(plain) <= 5 and "," not in plain)
                or of_them
                or other
                or reduced
            ):
                if amount.value <= 10 and reply.text(amount.last) in {"/"}:
                    return
                reply.used.add(index)
                before.amounts.append(replace_kind(amount, "reps"))
                self._more(before, index)
            return
        if before.group != "activity":
            return
        if before.kind == Activity.STAIRS and x and amount.value <= 60:
            reply.used.add(index)
            before.amounts.append(replace_kind(amount, "count"))
            return
        # "walked 10", "walk: 20", "another twelve": minutes without their unit.
        if before.kind == Activity.STAIRS or (
            any(q.kind == "minutes" for q in before.amounts[-4:]) and not {"another", "then", "and"} & set(gap_before)
        ):
            return
        allowed = (listed("deeds", "after_last") | listed("deeds", "number_3")) - {"the"}
        linking = [each for each in gap_before if each not in allowed]
        if (
            gap_before[-1:] == ["("]
            and reply.text(amount.last) == ","
            and amount.value >= 5
            and not self._mention_between(before.last, amount.first)
        ):
            linking = []
        following = reply.text(amount.last)
        if following and reply.row[amount.last].kind is Kind.WORD and following not in reply.words.score_filler:
            return
        if following in {"/", "%"} or amount.value > 240:
            return
        more = "another" in gap_before
        if more and not [each for each in gap_before if each not in allowed | {",", "after", "lunch", "tea"}]:
            linking = []
        stated = (
            amount.value >= 10
            or ":" in gap_before
            or "for" in gap_before
            or (amount.value >= 5 and self._other_scores(index))
        )
        if listed("deeds", "number_4") & set(reply.said(max(0, before.first - 3), before.first)) and amount.value <= 10:
            return
        if {"yes", "yep", "done", "yeah"} & set(gap_before):
            linking = [each for each in linking if each != ","]
        if (
            linking == ["to"]
            and amount.value >= 10
            and listed("deeds", "number_5") & set(reply.said(max(0, before.first - 3), before.first))
        ):
            linking = []
        if linking or not stated or {"was", "is", "it"} & set(gap_before) or ("and" in gap_before and not more):
            return
        if amount.value < 10 and ("a" in gap_before or "at" in gap_before or ("," in gap_before)):
            return
        reply.used.add(index)
        before.amounts.append(replace_kind(amount, "minutes"))

    def _earlier_goes(self, target: Mention, index: int) -> None:
        """ "12, then 14, then 10 raises": the goes before the last."""
        reply, amounts = self.reply, self.reply.amounts
        at, nxt = index - 1, amounts[index]
        while (
            at >= 0
            and amounts[at].kind == "number"
            and at not in reply.used
            and amounts[at].value >= 6
            and nxt.first - amounts[at].last <= 3
        ):
            gap = set(reply.said(amounts[at].last, nxt.first))
            if (
                not gap
                or not gap <= {",", "then", "and", "plus"}
                or amounts[at].value > 2.5 * nxt.value
                or nxt.value > 2.5 * amounts[at].value
            ):
                return
            reply.used.add(at)
            target.amounts.insert(0, replace_kind(amounts[at], "reps"))
            nxt = amounts[at]
            at -= 1

    def _leg_of(self, amount: Quantity, index: int, before: Mention, gap: list[str]) -> bool:
        """ "25 minutes there, 30 back", "10 min in the morning, 15 at night": another part of the same."""
        reply = self.reply
        done = [q for q in before.amounts[-4:] if q.kind in {"minutes", "km"}]
        if not done or amount.value < 3 or amount.first - done[-1].last > 8:
            return False
        following = reply.text(amount.last)
        gap_words = set(reply.said(done[-1].last, amount.first))
        gone_back = (
            bool({"back", "return", "home"} & gap_words)
            and reply.text(amount.first - 1) != ","
            and gap_words <= listed("deeds", "leg_of")
        )
        if not gone_back and following not in listed("deeds", "leg_of_2"):
            return False
        when = {reply.text(amount.last + 1), reply.text(amount.last + 2)} & listed("deeds", "leg_of_5")
        small = amount.value <= 10 and not gone_back and not when and following not in listed("deeds", "leg_of_3")
        if small and (reply.asked is Asked.MORNING or not {"and", "then", "plus"} & gap_words):
            return False  # "walked 20 min, 5 after": more likely the score
        if not gone_back and following in listed("deeds", "leg_of_4"):
            then = {reply.text(amount.last + 1), reply.text(amount.last + 2)}
            if not then & listed("deeds", "leg_of_5"):
                return False
        between = reply.said(done[-1].last, amount.first)
        if listed("deeds", "leg_of_6") & set(between):
            return False
        reply.used.add(index)
        unit = next(
            (
                reply.words.units[each][1]
                for each in reply.said(done[-1].first, done[-1].last)
                if each in reply.words.units
            ),
            1.0,
        )
        before.amounts.append(Quantity(done[-1].kind, amount.first, amount.last, amount.value * unit))
        return True

    def _other_scores(self, index: int) -> bool:
        """Whether another number could be the score of the reply."""
        amounts = self.reply.amounts
        return any(q.kind == "score" or (q.kind == "number" and q.value <= 10) for q in amounts[index + 1 : index + 8])

    def _listed(self, index: int) -> bool:
        """Whether more numbers of the same size follow: "10, 10, 8"."""
        amounts = self.reply.amounts
        if index + 1 >= len(amounts) or amounts[index].value < 6:
            return False
        nxt = amounts[index + 1]
        if nxt.kind == "times" and nxt.first - amounts[index].last <= 1:
            return True
        return nxt.kind == "number" and nxt.value >= 6 and nxt.first - amounts[index].last <= 2

    def _more(self, target: Mention, index: int) -> None:
        """Further goes of the same exercise: "12 12 and 10", "15 in the morning and 15 at night", "then an extra 5"."""
        reply, amounts = self.reply, self.reply.amounts
        last = amounts[index]
        at = index + 1
        while at < len(amounts) and amounts[at].kind in {"number", "reps"} and at not in reply.used:
            each = amounts[at]
            gap = reply.said(last.last, each.first)
            own = set(reply.said(target.first, target.last)) if last.last <= target.first < each.first else set()
            if (
                each.first - last.last > 7
                or not set(gap) - own <= listed("deeds", "time_of_day") | listed("deeds", "more")
                or self._mention_between(last.last, each.first, target)
                or each.value < 3
                or not float(each.value).is_integer()
            ):
                break
            if ":" in gap or "total" in gap or "makes" in gap:
                if each.value == sum(q.value for q in target.amounts[-6:] if q.kind == "reps"):
                    reply.used.add(at)
                break
            extra = bool({"extra", "plus"} & set(gap)) or ("another" in gap and each.value != last.value)
            alike = each.value >= 6 and each.value * 2.5 >= last.value and each.value <= last.value * 2.5
            if not extra and (
                not alike
                or reply.text(each.last) in {"min", "out"}
                or (
                    gap == [","]
                    and each.value <= 10
                    and reply.text(each.last) in {"", "."}
                    and amounts[index].value > 10
                    and each.value < 8
                )
            ):
                break
            reply.used.add(at)
            target.amounts.append(replace_kind(each, "extra" if extra else "reps"))
            last = each
            at += 1

    def _mention_between(self, first: int, last: int, apart_from: Mention | None = None) -> bool:
        at = bisect_left(self.firsts, first)
        while at < len(self.firsts) and self.firsts[at] < last:
            if self.mentions[at].group != "not_loading" and self.mentions[at] is not apart_from:
                return True
            at += 1
        return False

    def _times(
        self,
        amount: Quantity,
        index: int,
        before: Mention | None,
        after: Mention | None,
        gap_before: list[str],
        gap_after: list[str],
        next_to: bool,
    ) -> None:
        reply = self.reply
        value = int(amount.value)
        near_before = (
            before is not None
            and len(gap_before) <= 6
            and (gap_before.count(",") <= 1 and (not gap_before or gap_before[0] != "," or before.amounts != []))
        )
        if before is None:
            here = bisect_left(self.firsts, amount.first)
            earlier = self.mentions[here - 1] if here else None
            if (
                earlier is not None
                and earlier.group == "exercise"
                and earlier.amounts
                and self.reply.sentence[amount.first] - self.reply.sentence[earlier.last - 1] == 1
            ):
                before, near_before = earlier, True
        for each, near in ((before, near_before), (after, after is not None and len(gap_after) <= 6)):
            if each is None or not near or each.denied:
                continue
            if each.kind == Activity.STAIRS and not any(q.kind == "count" for q in each.amounts):
                reply.used.add(index)
                each.amounts.append(replace_kind(amount, "count"))
                return
            if each.group == "exercise" and value >= 1:
                holds = [q for q in each.amounts if q.kind in {"seconds"}]
                reply.used.add(index)
                if holds:
                    each.amounts.remove(holds[0])
                    each.amounts.append(Quantity("hold", holds[0].first, amount.last, holds[0].value, value))
                elif 2 <= value <= 12 and [q.kind for q in each.amounts] == ["reps"]:
                    each.amounts[0] = Quantity("sets", each.amounts[0].first, amount.last, each.amounts[0].value, value)
                elif value >= 4 and (not each.amounts or [q.kind for q in each.amounts] == ["setcount"]):
                    each.amounts.append(replace_kind(amount, "reps"))
                return
            if each.group == "activity" and len(each.amounts) == 1 and each.amounts[0].each and value <= 12:
                done = each.amounts[0]
                each.amounts[0] = Quantity(done.kind, done.first, done.last, done.value * value)
                reply.used.add(index)
                return

    # -- results

    def exercises(self) -> tuple[list[ExerciseDone], list[Exercise]]:
        """The programme's exercises that were done, in the order of the reply, and those said not to be."""
        parts: dict[str, list[Quantity]] = {}
        about: dict[str, About] = {}
        denied: list[Exercise] = []
        for each in self.mentions:
            if each.group != "exercise":
                continue
            if each.denied and not each.amounts:
                denied.append(Exercise(each.kind))
                continue
            if each.ignored:
                continue
            parts.setdefault(each.kind, []).extend(each.amounts)
            about.setdefault(each.kind, self.reply.day_at(each.first))
            self.reply.note("exercises", each.first, each.last)
            for amount in each.amounts:
                self.reply.note("exercises", amount.first, amount.last)
        done = [_exercise(Exercise(kind), amounts, about[kind]) for kind, amounts in parts.items()]
        return done, [each for each in denied if each not in parts]

    def activities(self) -> tuple[list[ActivityDone], list[Activity]]:
        """The activities that were done with their amounts, and those said not to be."""
        reply = self.reply
        parts: dict[str, list[Quantity]] = {}
        about: dict[str, About] = {}
        denied: list[Activity] = []
        for each in self.mentions:
            if each.group != "activity":
                continue
            if (
                each.kind == Activity.STANDING
                and reply.asked is Asked.MORNING
                and not each.amounts
                and each.last - each.first == 1
                and reply.day_at(each.first) is About.TODAY
            ):
                each.ignored = True  # "then I stood": the first steps, no load of the day
            if each.denied or each.ignored:
                if each.denied:
                    denied.append(Activity(each.kind))
                continue
            parts.setdefault(each.kind, []).extend(each.amounts)
            about.setdefault(each.kind, reply.day_at(each.first))
            reply.note("activities", each.first, each.last)
            for amount in each.amounts:
                reply.note("activities", amount.first, amount.last)
        self._both(parts)
        self._left_over(parts, about, denied)
        done = [_activity(Activity(kind), amounts, about[kind]) for kind, amounts in parts.items()]
        return done, [each for each in dict.fromkeys(denied) if each not in parts]

    def _both(self, parts: dict[str, list[Quantity]]) -> None:
        """ "20 mins before lunch, 25 mins after dinner, both walking": the amounts before belong to it too."""
        reply = self.reply
        for each in self.mentions[:40]:
            if each.group == "activity" and not each.denied and reply.text(each.first - 1) in {"both", "all"}:
                first = reply.sentence_spans[reply.sentence[each.first]][0]
                for index, amount in enumerate(reply.amounts[:60]):
                    if amount.kind == "minutes" and index not in reply.used and first <= amount.first < each.first:
                        reply.used.add(index)
                        parts[each.kind].append(amount)

    def _left_over(self, parts: dict[str, list[Quantity]], about: dict[str, About], denied: list[Activity]) -> None:
        """Steps without a name are walking; in the evening so are minutes and distances that stand by themselves."""
        reply = self.reply
        walking = str(Activity.WALKING)
        for index, amount in enumerate(reply.amounts):
            if index in reply.used or amount.kind not in {"steps", "minutes", "km"}:
                continue
            if amount.kind == "steps":
                if (
                    reply.asked is Asked.MORNING
                    and parts
                    and walking not in parts
                    and reply.day_at(amount.first) is About.TODAY
                ):
                    continue
            elif (
                (amount.kind == "km" and amount.value < 0.02)
                or reply.asked is not Asked.EVENING
                or Activity.WALKING in denied
                or not self._stands_alone(amount)
                or (walking in parts and any(q.kind == amount.kind for q in parts[walking]))
            ):
                continue
            reply.used.add(index)
            parts.setdefault(walking, []).append(amount)
            about.setdefault(walking, reply.day_at(amount.first))
            reply.note("activities", amount.first, amount.last)

    def _stands_alone(self, amount: Quantity) -> bool:
        reply = self.reply
        first, last = amount.first, amount.last
        clause = reply.clause[amount.first]
        while first > 0 and reply.clause[first - 1] == clause and amount.last - first < _LONG_CLAUSE:
            first -= 1
        while last < len(reply.row) and reply.clause[last] == clause and last - first < _LONG_CLAUSE:
            last += 1
        if last - first >= _LONG_CLAUSE:
            return False
        light = listed("deeds", "stands_alone_light")
        inside = {at for q in reply.amounts_within(first, last) for at in range(q.first, q.last)}
        rest = [
            at
            for at in range(first, last)
            if reply.row[at].kind is Kind.WORD and at not in inside and reply.text(at) not in light
        ]
        return len(rest) <= 3


def self_starting(gap: list[str]) -> frozenset[str]:
    """Words that begin a new statement before an amount."""
    return frozenset(listed("deeds", "self_starting"))


def replace_total(amount: Quantity) -> Quantity:
    """The same amount as the whole of it."""
    return Quantity(amount.kind, amount.first, amount.last, amount.value, amount.sets, total=True)


def replace_kind(amount: Quantity, kind: str) -> Quantity:
    """The same amount as another kind."""
    return Quantity(kind, amount.first, amount.last, amount.value, amount.sets)


def _summed(parts: list[Quantity], kind: str) -> float | None:
    amounts = [each for each in parts if each.kind == kind]
    if not amounts:
        return None
    totals = [each for each in amounts if each.total]
    if totals:
        return totals[-1].value
    # "20 min (2x10)": the same said twice.
    kept: list[Quantity] = []
    for each in amounts:
        if kept and each.value == kept[-1].value and (each.parts or kept[-1].parts) and each.first - kept[-1].last <= 3:
            continue
        kept.append(each)
    return sum(each.value for each in kept)


def _activity(kind: Activity, parts: list[Quantity], about: About) -> ActivityDone:
    steps = _summed(parts, "steps")
    count = _summed(parts, "count") if kind is Activity.STAIRS else None
    return ActivityDone(
        activity=kind,
        minutes=_summed(parts, "minutes"),
        km=_summed(parts, "km"),
        steps=None if steps is None else round(steps),
        count=count,
        about=about,
    )


def _exercise(kind: Exercise, parts: list[Quantity], about: About) -> ExerciseDone:
    """Several mentions add up: equal goes are sets, unequal ones one set of all."""
    holds = [each for each in parts if each.kind in {"hold", "seconds"}]
    if holds and (kind is Exercise.TOE_HOLD or not any(each.kind in {"sets", "reps"} for each in parts)):
        setcounts = [each.sets for each in parts if each.kind == "setcount"]
        count = sum(each.sets for each in holds)
        if len(holds) == 1 and holds[0].kind == "seconds" and setcounts:
            count = setcounts[0]
        reps = [each for each in parts if each.kind == "reps"]
        if len(holds) == 1 and holds[0].kind == "seconds" and reps:
            count = int(reps[0].value)
        return ExerciseDone(exercise=kind, sets=count, seconds=int(holds[0].value), about=about)
    goes = [
        (each.sets if each.kind == "sets" else 1, int(each.value)) for each in parts if each.kind in {"sets", "reps"}
    ]
    extras = sum(int(each.value) for each in parts if each.kind == "extra")
    counts = [each.sets for each in parts if each.kind == "setcount"]
    if not goes:
        return ExerciseDone(exercise=kind, sets=sum(counts) if counts else None, about=about)
    if len(goes) > 1:
        # "30 raises, three goes of ten": the same said twice.
        in_sets = {sets * reps for sets, reps in goes if sets > 1}
        goes = [(sets, reps) for sets, reps in goes if sets > 1 or reps not in in_sets]
    if counts and len(goes) == 1 and goes[0][0] == 1 and counts[0] > 1:
        sets, reps_each = counts[0], goes[0][1]
        total = next((each for each in parts if each.kind == "reps"), None)
        # "40 raises total, 4 sets" parts the total; "12 reps, 3 sets" does not.
        if total is not None and reps_each >= 3 * sets and reps_each % sets == 0 and reps_each > 20:
            reps_each //= sets
        goes = [(sets, reps_each)]
    if extras:
        return ExerciseDone(exercise=kind, sets=1, reps=sum(sets * reps for sets, reps in goes) + extras, about=about)
    if len({reps for _, reps in goes}) == 1:
        return ExerciseDone(exercise=kind, sets=sum(sets for sets, _ in goes), reps=goes[0][1], about=about)
    return ExerciseDone(exercise=kind, sets=1, reps=sum(sets * reps for sets, reps in goes), about=about)
