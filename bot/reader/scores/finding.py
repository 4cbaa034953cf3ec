"""Which numbers can be pain scores, and how plainly they are."""

from __future__ import annotations

import math

from bot.reader.members import MORNING
from bot.reader.quantities import Quantity
from bot.reader.reply import Reply
from bot.reader.scores.doubts import compared, doubtful, goes_on_with_times, of_days_gone_by
from bot.reader.scores.roles import NEAR, role_of
from bot.reader.scores.score import Score
from bot.reader.tokens import Kind
from bot.reader.vocabulary import listed

_COUNTED_PEOPLE = listed["scores", "counted_people"]
_ALL_OF_SO_MANY = listed["scores", "says_all_was_done"]
_AFTER_NO_SCORE = listed["scores", "after_no_score"]
_ADJECTIVES_OF_ONE = listed["scores", "one_of_several"]
_AFTER_ONE_THAT_IS_NO_SCORE = listed["scores", "after_one_that_is_no_score"]
_BEFORE_FINAL_ONE = listed["scores", "before_a_final_one"]
_BEFORE_NO_SCORE = listed["scores", "before_no_score"]
_DENIES_A_LONE_SCORE = listed["scores", "denies_a_lone_score"]
_GOES_ON_WITH = listed["quantities", "goes_on_with"]
_HAS_ONE = listed["scores", "has_one"]
_LINK_OR_BETWEEN_PAIN_AND_SCORE = listed["scores", "link", "between_pain_and_score"]
_LIKENED_TO_ONE = listed["scores", "likened_to_one"]
_BEFORE_LIKENED = frozenset({"more", "pain", "was", "is", "feels", "score", "low", "much"})
_OPENS_FINAL_ONE = listed["scores", "opens_a_final_one"]
_OWNERS_AFTER_OF = listed["scores", "owners_after_of"]
_PARTS_THAT_ARE_COUNTED = listed["scores", "parts_that_are_counted"]
_SAYS_BEFORE_ARTICLE_SCORE = listed["scores", "says_before_article_score"]
_SAYS_MORE = listed["scores", "says_more"]
_SAYS_OTHERWISE = listed["scores", "says_otherwise"]
_STATES_OF_A_HEEL = listed["scores", "states_of_a_heel"]
_STATES_WITH_A_VERB = listed["scores", "states_with_a_verb"]
_STRENGTHENS_SCORE = listed["scores", "strengthens_score"]
_ARTICLES_OF_THE_HEEL = listed["scores", "articles_of_the_heel"]
_NAMES_OF_THE_HEEL = listed["scores", "names_of_the_heel"]
_PLACES_OF_A_SCORE = listed["scores", "places_of_a_score"]
_RISES = listed["scores", "rises_to"] | {"to"}
_WHAT_A_HEEL_DOES = listed["scores", "what_a_heel_does"]
_TIMES_OF_A_SET = listed["scores", "times_of_a_set"]
_WHEN_AFTER_SCORE = listed["scores", "when_after_score"]

_ARTICLES_OF_ONE = listed["scores", "articles_of_one"]
_FAR_FOR_A_SET = 7


def find_scores(reply: Reply) -> list[Score]:
    """The scores of a reply, after the deeds have taken their amounts."""
    found: list[Score] = []
    times: set[int] = set()  # amounts that go on a list of times of day
    for index, amount in enumerate(reply.amounts):
        if index in reply.used or amount.kind not in {"score", "number"}:
            continue
        if amount.kind == "number" and amount.value > 10 and not off_the_scale(reply, amount):
            continue
        score = as_score(reply, amount, index, times)
        if score is not None:
            found.append(score)
    if len(found) < 2:
        return found
    nought_at_rest(reply, found)
    return without_taken_back(reply, of_days_gone_by(reply, found))


def nought_at_rest(reply: Reply, scores: list[Score]) -> None:
    """ "foot on the cushion: zero pain": a nought that the pattern at rest was read from is no other score."""
    for each in scores:
        if each.value or each.role != "plain":
            continue
        start = reply.row[each.at].start
        if any(note.field == "rest_pattern" and note.start <= start < note.end for note in reply.evidence):
            each.role = "rest"


