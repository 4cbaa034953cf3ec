"""Red flags by words: spelling first, then findings (frames of words, and set phrases), then their scope (`bot.reader.scope`).

Frames (`vocabulary/signs.toml`) are the general means: classes of words that stand together. `vocabulary/flags.toml` has
set phrases and the figures of speech that are taken out before anything is looked for.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from itertools import chain
from typing import Any, NamedTuple

from bot.program.protocol import DEFAULT
from bot.program.terms import Asked, RedFlag
from bot.reader.automaton import Span
from bot.reader.frames import Found, Sentences, parted, signs
from bot.reader.members import ANY, NERVES, SADDLE, SELF_HARM, SEVERE_PAIN
from bot.reader.normalise import SENTENCE_END, plain_characters
from bot.reader.reading import FlagFinding
from bot.reader.scope import Scope, scope_words, set_aside
from bot.reader.second_net import NOT_LEARNT, Features, features, heaviest, weighed
from bot.reader.sentence_net import sentence_odds, telling
from bot.reader.sign_spelling import spelt
from bot.reader.triggers import Sought, Triggers, everyday, needed_by_all
from bot.reader.verdict import Facts, Verdict, anything_open, could_be_named, open_from, verdict

_BETWEEN = r"(?:[\s,]+[\w']+){0,5}?[\s,]+"
_ORDER = {code: number for number, code in enumerate(RedFlag)}
_NAMED_TOGETHER = frozenset({SADDLE, NERVES})
"""Of these all findings are looked at together."""
_PERSON_ALONE = 24
"""Characters of a sentence that may be nothing but a person."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Sign:
    unless: str | None
    unless_reach: int
    """Characters before and behind a finding in which `unless` is looked for."""
    denied_inside: bool
    """Body part and quality with words in between, where a denial may stand ("calf not hot")."""


@dataclass(frozen=True, kw_only=True, slots=True)
class _Vocabulary:
    signs: dict[RedFlag, _Sign]
    phrases: Triggers
    """The figures of speech first, then the set phrases."""
    figures: int
    """How many of `phrases` are figures of speech."""
    labels: tuple[tuple[RedFlag, bool], ...]
    """For each set phrase its code, and whether it is sure."""
    clause: re.Pattern[str]
    denied_reason: re.Pattern[str]
    inside: re.Pattern[str]
    own_part: re.Pattern[str]
    inside_near: Sought
    scores: tuple[Sought, ...]
    scores_when_asked: tuple[Sought, ...]
    """The same and a lone number."""
    score_needs: int
    """What a text needs for any of them."""
    not_a_score: re.Pattern[str]
    score_words: dict[str, int]


class _Candidate(NamedTuple):
    code: RedFlag
    sure: bool
    start: int
    end: int
    parts: tuple[Span, ...]
    why: str
    phrase: bool


def _expanded(alternative: str, words: dict[str, str]) -> str:
    # A last part that may be missing takes its gap with it.
    text = re.sub(r" ~ (\((?:[^()]|\([^()]*\))*\))\?$", "", alternative)
    text = re.sub(r"\{([a-z_]+)\}", lambda found: words[found[1]], text)
    # A word in between may have an apostrophe ("I've"), but is no denial.
    text = text.replace(r"(?:\w+ )", r"(?:(?!\w+n't)[\w']+ )")
    text = text.replace(r"(?: \w+)", r"(?: (?!\w+n't)[\w']+)")
    return text.replace(" ~ ", _BETWEEN)


@lru_cache(maxsize=64)
def _any_of(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern)


