"""From normalised text and its amounts to a reading: which number is which score, what was done, how much of the plan."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from bot.program.protocol import DEFAULT
from bot.program.terms import About, Activity, Asked, Exercise, PlanDone, RedFlag, RestPattern
from bot.reader.normalise import LONGEST, SENTENCE_END, normalised
from bot.reader.quantities import Quantity, is_score, quantities
from bot.reader.reading import ActivityDone, Evidence, ExerciseDone, FlagFinding, Reading
from bot.reader.vocabulary import Vocabulary, vocabulary

_CLAUSE_END = re.compile(
    r"[.;!?]+(?=\s|$)|;|\b(?:but|then)\b|,\s*(?:and )?(?=(?:i|we|no|did|raises|heel|worst|pain)\b)|\s-\s|\bhowever\b"
)


@dataclass(frozen=True, slots=True)
class _Clause:
    start: int
    end: int


def _split(text: str, pattern: re.Pattern[str]) -> list[_Clause]:
    parts: list[_Clause] = []
    start = 0
    for match in pattern.finditer(text):
        if match.start() > start:
            parts.append(_Clause(start, match.start()))
        start = match.end() if not text[match.start() : match.end()].strip().isalpha() else match.start()
    if start < len(text):
        parts.append(_Clause(start, len(text)))
    return parts or [_Clause(0, len(text))]


def _containing(clauses: list[_Clause], place: int) -> _Clause:
    return next((each for each in clauses if each.start <= place < each.end), clauses[-1])


class _Interpreter:
    """One reading. Every step fills its part of the result."""

    def __init__(self, text: str, asked: Asked) -> None:
        self.words: Vocabulary = vocabulary()
        self.asked = asked
        plain = normalised(text, longest=LONGEST)
        # "1. 4  2. none": the numbers of a list are no scores.
        if re.match(r"\s*1[.)]\s+\S", plain) and re.search(r"\s2[.)]\s", plain):
            plain = re.sub(r"(^|\s)([1-9])[.)](?=\s)", r"\1;", plain)
        # Figures of speech keep their length, so that places stay true.
        self.text = self.words.figures.sub(lambda m: "#" * len(m[0]), plain)
        self.clauses = _split(self.text, _CLAUSE_END)
        self.sentences = _split(self.text, SENTENCE_END)
        self.amounts = quantities(self.text)
        self.used: set[int] = set()
        # "only hurts when I walk" speaks of pain, not of a walk.
        self.rest_spans = [m.span() for pattern in self.words.rest.values() for m in pattern.finditer(self.text)]
        self.evidence: list[Evidence] = []

    def _note(self, field: str, start: int, end: int) -> None:
        self.evidence.append(Evidence(field=field, words=self.text[start:end].strip(), start=start, end=end))

    def _denied(self, start: int, end: int, clause: _Clause) -> bool:
        before = self.text[clause.start : start]
        before = (
            before[max(before.rfind(","), before.rfind(" and ")) + 1 :]
            if "," in before or " and " in before
            else before
        )
        after = self.text[end : end + 24]
        return bool(self.words.denied_before.search(before) or self.words.denied_after.match(after))

    def _day_at(self, place: int) -> About:
        sentence = _containing(self.sentences, place)
        yesterdays = [m.start() for m in vocabulary().yesterday.finditer(self.text, sentence.start, sentence.end)]
        todays = [m.start() for m in vocabulary().today.finditer(self.text, sentence.start, sentence.end)]
        if not yesterdays:
            return About.TODAY
        if not todays:
            return About.YESTERDAY
        nearest_yesterday = min(abs(place - each) for each in yesterdays)
        nearest_today = min(abs(place - each) for each in todays)
        return About.YESTERDAY if nearest_yesterday <= nearest_today else About.TODAY

    # -- activities and exercises

    def exercises(self) -> tuple[list[ExerciseDone], list[Exercise]]:
        """The programme's exercises that were done, and those said not to be."""
        places: list[tuple[int, int, Exercise]] = []
        for kind, pattern in self.words.exercises.items():
            places.extend((m.start(), m.end(), kind) for m in pattern.finditer(self.text))
        places.sort()
        done: dict[Exercise, list[tuple[int | None, int | None, int | None]]] = {}
        denied: list[Exercise] = []
        about: dict[Exercise, About] = {}
        last_end = -1
        for start, end, kind in places:
            if start < last_end:
                continue
            last_end = end
            clause = _containing(self.clauses, start)
            amount = self._exercise_amount(start, end, clause, kind)
            if amount is None and self._denied(start, end, clause):
                denied.append(kind)
                continue
            if amount is None and kind in done:
                continue
            done.setdefault(kind, []).append(amount or (None, None, None))
            about.setdefault(kind, self._day_at(start))
            self._note("exercises", start, end)
        if self.asked is not Asked.MORNING:
            for index, each in enumerate(self.amounts):
                if each.kind in {"sets", "hold"} and index not in self.used:
                    self.used.add(index)
                    kind = Exercise.HEEL_RAISE if each.kind == "sets" else Exercise.TOE_HOLD
                    seconds = int(each.value) if each.kind == "hold" else None
                    reps = int(each.value) if each.kind == "sets" else None
                    done.setdefault(kind, []).append((each.sets, reps, seconds))
                    about.setdefault(kind, self._day_at(each.start))
        return [self._added_up(kind, parts, about[kind]) for kind, parts in done.items()], denied

    @staticmethod
    def _added_up(kind: Exercise, parts: list[tuple[int | None, int | None, int | None]], about: About) -> ExerciseDone:
        known = [part for part in parts if part != (None, None, None)] or parts[:1]
        if len(known) == 1:
            sets, reps, seconds = known[0]
            return ExerciseDone(exercise=kind, sets=sets, reps=reps, seconds=seconds, about=about)
        if kind is Exercise.TOE_HOLD:
            return ExerciseDone(exercise=kind, sets=sum(p[0] or 1 for p in known), seconds=known[0][2], about=about)
        equal = {p[1] for p in known}
        if len(equal) == 1 and None not in equal:
            return ExerciseDone(exercise=kind, sets=sum(p[0] or 1 for p in known), reps=known[0][1], about=about)
        return ExerciseDone(exercise=kind, sets=1, reps=sum((p[0] or 1) * (p[1] or 0) for p in known), about=about)

    def _exercise_amount(
        self, start: int, end: int, clause: _Clause, kind: Exercise
    ) -> tuple[int | None, int | None, int | None] | None:
        best: tuple[int, int] | None = None
        for index, each in enumerate(self.amounts):
            if index in self.used or each.kind not in {"sets", "hold", "setcount", "number", "seconds", "minutes"}:
                continue
            sentence = _containing(self.sentences, start)
            if not sentence.start <= each.start < sentence.end:
                continue
            between = self.text[each.end : start] if each.end <= start else self.text[end : each.start]
            if len(between) > 40 or re.search(r"\b(?:walk\w*|pain|worst|heel (?!rais))\b", between):
                continue
            if each.kind == "number":
                # "30 heel raises", "raises 30": the number stands right beside the name.
                right_before = each.end <= start and re.fullmatch(
                    r"\s*(?:of )?(?:more )?(?:my |the |slow |heel |calf )*", between
                )
                right_after = (
                    each.start >= end and re.fullmatch(r"\s*:?\s*(?:x )?", between) and not is_score(self.text, each)
                )
                right_after = right_after or (
                    each.start >= end and re.fullmatch(r"\s*:?\s*(?:x )?", between) and each.value > 10
                )
                if not (right_before or right_after) or each.value < 1:
                    continue
            if each.kind == "minutes" and kind is not Exercise.TOE_HOLD:
                continue
            distance = len(between)
            if best is None or distance < best[0]:
                best = (distance, index)
        if best is None:
            return None
        each = self.amounts[best[1]]
        self.used.add(best[1])
        extra = re.match(
            r"[^.;]{0,25}?\b(?:an )?extra (\d{1,2})\b", self.text[max(end, each.end) : max(end, each.end) + 40]
        )
        if each.kind == "sets":
            if extra:
                return 1, each.sets * int(each.value) + int(extra[1]), None
            return each.sets, int(each.value), None
        if each.kind == "hold":
            return each.sets, None, int(each.value)
        if each.kind == "setcount":
            return each.sets, None, None
        if each.kind == "seconds":
            return 1, None, int(each.value)
        if each.kind == "minutes":
            return 1, None, int(each.value * 60)
        return 1, int(each.value) + (int(extra[1]) if extra else 0), None

    def activities(self) -> tuple[list[ActivityDone], list[Activity]]:
        """The activities that were done with their amounts, and those said not to be."""
        places: list[tuple[int, int, Activity]] = []
        for kind, pattern in self.words.activities.items():
            places.extend((m.start(), m.end(), kind) for m in pattern.finditer(self.text))
        places.sort(key=lambda each: (each[0], -each[1]))
        mentions: list[tuple[int, int, Activity]] = []
        denied: list[Activity] = []
        last_end = -1
        for start, end, kind in places:
            if start < last_end:
                continue
            clause = _containing(self.clauses, start)
            if self._not_meant(start, end, kind) or any(a <= start < b for a, b in self.rest_spans):
                continue
            last_end = end
            if self._denied(start, end, clause):
                denied.append(kind)
                continue
            mentions.append((start, end, kind))
        found: dict[Activity, list[Quantity]] = {}
        about: dict[Activity, About] = {}
        for position, (start, end, kind) in enumerate(mentions):
            amount = self._activity_amount(start, end, kind, mentions, position)
            found.setdefault(kind, [])
            about.setdefault(kind, self._day_at(start))
            if amount is not None:
                found[kind].append(amount)
                found[kind].extend(self._again(amount, end, mentions, position))
            self._note("activities", start, end)
        if self.asked is not Asked.MORNING or not found:
            for index, each in enumerate(self.amounts):
                if each.kind == "steps" and index not in self.used:
                    self.used.add(index)
                    found.setdefault(Activity.WALKING, []).append(each)
                    about.setdefault(Activity.WALKING, self._day_at(each.start))
        return [_activity(kind, parts, about[kind]) for kind, parts in found.items()], denied

    def _not_meant(self, start: int, end: int, kind: Activity) -> bool:
        after, before = self.text[end : end + 30], self.text[max(0, start - 30) : start]
        if kind is Activity.WALKING:
            if self.text[start:end] == "steps":
                return not re.search(r"\d[\d.]*k? ?$", before) or "first" in before
            return bool(re.match(r"(?:ing)? (?:distance|away|on eggshells)", after))
        if (
            kind is Activity.STANDING
            and re.match(r"\s*(?:up|out|to|by)\b", after)
            and "on my feet" not in self.text[start:end]
        ):
            return True
        if kind is Activity.STANDING and re.search(r"(?:when|since|first|as soon as) (?:i |i first |first )*$", before):
            return True
        if kind is Activity.DRIVING:
            return bool(re.match(r"\s*me\b", after))
        return kind is Activity.RUNNING and bool(
            re.match(r"\s*(?:nights?|out|into|late|low|through)\b", after)
            or "days " in before[-6:]
            or "nights " in before[-8:]
        )

    def _activity_amount(
        self, start: int, end: int, kind: Activity, mentions: list[tuple[int, int, Activity]], position: int
    ) -> Quantity | None:
        kinds = {"minutes", "km", "steps", "number"} | ({"count"} if kind is Activity.STAIRS else set())
        sentence = _containing(self.sentences, start)
        lower = mentions[position - 1][1] if position else 0
        upper = mentions[position + 1][0] if position + 1 < len(mentions) else len(self.text)
        best: tuple[float, int] | None = None
        for index, each in enumerate(self.amounts):
            if index in self.used or each.kind not in kinds:
                continue
            outside = each.start < sentence.start or each.start >= sentence.end
            if outside or (each.end <= lower and each.start < lower) or each.start >= upper + 1:
                continue
            if each.kind == "number" and not self._number_fits(each, end, kind):
                continue
            if each.kind == "minutes" and self._is_settling(each):
                continue
            if (
                position + 1 < len(mentions)
                and each.start >= end
                and re.fullmatch(
                    r"\s*(?:of |a |slow |gentle |short |long |brisk |on the |easy )*", self.text[each.end : upper]
                )
            ):
                continue  # "ironing, 10 min walk": the amount is the next activity's
            between = self.text[each.end : start] if each.end <= start else self.text[end : each.start]
            # "20 min walk" is nearer than the next activity; commas and other verbs part.
            cost = len(between) + 12 * between.count(",") + (0 if each.end <= start else 3)
            if cost > 90:
                continue
            if best is None or cost < best[0]:
                best = (cost, index)
        if best is None:
            return None
        each = self.amounts[best[1]]
        if each.kind in {"minutes", "km"} and kind is Activity.HILLS and Activity.WALKING in [m[2] for m in mentions]:
            walking = [m for m in mentions if m[2] is Activity.WALKING]
            if min(abs(each.start - m[0]) for m in walking) < abs(each.start - start):
                return None
        self.used.add(best[1])
        return each

    def _again(
        self, first: Quantity, end: int, mentions: list[tuple[int, int, Activity]], position: int
    ) -> list[Quantity]:
        """Further amounts of the same activity: "10 min in the morning and 10 min in the evening"."""
        upper = mentions[position + 1][0] if position + 1 < len(mentions) else len(self.text)
        sentence = _containing(self.sentences, first.start)
        more: list[Quantity] = []
        for index, each in enumerate(self.amounts):
            if (
                index in self.used
                or each.kind != first.kind
                or not max(first.end, end) <= each.start < min(upper, sentence.end)
            ):
                continue
            before, after = self.text[max(first.end, each.start - 30) : each.start], self.text[each.end : each.end + 28]
            joined = re.search(r"(?:\band|\bthen|\bplus|,|\+|&)\s*(?:then |again |another |about |a |for )*$", before)
            if joined and (
                re.match(
                    r"\s*(?:in the|at|this|after|before|later|again|back|more|on the way|home|tonight|to get|there)\b",
                    after,
                )
                or re.search(r"\banother $", before)
            ):
                self.used.add(index)
                more.append(each)
        return more

    def _number_fits(self, each: Quantity, end: int, kind: Activity) -> bool:
        """A number without a unit: flights of stairs; minutes right after the verb ("walked 10")."""
        if kind is Activity.STAIRS:
            return bool(re.match(r"\s*(?:flights?|stairs?|sets?|times?)", self.text[each.end : each.end + 10]))
        between = self.text[end : each.start]
        following = re.match(r"\s*([a-z']+)", self.text[each.end : each.end + 16])
        if following and self.text[each.end : each.end + 1] == " " and following[1] not in self.words.score_filler:
            return False  # "swam 20 lengths"
        return (
            each.start >= end and bool(re.fullmatch(r"\s*(?:for |the |about |around )*", between)) and each.value >= 1
        )

    def _is_settling(self, each: Quantity) -> bool:
        clause = _containing(self.clauses, each.start)
        before = self.text[max(clause.start, each.start - 40) : each.start].rpartition(",")[2]
        after = self.text[each.end : min(clause.end, each.end + 32)].partition(",")[0]
        near = f"{before} {after}"
        if not vocabulary().settled.search(near):
            return False
        return not re.match(r"\s*(?:walk|of walk|run|on the bike)", self.text[each.end : each.end + 12])

    # -- scores

    def scores(self) -> tuple[int | None, int | None, RestPattern | None, int | None]:
        """First-step pain, worst pain, a rest pattern that a score at rest gives, and a number without a meaning."""
        first = worst = None
        first_tag = worst_tag = False
        rest: RestPattern | None = None
        bare: int | None = None
        plain: list[tuple[int, Quantity]] = []
        for index, each in enumerate(self.amounts):
            if index in self.used or each.kind not in {"score", "number"} or not is_score(self.text, each):
                continue
            value = min(10, math.ceil(each.value))
            clause = _containing(self.clauses, each.start)
            before = self.text[max(clause.start, each.start - 45) : each.start]
            after = self.text[each.end : min(clause.end, each.end + 40)]
            if self._another(before, after):
                continue
            role = self._role(before, after)
            if role == "worst" and "worst of the day" in before and self.words.first.search(before):
                first, first_tag = value, True
            if role == "rest":
                rest = RestPattern.NONE if value == 0 else rest
                continue
            if role == "first":
                if first is None or not first_tag or each.tagged or "right" in before or "left" in before:
                    first = max(first, value) if first is not None and first_tag and not each.tagged else value
                first_tag = True
                self._note("first_step_pain", each.start, each.end)
            elif role == "worst":
                worst = max(worst, value) if worst_tag and worst is not None and not each.tagged else value
                worst_tag = True
                self._note("worst_pain", each.start, each.end)
            else:
                plain.append((value, each))
        for value, each in plain:
            if self.asked is Asked.MORNING:
                if not first_tag:
                    first = self._merged(first, value, each)
            elif self.asked is Asked.EVENING:
                if not worst_tag:
                    worst = self._merged(worst, value, each)
            elif each.kind == "score" or (
                self.words.score_cue.search(self.text[max(0, each.start - 20) : each.start])
                and re.search(r"\b(?:pain|heel|worst)\b", self.text[max(0, each.start - 30) : each.start])
            ):
                worst = self._merged(worst, value, each)
            else:
                bare = value
        if (
            first is not None
            and self.asked is Asked.EVENING
            and worst is None
            and re.search(r"worst of the day", self.text)
        ):
            worst = first
        return first, worst, rest, bare

    def _merged(self, so_far: int | None, value: int, each: Quantity) -> int:
        """Of two feet the worse counts; otherwise the first plain number, unless a later one says that it is a score."""
        if so_far is None:
            return value
        sides = re.search(r"\b(?:l|r|left|right)\b", self.text[max(0, each.start - 12) : each.end + 8])
        if sides:
            return max(so_far, value)
        return value if each.kind == "score" or self.asked is Asked.EVENING else so_far

    def _role(self, before: str, after: str) -> str:
        words = self.words
        places = {
            # In the evening a comma parts them: "ankle pumps before getting up, 2".
            "first": [
                m.end()
                for m in words.first.finditer(before)
                if self.asked is not Asked.EVENING or "," not in before[m.end() :]
            ],
            "worst": [m.end() for m in words.worst.finditer(before)],
            "rest": [m.end() for m in words.at_rest.finditer(before)],
        }
        nearest = max(((max(found), role) for role, found in places.items() if found), default=None)
        near_after = after[:26]
        stop = re.search(r"[,:]|\b(?:no|none|nothing|not|and|but|then)\b", near_after)
        near_after = near_after[: stop.start()] if stop else near_after
        for role, pattern in (("worst", words.worst), ("first", words.first), ("rest", words.at_rest)):
            if nearest is None and pattern.search(near_after):
                return role
        return nearest[1] if nearest is not None else "plain"

    def _another(self, before: str, after: str) -> bool:
        """Another body part, person or day: not this score."""
        near = before[-14:]
        near = near[near.rfind(",") + 1 :]
        if self.words.other_part.search(near) or re.match(
            r"\s*(?:for the|for effort|for my) (?:weather|food|view|effort|film|cake)", after
        ):
            return True
        if re.search(r"\b(?:was|of) (?:a |an )?$", before) and re.search(r"\b(?:yesterday|last week)\b", before):
            return self.asked is Asked.MORNING
        if self.asked is Asked.MORNING and re.match(
            r"\s*(?:\w+ ){0,2}?(?:yesterday|last (?:night|week|month)|the day before|(?:mon|tues|wednes|thurs|fri|satur|sun)day)\b",
            after,
        ):
            return not re.match(r"\s*today\b", after)
        if re.search(r"\b(?:grand\w+|son|daughter|kid|cat|dog|baby|birthday) (?:is|was|turned|turns) $", before):
            return True
        return bool(re.search(r"\b(?:hers|his|theirs) (?:was|is|were) (?:a |an )?$", before))

    # -- the rest

    def rest_pattern(self) -> RestPattern | None:
        """The pattern at rest that is said, with denial: "not constant" is intermittent."""
        found: list[tuple[int, RestPattern]] = []
        for pattern in (RestPattern.NONE, RestPattern.INTERMITTENT, RestPattern.CONSTANT):
            for match in self.words.rest[pattern].finditer(self.text):
                before = self.text[max(0, match.start() - 16) : match.start()]
                if pattern is RestPattern.CONSTANT and re.search(r"\b(?:not|n't|isn't|no|never|if it)\s*$", before):
                    found.append((match.start(), RestPattern.INTERMITTENT))
                elif (pattern is RestPattern.CONSTANT and self._about_deeds(match.start())) or (
                    pattern is RestPattern.INTERMITTENT and re.search(r"\b(?:not|never) (?:even )?$", before)
                ):
                    continue
                else:
                    self._note("rest_pattern", match.start(), match.end())
                    found.append((match.start(), pattern))
        kinds = {each for _, each in found}
        if RestPattern.CONSTANT in kinds and RestPattern.INTERMITTENT in kinds:
            return max(found)[1]
        for each in (RestPattern.NONE, RestPattern.CONSTANT, RestPattern.INTERMITTENT):
            if each in kinds:
                return each
        return None

    def _about_deeds(self, place: int) -> bool:
        return bool(
            re.search(
                r"\b(?:on my feet|stood|standing|walk\w*|work\w*|busy|sat|rain\w*|nag\w*)\b",
                self.text[max(0, place - 24) : place],
            )
        )

    def plan_done(self) -> tuple[PlanDone | None, About]:
        """How much of the plan was done, from words about the whole."""
        for kind in (PlanDone.SOME, PlanDone.NONE, PlanDone.ALL):
            for match in self.words.plan[kind].finditer(self.text):
                before = self.text[max(0, match.start() - 14) : match.start()]
                if kind is PlanDone.ALL and re.search(
                    r"(?:n't|not|never|no|will|to|hasn't|nearly|almost|pain|hurt\w*)\s+$", before
                ):
                    continue
                if kind is PlanDone.NONE and re.search(r"(?:worst|pain|hurt|swollen)\s*$", before):
                    continue
                if kind is PlanDone.NONE and re.match(
                    r"\s*(?:new|to report|else|worse|special|swollen)", self.text[match.end() : match.end() + 12]
                ):
                    continue
                self._note("plan_done", match.start(), match.end())
                return kind, self._day_at(match.start())
        return None, About.TODAY

    def settle_minutes(self) -> float | None:
        """How long the pain took to ease."""
        for index, each in enumerate(self.amounts):
            if each.kind == "minutes" and index not in self.used and self._is_settling(each):
                self.used.add(index)
                self._note("settle_minutes", each.start, each.end)
                return each.value
        return None

    def bare_minutes(self, found: list[ActivityDone], denied: list[Activity]) -> list[ActivityDone]:
        """Minutes without a name in an evening reply are walking."""
        if self.asked is not Asked.EVENING or any(each.activity is Activity.WALKING for each in found):
            return found
        for index, each in enumerate(self.amounts):
            if each.kind == "minutes" and index not in self.used:
                clause = _containing(self.clauses, each.start)
                near = self.text[clause.start : clause.end]
                rest = re.sub(
                    r"\b(?:did|the|and|my|a|of|for|about|then|plus|today|\d+x\d+)\b",
                    "",
                    near.replace(self.text[each.start : each.end], ""),
                )
                if len(rest.strip(" ,.;:0123456789x/").split()) <= 3 and Activity.WALKING not in denied:
                    self.used.add(index)
                    return [
                        *found,
                        ActivityDone(activity=Activity.WALKING, minutes=each.value, about=self._day_at(each.start)),
                    ]
        return found


