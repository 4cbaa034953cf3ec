"""What was not done, only planned, only asked about, or done by somebody else."""

from __future__ import annotations

from bisect import bisect_left

from bot.reader.deeds.mentions import Deeds, Mention, in_the_past
from bot.reader.members import (
    DANCING,
    EVENING,
    GARDENING,
    HOUSEWORK,
    RUNNING,
    SPORT,
    STANDING,
    SWIMMING,
    WALKING,
)
from bot.reader.quantities import MEASURES
from bot.reader.reply import Reply
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_AFTER_NOT = listed["deeds", "after_not"]
_AFTER_SHORT_DENIAL = listed["deeds", "after_short_denial"]
_ANSWERS_NO = listed["deeds", "answers_no"]
_BEFORE_AN_ANSWER = listed["deeds", "before_an_answer"]
_BETWEEN_DEED_AND_DENIAL = listed["deeds", "between_deed_and_denial"]
_BETWEEN_PERSON_AND_DEED = listed["deeds", "between_person_and_deed"]
_CONDITION_BEFORE_DEED = listed["deeds", "condition_before_deed"]
_CONDITION_BEFORE_I = listed["deeds", "condition_before_i"]
_BEFORE_ANOTHERS_DEED = listed["deeds", "before_anothers_deed"]
_COMES_TO_THE_PATIENT = listed["deeds", "comes_to_the_patient"]
_TURNS_TO_A_DEED = listed["deeds", "turns_to_a_deed"]
_BEFORE_WATCHING = listed["deeds", "before_watching"]
_GIVES_UP = listed["deeds", "gives_up"]
_HELPING = listed["deeds", "helping"]
_IN_LAW = listed["deeds", "in_law"]
_IN_COMPANY_OF = listed["deeds", "in_company_of"]
_THEMSELVES = listed["deeds", "themselves"]
_MAKES_A_PASSIVE = listed["deeds", "makes_a_passive"]
_BY_ONESELF = listed["deeds", "by_oneself"]
_GOES_BY_ITSELF = listed["deeds", "goes_by_itself"]
_NAMES_THE_SUBJECT = listed["deeds", "names_the_subject"]
_TIMES_OF_DAY = listed["deeds", "parts_of_the_day"] | {"rest", "end", "lot", "same"}
_OPENS_A_STATEMENT = listed["deeds", "opens_a_clause"] | {"", ".", ";", "?", "then"}
_OF_THE_BODY = listed["deeds", "of_the_body"]
_THOUGHT_OR_TALKED_OF = listed["deeds", "thought_or_talked_of"]
_NOT_THE_DEED_IS_DENIED = listed["deeds", "not_the_deed_is_denied"]
_POSSESSIVES_OF_OTHERS = listed["deeds", "possessives_of_others"]
_PRONOUNS_OF_OTHERS = listed["deeds", "pronouns_of_others"]
_SHORT_DENIALS = listed["deeds", "short_denials"]
_TURNS_WITHIN_A_PLAN = listed["deeds", "turns_within_a_plan"]
_VERBS_OF_OTHERS = listed["deeds", "verbs_of_others"]
_VERBS_OF_SKIPPING = listed["deeds", "verbs_of_skipping"]
_WATCHING = listed["deeds", "watching"]
_WATCHED_AS_WELL_AS_DONE = frozenset({DANCING, RUNNING, SPORT, SWIMMING})
_WATCHED_FROM = listed["deeds", "watched_from"]
_GROUPS_OF_OTHERS = listed["deeds", "groups_of_others"]
_STAYS_OUT_OF_IT = listed["deeds", "stays_out_of_it"]
_WORDS_OF_NONE = listed["deeds", "words_of_none"]
_WORDS_OF_YES_OR_NO = listed["deeds", "words_of_yes"] | listed["deeds", "answers_no"]
_WORDS_OF_THE_PATIENT_OR_DRAWS_IN_THE_PATIENT = listed["deeds", "words_of_the_patient", "draws_in_the_patient"]

_OPENS_A_CLAUSE = listed["deeds", "opens_a_clause"]
_ENDS_A_STATEMENT = frozenset({"", ".", ",", ";", "-", "?"})
_REACH = 6
_FAR = 9
_NEAR_ENOUGH = 4

_PLAN_REACH = 9
_ARTICLES = frozenset({"the", "my", "a", "an", "our"})
_FIRST_YEAR, _LAST_YEAR = 1950, 2099
_BEFORE_A_YEAR = frozenset({"in", "since", "from", "of"})