def off_the_scale(reply: Reply, amount: Quantity) -> bool:
    """ "11!" in answer to the morning's question."""
    only = len(reply.amounts) == 1 and reply.asked is MORNING and amount.value <= 15
    return only and stands_isolated(reply, amount, *reply.sentence_spans[reply.sentence[amount.first]])


def without_taken_back(reply: Reply, scores: list[Score]) -> list[Score]:
    """ "four. scratch that, I was half asleep, five": a score that is taken back goes."""
    if len(scores) < 2:
        return scores
    kept: list[Score] = []
    for each in scores:
        at = len(kept) - 1
        while at >= 0 and (
            kept[at].role in {"past", "other"} or (kept[at].strength < 0 and at and denied_at_once(reply, kept[0]))
        ):
            at -= 1
        if at >= 0 and takes_back(reply, kept[at], each):
            if each.strength < 0:
                continue
            back = kept.pop(at)
            role = back.role if each.role in {"plain", "other"} else each.role
            each = Score(each.value, role, max(each.strength, back.strength), each.at, each.last, True)
        kept.append(each)
    return kept


def denied_at_once(reply: Reply, score: Score) -> bool:
    """Whether "No" stands behind a score as a sentence of its own."""
    return reply.said(score.last, score.last + 3) == [".", "no", "."]


def takes_back(reply: Reply, one: Score, other: Score) -> bool:
    """Whether the words between two scores say that the second is meant instead of the first."""
    if other.at - one.last > 16:
        return False
    if reply.within("cue strong_correction", one.last, other.at):
        return True
    same_sentence = reply.sentence[one.at] == reply.sentence[other.at]
    if reply.text(one.last + 1) == "sorry" and same_sentence:
        return True
    between = set(reply.said(one.last, other.at))
    if denied_at_once(reply, one) and other.last >= len(reply.row) - 1 and reply.text(other.at - 1) == ".":
        return True  # "two. No. I would have said two lying down. Three."
    return (
        other.role in {"plain", one.role}
        and bool(between & _SAYS_OTHERWISE)
        and not between & _SAYS_MORE
        and not any(each[0].isdigit() for each in between)
        and (other.strength > 0 or reply.text(other.last) in {"", "."})
    )


def as_score(reply: Reply, amount: Quantity, index: int, times: set[int]) -> Score | None:
    value = math.ceil(amount.value) if amount.value < 10 else 10
    before, after = reply.text(amount.first - 1), reply.text(amount.last)
    said = amount.kind == "score"
    if not said and not can_be(reply, amount, before, after) and not held_against_another(reply, amount, index):
        return None
    if len(reply.amounts) == 1 and before in {"a", "an"} and _denied_alone(reply, amount.first):
        return None
    if not said and index and after in _TIMES_OF_A_SET and one_more_set(reply, amount, index):
        return None
    first, last = reply.sentence_spans[reply.sentence[amount.first]]
    role = role_of(reply, amount, first, last)
    strength = (
        3 if said else 2 if by_pain(reply, amount, first) else 1 if stands_isolated(reply, amount, first, last) else 0
    )
    if not strength and _stated(reply, amount, before):
        strength = 1
    if (
        said
        and amount.last < last
        and reply.row[amount.last].kind is Kind.WORD
        and reply.text(amount.last) not in reply.words.score_filler
    ):
        strength = 1  # "10/10 annoying"
    earlier = reply.amounts[index - 1] if index else None
    gone_on = False
    if earlier is not None and amount.first - earlier.last <= 2:
        between = reply.said(earlier.last, amount.first)
        gone_on = (earlier.kind == "clock" or earlier.doubtful or index - 1 in times) and goes_on_with_times(between)
        if gone_on and not said:
            times.add(index)  # "up at 1, 3 and 5"
        if earlier.kind in {"score", "number"} and earlier.value <= 10:
            if index - 1 not in reply.used and between in ([","], ["then"], [",", "then"]):
                strength = max(strength, 1)
            if not between and earlier.kind == "number" and by_pain(reply, earlier, first):
                strength = max(strength, 2)  # "pain 2 3 2"
    if (
        not strength
        and after in _WHEN_AFTER_SCORE
        and (after != "in" or reply.text(amount.last + 1) in {"the", "my"})
        and (not amount.first or before in {"and", "then"} or reply.row[amount.first - 1].kind is Kind.MARK)
    ):
        strength = 1
    if len(reply.amounts) > 1 and strength >= 0 and doubtful(reply, amount, first, last):
        strength = -1
    if gone_on or amount.doubtful or (before == "for" and not said and after != "pain"):
        strength = -1
    return Score(value, role, strength, amount.first, amount.last, amount.tagged)