def _activity(kind: Activity, parts: list[Quantity], about: About) -> ActivityDone:
    unnamed = "number" if kind is not Activity.STAIRS else "minutes"
    minutes = [each.value for each in parts if each.kind in {"minutes", unnamed}]
    km = [each.value for each in parts if each.kind == "km"]
    steps = [each.value for each in parts if each.kind == "steps"]
    count = [
        each.value for each in parts if each.kind == "count" or (each.kind == "number" and kind is Activity.STAIRS)
    ]
    return ActivityDone(
        activity=kind,
        minutes=sum(minutes) if minutes else None,
        km=sum(km) if km else None,
        steps=round(sum(steps)) if steps else None,
        count=sum(count) if count else None,
        about=about,
    )


def _severe(first: int | None, worst: int | None) -> tuple[FlagFinding, ...]:
    score = max((each for each in (first, worst) if each is not None), default=0)
    return (
        (FlagFinding(code=RedFlag.SEVERE_PAIN, score=score, words=f"{score} of 10"),)
        if score >= DEFAULT.severe_pain
        else ()
    )


def interpret(text: str, asked: Asked) -> Reading:
    """The reading of a reply, red flags by words left out."""
    it = _Interpreter(text, asked)
    exercises, exercises_denied = it.exercises()
    settle = it.settle_minutes()
    activities, activities_denied = it.activities()
    activities = it.bare_minutes(activities, activities_denied)
    plan, plan_about = it.plan_done()
    if (
        plan is PlanDone.NONE
        and (activities or exercises)
        and any(each.field == "plan_done" and "rested" in each.words for each in it.evidence)
    ):
        plan = None  # "rested, then walked 10 min": the rest does not say that nothing was done
    rest = it.rest_pattern()
    first, worst, rest_by_score, bare = it.scores()
    rest = rest or rest_by_score
    if vocabulary().nothing.match(it.text):
        if asked is Asked.MORNING and first is None:
            first = 0
        elif asked is Asked.EVENING and worst is None:
            worst = 0
    elif (
        asked is Asked.MORNING
        and first is not None
        and rest is None
        and re.search(r"[,;.\d]\s*(?:\d\W+)?(?:none|nothing|no)\W*$", it.text)
    ):
        rest = RestPattern.NONE
    zero = vocabulary().no_pain.search(it.text)
    if zero is not None:
        if asked is Asked.MORNING and first is None:
            first = 0
        elif asked is Asked.EVENING and worst is None:
            worst = 0
        if (
            rest is None
            and re.search(r"\b(?:pain ?free|no pain (?:at all|whatsoever))\b", it.text)
            and asked is Asked.MORNING
        ):
            rest = RestPattern.NONE
    today_score = first is not None if asked is Asked.MORNING else worst is not None
    whole_yesterday = bool(vocabulary().yesterday.search(it.text)) and not vocabulary().today.search(it.text)
    about = About.TODAY
    if (
        whole_yesterday
        and (asked is not Asked.MORNING or not today_score)
        and (activities or exercises or plan or worst is not None)
    ):
        about = About.YESTERDAY
    worst_about = about
    if worst is not None and about is About.TODAY:
        note = next((each for each in it.evidence if each.field == "worst_pain"), None)
        worst_about = it._day_at(note.start) if note is not None and asked is Asked.MORNING else About.TODAY
    if about is About.YESTERDAY:
        activities = [replace(each, about=About.YESTERDAY) for each in activities]
        exercises = [replace(each, about=About.YESTERDAY) for each in exercises]
        plan_about = About.YESTERDAY
    elif asked is not Asked.MORNING:
        plan_about = About.TODAY if not whole_yesterday else plan_about
    done = {each.activity for each in activities}
    return Reading(
        first_step_pain=first,
        worst_pain=worst,
        rest_pattern=rest,
        settle_minutes=settle,
        activities=tuple(sorted(activities, key=lambda each: list(Activity).index(each.activity))),
        exercises=tuple(exercises),
        plan_done=plan,
        plan_about=plan_about,
        worst_pain_about=worst_about,
        flags=_severe(first, worst),
        about=about,
        not_done=tuple(dict.fromkeys([*(each for each in activities_denied if each not in done), *exercises_denied])),
        correction=bool(vocabulary().correction.search(it.text)),
        bare_number=None if bare is None else float(bare),
        evidence=tuple(it.evidence),
    )