def is_denied(deeds: Deeds, each: Mention, index: int) -> bool:
    return denied_before(deeds, each, index) or denied_after(deeds, each) or asked_or_planned(deeds, each)


def denied_before(deeds: Deeds, each: Mention, index: int) -> bool:
    if not deeds.deny_ends:
        return False
    reply = deeds.reply
    noun = not in_the_past(reply.text(each.first)) and not deeds.amount_beside(each)
    at, steps, crossed = each.first - 1, 0, False
    while at >= 0 and steps < _REACH + (3 if crossed else 0):
        word = reply.text(at)
        in_digits = word == "0" and not reply.row[at].by_words and not (noun and at == each.first - 1)
        if at in deeds.deny_ends and not in_digits:
            if _answers_for_the_one_before(deeds, at) or _given_up_later(reply, at, each):
                return False
            if (
                word == "no"
                and (at == 0 or reply.text(at - 1) in {".", ";"})
                and reply.text(at + 1) in {"i", "we", ","}
            ):
                return False  # "no I walked 9 minutes"
            # "no pain walking", "no bother": what is denied is not the deed.
            if word in {"no", "not", "without", "never"} and reply.text(at + 1) in _NOT_THE_DEED_IS_DENIED:
                return False
            if word == "not" and reply.text(at - 1) == "but" and _VERBS_OF_SKIPPING & set(reply.said(at - _REACH, at)):
                return False  # "forgot the raises but not the walk"
            if word == "no" and reply.text(at + 1) in {"lift", "car", "bus"}:
                return False
            return not (word in {"stopped", "zero", "nil"} and reply.text(at + 1) in {".", ","})
        if word == ":" and deeds.deny_ends & {at - 1, at - 2, at - 3}:
            return True
        if word in {".", ";", "?", ":", "-"} or at in deeds.turns:
            return False
        if word in {"and", "or", "nor", ","} or deeds.mention_at(at):
            if not noun and word != "or" and word != "nor":
                return False
            crossed = True
        if reply.row[at].kind is Kind.NUMBER:
            return False
        at -= 1
        steps += 1
    return False


def _answers_for_the_one_before(deeds: Deeds, at: int) -> bool:
    """ "walking no, cycling yes": the denial is of what stands before it."""
    reply = deeds.reply
    if reply.text(at) not in _SHORT_DENIALS or reply.text(at + 1) not in {",", ".", ";", "but"}:
        return False
    return deeds.mention_at(at - 1) or (reply.text(at - 1) in {":", "-", "?"} and deeds.mention_at(at - 2))


def _given_up_later(reply: Reply, at: int, each: Mention) -> bool:
    """ "bailed on the run after 10 minutes": done up to then."""
    after = reply.text(each.last) in {"after", "at"} and each.last + 1 < len(reply.row)
    given_up = after and not _GIVES_UP.isdisjoint(reply.said(at - 2, at + 1))
    return given_up and reply.row[each.last + 1].kind is Kind.NUMBER


def denied_after(deeds: Deeds, each: Mention) -> bool:
    reply = deeds.reply
    at = each.last
    steps = 0
    while reply.text(at) in _BETWEEN_DEED_AND_DENIAL and steps < 3:
        at += 1
        steps += 1
    if not steps and _nought_in_words(deeds, each, at):
        return True
    if steps and reply.row[at].kind is Kind.NUMBER if at < len(reply.row) else False:
        labelled = {":"} if not reply.row[at].by_words else {":", "-", "?"}  # "raises: 0", "walk - zero"
        nothing = reply.row[at].value == 0 and reply.text(at - 1) in labelled
        return nothing and reply.text(at + 1) in {"", ".", ",", ";"}
    for found in reply.within("scope said_no", at, at + _FAR):
        if found.first != at:
            continue
        after = reply.text(found.last)
        if after in {"after", "at"} and reply.row[found.last + 1 :] and reply.row[found.last + 1].kind is Kind.NUMBER:
            return False  # "rained off after 10 minutes"
        if reply.text(at) in {"notdone", "nowhere"}:
            return True
        if found.last - found.first > 1 and reply.text(found.last - 1) == "not":
            return after in _ENDS_A_STATEMENT  # "yesterday's run: didn't"
        if reply.text(found.last - 1) == "manage" and after not in _ENDS_A_STATEMENT:
            return False  # "raises did not manage all"
        if found.last - found.first > 1 and after not in {"pain"}:
            return True
        if reply.text(at) == "x" and deeds.mention_at(found.last):
            return True  # "walk x raises 2x10"
        if reply.text(at) in _SHORT_DENIALS:
            ends = after in _AFTER_SHORT_DENIAL
            if after == "pain" or after == "worst":
                return steps > 0 and reply.text(at - 1) in {":", "-", "?"} and after == "worst"
            if reply.text(at) in {"not"}:
                return after in _AFTER_NOT and reply.text(found.last + 1) not in {"bad"}
            if steps == 0 and reply.text(at) == "no":
                around = {
                    *reply.said(found.last, found.last + 4),
                    reply.text(each.first - 2) if each.first > 1 else ",",
                }
                listed_so = after == "," and not _WORDS_OF_YES_OR_NO.isdisjoint(around)  # "walk no, raises no, pain 3"
                return after in {"", ".", ";", "sorry"} or (listed_so and not deeds.amount_beside(each))
            if reply.text(each.last) == "," and reply.text(at) in _WORDS_OF_NONE:
                return False
            return ends
        if reply.text(at) == "tomorrow":
            return True
        return steps > 0 or reply.text(at) in _VERBS_OF_SKIPPING or after in {"", ".", ",", ";"}
    return False