def _stated(reply: Reply, amount: Quantity, before: str) -> bool:
    """ "it was 4", "call it a 4", "a solid 4": said in so many words."""
    if before in {"was", "is", "at", "already"} or before in _STATES_WITH_A_VERB:
        return True
    second = reply.text(amount.first - 2)
    if before == "were":
        return second not in _COUNTED_PEOPLE  # "the stairs were a 6", not "we were 6"
    if before in {"a", "an"} and second in _SAYS_BEFORE_ARTICLE_SCORE:
        return True
    return before in _STRENGTHENS_SCORE and second in {"a", "an"}


def _denied_alone(reply: Reply, at: int) -> bool:
    """ "nowhere near a 10", "it is not a 9 or anything", where no other number stands."""
    return any(" ".join(reply.said(max(0, at - length), at)) in _DENIES_A_LONE_SCORE for length in (2, 3, 4, 5))


def held_against_another(reply: Reply, amount: Quantity, index: int) -> bool:
    """ "2 instead of the usual 4"."""
    if index + 1 >= len(reply.amounts) or index + 1 in reply.used:
        return False
    other = reply.amounts[index + 1]
    near = other.kind in {"score", "number"} and other.value <= 10 and other.first - amount.last <= NEAR
    return near and compared(reply.said(amount.last, other.first))


def one_more_set(reply: Reply, amount: Quantity, index: int) -> bool:
    """ "10 raises on waking, 10 at lunch, 10 just now": a number that goes on a list of sets."""
    if reply.text(amount.first - 1) not in _GOES_ON_WITH or not reply.found("exercise heel_raise"):
        return False
    start = amount.first
    for earlier in range(index - 1, -1, -1):
        one = reply.amounts[earlier]
        if one.value != amount.value or start - one.last > _FAR_FOR_A_SET or one.kind not in {"number", "reps"}:
            return False
        if any(one.last <= each.first <= one.last + 1 for each in reply.found("exercise heel_raise")):
            return earlier in reply.used
        if reply.text(one.first - 1) not in _GOES_ON_WITH:
            return False
        start = one.first
    return False


def can_be(reply: Reply, amount: Quantity, before: str, after: str) -> bool:
    if amount.tagged:
        return True
    if amount.value == 10 and before == "of" and reply.text(amount.first - 2) == "out":
        return False  # the scale
    if reply.row[amount.first].by_words and amount.value <= 2:
        at = amount.last + (after in _STATES_OF_A_HEEL)
        if reply.text(at) in _PARTS_THAT_ARE_COUNTED:
            return False  # "two feet, one sore heel: 4"
    if before == "all" and after in _ALL_OF_SO_MANY:
        return False  # "all 3 done. 2"
    if after == "of" and reply.text(amount.last + 1) == "pain":
        return True
    if after == "of" and reply.text(amount.last + 1) in _OWNERS_AFTER_OF:
        return False
    if amount.value == 1 and reply.row[amount.first].by_words and after in _AFTER_ONE_THAT_IS_NO_SCORE:
        return after == "or" or (after == "of" and reply.text(amount.last + 1) == "pain")
    if (
        amount.value == 1
        and reply.row[amount.first].by_words
        and (before in _HAS_ONE or _counts_nothing(reply, amount) or _likened(reply, amount, before))
    ):
        return False  # "have not got one"
    if before in _BEFORE_NO_SCORE and not (before in {"did", "take"} and after in {"", "."}):
        return False
    if (
        reply.row[amount.first].by_words
        and amount.value == 1
        and before not in reply.words.score_cues
        and before not in {"", ".", ",", ";", ":", "or"}
    ):
        return False
    if amount.last >= len(reply.row) or reply.row[amount.last].kind is not Kind.WORD:
        return after not in {"%", "x"}
    if after == "x" and reply.row[min(amount.last + 1, len(reply.row) - 1)].kind is Kind.NUMBER:
        return False
    if (
        after in reply.words.score_filler
        or is_role_word(reply, amount.last)
        or _told_by_the_heel(reply, amount, before)
    ):
        return True
    # An unknown word: not what is counted, where nothing else stands in the clause ("eight abeg.").
    opens = amount.first == 0 or reply.clause[amount.first] != reply.clause[amount.first - 1]
    ends = amount.last + 1 >= len(reply.row) or reply.row[amount.last + 1].kind is Kind.MARK
    counted = after.endswith("s") or after in reply.words.units or after in reply.words.other_units
    cued = by_pain(reply, amount, reply.sentence_spans[reply.sentence[amount.first]][0]) or any(
        reply.within(f"score {role}", max(0, amount.first - 4), amount.first) for role in ("first", "worst")
    )
    if cued and not counted and after.isalpha() and not _AFTER_NO_SCORE & {after, reply.text(amount.last + 1)}:
        return True  # "pain three uh did the raises": nothing is counted by such a word
    rated = before in {"a", "an"} and reply.text(amount.first - 2) in reply.words.score_cues  # "maybe a 3 innit"
    return (opens or cued or rated) and ends and amount.value != 1 and not counted