@cache
def _vocabulary() -> _Vocabulary:
    text = files("bot.reader").joinpath("vocabulary", "flags.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    words = {name: "(?:" + "|".join(each) + ")" for name, each in data["words"].items()}
    signs: dict[RedFlag, _Sign] = {}
    figures = [_expanded(each, words) for each in sorted(data["figures"]["phrases"], key=len, reverse=True)]
    phrases: list[str] = []
    labels: list[tuple[RedFlag, bool]] = []
    for code in RedFlag:
        of = data[code]
        for sure, alternatives in ((True, of["present"]), (False, of["unsure"])):
            phrases.extend(_expanded(each, words) for each in alternatives)
            labels.extend((code, sure) for _ in alternatives)
        unless = "|".join(_expanded(each, words) for each in of.get("unless", ()))
        signs[code] = _Sign(
            unless=rf"(?<![\w'])(?:{unless})(?!\w)" if unless else None,
            unless_reach=of.get("unless_reach", 80),
            denied_inside=of.get("denied_inside", False),
        )
    scores, bounds = data["scores"], data["bounds"]
    sought = scope_words().sieve.sought
    patterns = tuple(sought(each.replace("{n}", scores["number"])) for each in (*scores["patterns"], scores["alone"]))
    return _Vocabulary(
        signs=signs,
        phrases=Triggers([*figures, *phrases], everyday(), inside=True),
        figures=len(figures),
        labels=tuple(labels),
        clause=re.compile(bounds["clause"]),
        denied_reason=re.compile(bounds["denied_reason"]),
        inside_near=sought(bounds["inside_near"]),
        own_part=re.compile(bounds["own_part"]),
        inside=re.compile(bounds["inside"]),
        scores=patterns[:-1],
        scores_when_asked=patterns,
        score_needs=needed_by_all(patterns),
        not_a_score=re.compile(scores["not_when_followed_by"]),
        score_words=scores["words"],
    )


def _without_figures(vocabulary: _Vocabulary, text: str, present: Sequence[int]) -> str:
    for number in present:
        if number >= vocabulary.figures:
            break
        text = vocabulary.phrases.compiled(number).sub(lambda found: "#" * len(found[0]), text)
    return text


def _phrases(vocabulary: _Vocabulary, text: str, present: Sequence[int]) -> Iterator[_Candidate]:
    """Every set phrase in the text, by code in the order of `RedFlag`, the sure ones of a code first."""
    for number in present:
        if number >= vocabulary.figures:
            code, sure = vocabulary.labels[number - vocabulary.figures]
            for each in vocabulary.phrases.compiled(number).finditer(text):
                yield _by_phrase(code, each.span(), sure=sure)


def _by_phrase(code: RedFlag, span: Span, *, sure: bool) -> _Candidate:
    return _Candidate(code, sure, *span, (span,), "words listed for this sign", phrase=True)


def _by_frame(found: Found) -> _Candidate:
    frame, start, end, parts = found
    return _Candidate(frame.code, frame.sure, start, end, parts, frame.text, phrase=False)


def _excused(vocabulary: _Vocabulary, code: RedFlag, sentence: str) -> bool:
    """Whether the same sentence gives a plain reason ("on purpose"), and the reason is not itself denied."""
    unless = vocabulary.signs[code].unless
    if unless is None:
        return False
    return any(
        not vocabulary.denied_reason.search(sentence[: found.start()][-40:])
        for found in _any_of(unless).finditer(sentence)
    )


class _Findings:
    """What was found so far: for each code the best finding that its scope lets stand."""

    def __init__(self, vocabulary: _Vocabulary, scope: Scope, text: str, by: Sentences) -> None:
        self.vocabulary, self.scope, self.text, self.by = vocabulary, scope, text, by
        self.sentences = sentences = by.sentences
        self.starts = [each[0] for each in sentences]
        self.told = scope.sieve.told(by.tokens)
        self.best: dict[RedFlag, _Candidate] = {}
        self.put_aside: set[RedFlag] = set()
        """Codes of which some finding did not stand: denied, somebody else's, long over, only asked about."""

    def take(self, each: _Candidate) -> None:
        """Keep the first finding of a code that is sure, or else the first that stands."""
        before = self.best.get(each.code)
        if before is None or (each.sure and not before.sure):
            if self.stands(each):
                self.best[each.code] = each
                if each.sure and each.code not in _NAMED_TOGETHER:
                    self.by.settled.add(each.code)
            else:
                self.put_aside.add(each.code)

    def facts(self, code: RedFlag, odds: float, by_sentence: float, *, stands: bool) -> Facts:
        """What the verdict on a sign goes by. `stands`: so do the words that weigh most for it."""
        found = self.best.get(code)
        return Facts(
            log_odds=odds,
            sentence_odds=by_sentence,
            listed=found is not None and found.sure,
            unsure=found is not None and not found.sure,
            set_aside=code in self.put_aside,
            stands=stands,
            excused=code in self.by.excused,
            beside=any(each.sure for other, each in self.best.items() if other is not code),
            any_set_aside=bool(self.put_aside),
            asks="?" in self.text,
            tokens=len(self.by.tokens),
        )

    def touched(self) -> set[RedFlag]:
        """The codes that the lists found, set aside, or found an everyday reason for."""
        return {*self.best, *self.put_aside, *self.by.excused}

    def leave_open(self, odds: Mapping[RedFlag, float]) -> bool:
        """Whether these and the weight of the words leave any sign open."""
        return anything_open(odds, {code for code, each in self.best.items() if each.sure}, self.touched())

    def _sentence(self, place: int) -> Span:
        return self.sentences[max(0, bisect_right(self.starts, place) - 1)]

    def _person_before(self, place: int) -> bool:
        """Whether the sentence before is nothing but a person ("My mother. Fever.")."""
        number = bisect_right(self.starts, place) - 2
        if number < 0 or self.sentences[number][1] - self.sentences[number][0] > _PERSON_ALONE:
            return False
        before = self.text[slice(*self.sentences[number])]
        return len(before.split()) <= 2 and self.scope.people.search(self.told, before) is not None

    def _reason_near(self, each: _Candidate, sentence: Span) -> bool:
        """Whether a plain reason stands near a set phrase."""
        reach = self.vocabulary.signs[each.code].unless_reach
        near = self.text[max(sentence[0], each.start - reach) : min(sentence[1], each.end + reach)]
        return _excused(self.vocabulary, each.code, near)

    def stands(self, each: _Candidate) -> bool:
        text = self.text
        sentence = self._sentence(each.start)
        if each.code is not SELF_HARM and self.vocabulary.inside_near.search(self.told, text, each.start, each.end):
            return False
        if each.phrase and self.by.phrase_excused(each.code, each.start, each.end):
            return False
        if each.phrase and self.vocabulary.signs[each.code].denied_inside:
            inside = text[each.start : each.end].partition(" ")[2]
            if self.vocabulary.inside.search(inside):
                return False
        if each.phrase and self._reason_near(each, sentence):
            return False
        if self._person_before(each.start):
            return False
        firsts = tuple(self._sentence(begin)[0] for begin, _ in each.parts)
        return not set_aside(
            self.scope, self.told, text, sentence, firsts, (each.start, each.end), each.parts, each.code
        )


def _by_weight(by: Sentences, features_found: Features, code: RedFlag, *, by_sentence: bool) -> _Candidate | None:
    """A sign in the words that say most for it, of those that stand in one sentence; `None` where no word speaks for it.

    `by_sentence`: rather those that the net of sentences goes by.
    """
    by_word = [] if by_sentence else heaviest(features_found, by.classes_at(), code)
    heavy = by_word or telling(by.tokens, code)
    if not heavy:
        return None
    number = bisect_right(by.bounds, (heavy[0], len(by.tokens) + 1)) - 1
    first, last = by.bounds[max(0, number)]
    places = sorted({at for at in heavy if first <= at < last})
    parts = tuple((by.starts[at], by.ends[at]) for at in places or heavy[:1])
    return _Candidate(
        code=code,
        sure=False,
        start=parts[0][0],
        end=parts[-1][1],
        parts=parts,
        why="the weight of the words",
        phrase=False,
    )


def considered(
    findings: _Findings, features_found: Features, odds: Mapping[RedFlag, float], by_sentence: Mapping[RedFlag, float]
) -> Iterator[tuple[_Candidate, Facts]]:
    """The signs that the lists found, and those that the words make likely enough, with their facts.

    `odds`: by the weight of the words; `by_sentence`: by the net of sentences.
    """
    for code, each in odds.items():
        candidate = findings.best.get(code)
        stands = True
        if candidate is None and could_be_named(each, by_sentence[code]):
            candidate = _by_weight(findings.by, features_found, code, by_sentence=by_sentence[code] > each)
            stands = candidate is None or findings.stands(candidate)
        if candidate is not None:
            yield candidate, findings.facts(code, each, by_sentence[code], stands=stands)


def _judged(findings: _Findings) -> dict[RedFlag, _Candidate]:
    """The signs that count or are asked back, by all that is known of them."""
    by = findings.by
    features_found = features(by.tokens)
    words = weighed(features_found, by.all_classes)
    if not words.may_exceed(open_from()) and not findings.touched():
        return findings.best
    odds = dict(words.log_odds())
    if not findings.leave_open(odds):
        return findings.best
    judged = {code: each for code, each in findings.best.items() if code in NOT_LEARNT}
    for each, facts in considered(findings, features_found, odds, sentence_odds(by.tokens)):
        said = verdict(each.code, facts)
        if said is not Verdict.NOT_NAMED:
            sure = said is Verdict.COUNTS
            told = f"{each.why}; log odds of the words {facts.log_odds:.1f}, of the sentences {facts.sentence_odds:.1f}"
            judged[each.code] = each if sure is each.sure else each._replace(sure=sure, why=told)
    return judged


def _severe_score(vocabulary: _Vocabulary, told: int, text: str, asked: Asked) -> Iterator[tuple[_Candidate, int]]:
    """The patient's own pain scores that are severe by number alone (9 and more of 10)."""
    if told & vocabulary.score_needs != vocabulary.score_needs:
        return
    patterns = vocabulary.scores if asked is ANY else vocabulary.scores_when_asked
    for pattern in [each.pattern for each in patterns if each.among(told)]:
        for found in pattern.finditer(text):
            if vocabulary.not_a_score.match(text, found.end()):
                continue
            number = found["n"]
            score = vocabulary.score_words.get(number) or float(number)
            if score > DEFAULT.severe_pain - 1:
                span = found.span()
                yield (
                    _Candidate(
                        code=SEVERE_PAIN,
                        sure=True,
                        start=span[0],
                        end=span[1],
                        parts=(span,),
                        why=f"a pain score of {number}",
                        phrase=False,
                    ),
                    min(10, -int(-score // 1)),
                )


def _take_listed(vocabulary: _Vocabulary, findings: _Findings, candidates: Iterable[_Candidate], plain: str) -> None:
    """What the lists find; nerve signs last, since a numb saddle may take their words."""
    saddle: list[_Candidate] = []
    nerve: list[_Candidate] = []
    for each in candidates:
        if each.code is NERVES:
            nerve.append(each)
        elif each.code is SADDLE:
            saddle.append(each)
        else:
            findings.take(each)
    for each in saddle:
        findings.take(each)
    found = findings.best.get(SADDLE)
    if nerve and found is not None and found.sure:
        # A numb saddle is named once (contract); a nerve sign of a leg or foot beside it stays.
        alone = [each for each in saddle if not vocabulary.own_part.search(plain, each.start, each.end)]
        taken = [part for each in alone if each.why.startswith("saddle") or each.phrase for part in each.parts]
        nerve = [
            each
            for each in nerve
            if vocabulary.own_part.search(plain, each.start, each.end) is not None
            and not any(_overlap(part, other) for part in each.parts for other in taken)
        ]
    for each in nerve:
        findings.take(each)


def listed_in(plain: str) -> _Findings:
    """What the lists find in a normalised text."""
    vocabulary = _vocabulary()
    plain, words = spelt(plain)
    present = vocabulary.phrases.present(words)
    if present:
        plain = _without_figures(vocabulary, plain, present)
    by = Sentences(plain, parted(SENTENCE_END, plain, 0, len(plain)), vocabulary.clause)
    findings = _Findings(vocabulary, scope_words(), plain, by)
    if present or by.may_have_frames():
        found = chain(map(_by_frame, by.frames()), _phrases(vocabulary, plain, present))
        _take_listed(vocabulary, findings, found, plain)
    return findings


def find_flags(text: str, asked: Asked) -> tuple[FlagFinding, ...]:
    """The warning signs that a reply speaks of as the patient's own present state, with the words they rest on.

    A sign counts whatever was asked; `asked` only decides whether a lone number is a pain score. Never raises.
    """
    return flags_in(plain_characters(text), asked)


def flags_in(plain: str, asked: Asked) -> tuple[FlagFinding, ...]:
    """The same for a text that is normalised already."""
    vocabulary = _vocabulary()
    findings = listed_in(plain)
    plain = findings.text
    findings.best = _judged(findings)
    score: int | None = None
    for candidate, number in _severe_score(vocabulary, findings.told, plain, asked):
        if SEVERE_PAIN not in findings.best or not findings.best[SEVERE_PAIN].sure:
            findings.take(candidate)
            score = number if findings.best.get(SEVERE_PAIN) is candidate else score
    if not findings.best:
        return ()
    kept = _without_doubles(findings.best)
    ordered = sorted(kept, key=lambda each: (not each.sure, _ORDER[each.code])) if len(kept) > 1 else kept
    return tuple(
        FlagFinding(
            code=each.code,
            certain=each.sure,
            words=plain[each.start : each.end].strip(),
            score=score if each.code is SEVERE_PAIN and each.why.startswith("a pain score") else None,
            why=("sure: " if each.sure else "unsure: ") + each.why,
        )
        for each in ordered
    )


def _without_doubles(best: dict[RedFlag, _Candidate]) -> list[_Candidate]:
    """The findings without those that only name once more what another one names better."""
    if len(best) < 2:
        return [*best.values()]
    known = signs()
    kept: list[_Candidate] = []
    for code, each in best.items():
        others = [best[other] for other in known.gives_way.get(code, ()) if other in best and best[other].sure]
        anywhere = [
            best[other] for other in known.gives_way_anywhere.get(code, ()) if other in best and best[other].sure
        ]
        if not anywhere and not any(_within(each, other) or _within(other, each) for other in others):
            kept.append(each)
    return kept


def _within(one: _Candidate, other: _Candidate) -> bool:
    return other.start <= one.start and one.end <= other.end


def _overlap(one: Span, other: Span) -> bool:
    return one[0] < other[1] and other[0] < one[1]