def _nought_in_words(deeds: Deeds, each: Mention, at: int) -> bool:
    """ "raises nil", "walk zero, raises zero": none of it; not "pain on raises nil"."""
    reply = deeds.reply
    if at >= len(reply.row) or reply.row[at].kind is not Kind.NUMBER or reply.row[at].value != 0:
        return False
    if not reply.row[at].by_words or reply.text(at + 1) not in _ENDS_A_STATEMENT:
        return False
    if each.group == "activity" and reply.text(each.last - 1).endswith("ing"):
        return False  # "walking zero, stairs three": scores
    first = reply.sentence_spans[reply.sentence[each.first]][0]
    if deeds.amount_beside(each) or not _OF_THE_BODY.isdisjoint(reply.said(max(first, each.first - _FAR), each.first)):
        return False
    index = bisect_left(reply.amounts, at, key=lambda q: q.first)
    if index < len(reply.amounts) and reply.amounts[index].first == at:
        reply.used.add(index)
    return True


def asked_or_planned(deeds: Deeds, each: Mention) -> bool:
    reply = deeds.reply
    first, last = reply.sentence_spans[reply.sentence[each.first]]
    at, steps = each.first - 1, 0
    while deeds.plan_ends and at >= first and steps < _PLAN_REACH:
        if at in deeds.plan_ends:
            word = reply.text(at)
            if word == "to" and reply.text(at - 1) == "back" and not in_the_past(reply.text(each.first)):
                return False
            if word == "to" and reply.text(at - 1) == "have" and reply.text(at - 2) in {"did", "would"}:
                return True
            return not (
                reply.text(at - 1) == "had"
                or (word == "to" and reply.text(at - 1) in {"have", "need"} and reply.text(at - 2) == "had")
            )
        if at in deeds.turns and reply.text(at) not in _TURNS_WITHIN_A_PLAN:
            break
        if reply.text(at) in {",", "-"} or (reply.text(at) == "and" and reply.text(at + 1) in {"i", "did", "then"}):
            break
        at -= 1
        steps += 1
    clause = reply.clause[each.first]
    if "in" in reply.said(each.last, each.last + _REACH) and _in_a_month(reply, each, last):
        return True
    numbers = (
        () if _BEFORE_A_YEAR.isdisjoint(reply.said(each.first - _FAR, each.first + _REACH)) else reply.tokens.numbers
    )
    for number in numbers[bisect_left(numbers, each.first - _REACH) : bisect_left(numbers, each.first + _REACH + 1)]:
        in_short = reply.text(number - 1) == "'" and reply.row[number].glued  # "skiing in '98"
        if (
            (in_short or _FIRST_YEAR <= reply.row[number].value <= _LAST_YEAR)
            and reply.text(number - 1 - in_short) in _BEFORE_A_YEAR
            and reply.clause[number] == clause
        ):
            return True  # "broke it in 1998 playing"
    for found in reply.within("scope history", max(first, each.first - 12), min(last, each.last + 12)):
        if (
            reply.clause[found.first] == clause
            and abs(found.first - each.first) <= 8
            and not reply.within("cue today", first, last)
        ):
            return True
    for found in reply.within("scope plans", each.last, min(last, each.last + 5)):
        if reply.text(found.first - 1) == "as":
            continue  # "walked 20 min as planned"
        ahead = reply.text(found.first) in {"will", "shall", "going"} and found.first - each.last <= 1
        if (reply.text(found.first) in {"tomorrow", "planned"} or ahead) and reply.clause[found.first] == clause:
            return True
    if reply.text(last - 1) == "?":
        opening = reply.text(first)
        if opening in {"did", "have"} and reply.text(first + 1) == "i":
            # A question to oneself: the answer stands behind it.
            answer = reply.text(last)
            if answer in _BEFORE_AN_ANSWER:
                answer = reply.text(last + 1)
            return answer in _ANSWERS_NO and not amount_soon(deeds, last)
    return False