def _told_by_the_heel(reply: Reply, amount: Quantity, before: str) -> bool:
    """ "4 says the heel", "got to a 3 round the roadworks", the "o" that ends "shouting 6 o": nothing is counted by the word."""
    after, end = reply.text(amount.last), amount.last + 1
    if after in _WHAT_A_HEEL_DOES:
        return reply.text(end) in _ARTICLES_OF_THE_HEEL and reply.text(end + 1) in _NAMES_OF_THE_HEEL
    if after in _PLACES_OF_A_SCORE:
        rated = before in {"a", "an"} and reply.text(amount.first - 2) in _RISES
        return rated and reply.text(end) in _ARTICLES_OF_THE_HEEL
    return after in {"o", "of"} and reply.text(end) in {"", "."}


def _likened(reply: Reply, amount: Quantity, before: str) -> bool:
    """ "puffy like a loaf and warm as one": the one that it is like."""
    return (
        before in _LIKENED_TO_ONE
        and len(reply.row) > _FAR_FOR_A_SET
        and not _BEFORE_LIKENED & set(reply.said(amount.first - 4, amount.first - 1))
    )


def _counts_nothing(reply: Reply, amount: Quantity) -> bool:
    """ "the sore one", and the "one" that ends a sentence in some Englishes: "no pain one", "never stop one"."""
    before, opens = reply.text(amount.first - 1), reply.text(amount.first - 2)
    if before in _ADJECTIVES_OF_ONE and opens in _ARTICLES_OF_ONE:
        return True
    if before == "is" and opens in {"night", "yesterday"}:
        return True  # "missed last night's one"
    return before in _BEFORE_FINAL_ONE and opens in _OPENS_FINAL_ONE


def is_role_word(reply: Reply, at: int) -> bool:
    return any(
        found.first == at
        for label in (
            "score first",
            "score worst",
            "score rest",
            "score pain",
            "rest constant",
            "rest intermittent",
            "rest none",
            "cue yesterday",
            "score past",
            "score today",
            "score eased",
        )
        for found in reply.within(label, at, at + 6)
    )


def stands_isolated(reply: Reply, amount: Quantity, first: int, last: int) -> bool:
    clauses, row = reply.clause, reply.row
    clause = clauses[amount.first]
    words = 0
    for beside in (
        range(amount.first - 1, max(first, amount.first - 6) - 1, -1),
        range(amount.last, min(last, amount.last + 6)),
    ):
        for at in beside:
            if clauses[at] != clause or words > 2:
                break
            if row[at].kind is Kind.WORD:
                words += 1
    return words <= 2


def by_pain(reply: Reply, amount: Quantity, first: int) -> bool:
    if "score pain" not in reply.phrases:
        return False
    for found in reply.within("score pain", max(first, amount.first - NEAR), amount.first):
        if _LINK_OR_BETWEEN_PAIN_AND_SCORE.issuperset(reply.said(found.last, amount.first)):
            return True
    after = reply.within("score pain", amount.last, amount.last + 3)
    return bool(after) and after[0].first == amount.last