def _in_a_month(reply: Reply, each: Mention, last: int) -> bool:
    """ "ran a half marathon in May"."""
    for place in range(each.last, min(last, each.last + _REACH)):
        if reply.clause[place] != reply.clause[each.first]:
            return False
        month = reply.text(place + 1)
        named = reply.text(place) == "in" and (month in reply.words.months or month == "may")
        if named and (reply.text(place + 2) in _ENDS_A_STATEMENT or place + 2 in reply.tokens.numbers):
            return True
    return False


def amount_soon(deeds: Deeds, at: int) -> bool:
    amounts = deeds.reply.amounts
    index = bisect_left(amounts, at, key=lambda q: q.first)
    return index < len(amounts) and amounts[index].first <= at + 2 and amounts[index].kind in MEASURES


def other_subject(deeds: Deeds, each: Mention) -> bool:
    """Whether the clause opens with somebody else and never comes to the patient: "my mate snapped it at five a side"."""
    reply = deeds.reply
    if not deeds.others and _GROUPS_OF_OTHERS.isdisjoint(reply.said(each.first - _FAR, each.first)):
        return False
    opening, ending = reply.sentence_spans[reply.sentence[each.first]]
    start = each.first - 1
    while start >= max(opening, each.first - _FAR) and reply.text(start) not in _OPENS_A_CLAUSE:
        start -= 1
    before = reply.said(start + 1, each.first)
    if not _GROUPS_OF_OTHERS.isdisjoint(before[:3]) and {"i", "we"}.isdisjoint(before):
        # "club was doing hill reps, I said no chance"
        behind = " ".join(reply.said(each.last, min(ending, each.last + 10)))
        return any(out in behind for out in _STAYS_OUT_OF_IT)
    if not deeds.others:
        return False
    if before[:1] and before[0] in {"my", "our", "the", "a"}:
        start += 1
        before = before[1:]
    while len(before) > 1 and before[1] in _IN_LAW:
        del before[1]  # "my brother-in-law dug the pond"
    return (
        start + 1 in deeds.others
        and reply.text(start + 1) not in {"you", "physio", "people", "everyone"}
        and len(before) > 1
        and not set(before) & _WORDS_OF_THE_PATIENT_OR_DRAWS_IN_THE_PATIENT
        and (
            in_the_past(before[1])
            or before[1] in _VERBS_OF_OTHERS
            or (
                before[1] in _BEFORE_ANOTHERS_DEED  # "my mate at five a side popped his achilles"
                and (in_the_past(reply.text(each.last)) or reply.text(each.last) in _VERBS_OF_OTHERS)
                and not _COMES_TO_THE_PATIENT & set(reply.said(each.last, min(ending, each.last + 5)))
            )
        )
    )


def only_watched(deeds: Deeds, each: Mention) -> bool:
    """ "sat and watched the lads play football", "umpired the netball": the patient was there and did not play."""
    reply = deeds.reply
    if each.kind not in _WATCHED_AS_WELL_AS_DONE:
        return False
    at = each.first - 1
    while at >= max(0, each.first - 6) and reply.row[at].kind is Kind.WORD and reply.text(at) not in _OPENS_A_CLAUSE:
        if reply.text(at) in _TURNS_TO_A_DEED:
            return False
        if reply.text(at) in _WATCHING:
            return True
        at -= 1
    last = reply.sentence_spans[reply.sentence[each.first]][1]
    return (
        any(
            reply.text(at) in _WATCHING and _BEFORE_WATCHING & {reply.text(at - 1), reply.text(at - 2)}
            for at in range(each.last, min(last, each.last + 8))
        )
        or " ".join(reply.said(each.last, each.last + 3)) in _WATCHED_FROM
    )


def _goes_by_itself(deeds: Deeds, each: Mention) -> bool:
    """ "the film ran two hours", "the tap ran", "my heart jumped": not the patient."""
    reply = deeds.reply
    if reply.text(each.first) not in _GOES_BY_ITSELF or each.first < 1:
        return False
    subject = each.first - 1
    index = bisect_left(deeds.firsts, each.first) - 1
    named = deeds.mentions[index] if index >= 0 and deeds.mentions[index].last == each.first else None
    if named is not None:
        return named.group == "not_loading"  # "the meeting ran on"
    return (
        reply.row[subject].kind is Kind.WORD
        and reply.text(subject - 1) in _NAMES_THE_SUBJECT
        and reply.text(subject) not in _TIMES_OF_DAY
        and reply.text(subject - 2) in _OPENS_A_STATEMENT
    )


def _done_by_somebody(reply: Reply, each: Mention) -> bool:
    """ "the lawn got mowed by the boy next door", "the dog walked herself": not by the patient."""
    if reply.text(each.last) in _THEMSELVES:
        return True
    chore = reply.text(each.last) in _MAKES_A_PASSIVE and each.kind in {GARDENING, HOUSEWORK}
    if chore and in_the_past(reply.text(each.last + 1)) and reply.text(each.last + 2) == "by":
        return reply.text(each.last + 3) not in _BY_ONESELF
    passive = reply.text(each.last) == "by" and reply.text(each.first - 1) in _MAKES_A_PASSIVE
    return passive and each.kind != STANDING and reply.text(each.last + 1) not in _BY_ONESELF


def _thought_or_talked_of(reply: Reply, each: Mention) -> bool:
    """ "cold feet about moving house", "read about dancing", "worried about my run"."""
    about = each.first - 1 - (reply.text(each.first - 1) in _ARTICLES)
    if reply.text(about) != "about" or reply.row[each.first].kind is not Kind.WORD:
        return False
    if reply.text(about - 1) not in _THOUGHT_OR_TALKED_OF:
        return False
    # "happy about the walk, 25 min": done
    return not any(q.kind in MEASURES for q in reply.amounts_within(each.last, each.last + _NEAR_ENOUGH))


def only_said(deeds: Deeds, each: Mention) -> bool:
    """Named as a condition ("hurts when walking") or done by somebody else ("my husband walked the dog")."""
    reply = deeds.reply
    if reply.text(each.first - 1) in _POSSESSIVES_OF_OTHERS and {"i", "we"} & set(
        reply.said(each.first - 5, each.first - 1)
    ):
        return False  # "so I did her hoovering"
    if reply.text(each.first - 1) in _POSSESSIVES_OF_OTHERS or (
        reply.text(each.first - 2) in _POSSESSIVES_OF_OTHERS and reply.row[each.first - 1].kind is Kind.NUMBER
    ):
        return True  # "my husband did his twenty raises"
    if other_subject(deeds, each) or only_watched(deeds, each):
        return True
    if _done_by_somebody(reply, each) or _thought_or_talked_of(reply, each) or _goes_by_itself(deeds, each):
        return True
    if not _HELPING.isdisjoint(reply.said(each.first - 5, each.first)):
        return False  # "helped my brother carry a piano"
    at = each.first - 1
    steps = 0
    while steps < 2 and reply.text(at) in _BETWEEN_PERSON_AND_DEED:
        at -= 1
        steps += 1
    if at in deeds.others and reply.text(at) not in {"you", "physio"}:
        before = reply.text(at - 1) if reply.text(at - 1) not in {"my", "the", "our", "a"} else reply.text(at - 2)
        if before not in _IN_COMPANY_OF or reply.text(at) in _PRONOUNS_OF_OTHERS:
            return not (steps and reply.text(each.first - 1) in {"a", "the", "for"} and before in {"watched", "took"})
    if deeds.amount_beside(each) or in_the_past(reply.text(each.first)):
        return False
    if each.group == "exercise":
        if any(q.kind == "sets" for q in reply.amounts[:12]):
            return False  # "calves tight from the raises, 3x15"
        return reply.text(each.first - 1) == "from" or (
            reply.text(each.first - 1) in {"the", "my", "those", "all"} and reply.text(each.first - 2) in {"from"}
        )
    before, second = reply.text(each.first - 1), reply.text(each.first - 2)
    if before in _CONDITION_BEFORE_DEED and not (
        before in {"from", "with", "like"} and each.kind != WALKING and each.kind != STANDING
    ):
        if (
            reply.asked is EVENING
            and before in {"when", "while", "whilst"}
            and each.kind not in {WALKING, STANDING, RUNNING}
        ):
            return False
        return before not in {"from", "with"}
    if before in {"i", "to", "am", "just"} and second in _CONDITION_BEFORE_I:
        return True
    if before == "not" and second in {"can", "could"}:
        return True
    return before in {"can", "could"} and second == "i"
