"""A reply as a row of tokens: words, numbers and marks, contractions taken apart, spelling put right, number words read."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import compress, count
from typing import Final

from bot.reader.vocabulary import Vocabulary

_LEX = re.compile(
    r"(?P<n>\d{1,3}(?:,\d{3})+(?!\d)(?:\.\d+)?|\d+(?:\.\d+)?|(?<![\w.])\.\d{1,9})"
    r"|(?P<w>[^\W\d_]+(?:'[^\W\d_]+)*)|(?P<m>\.+|[^\w\s])"
)
_BLANK = 16
_NOTHING = [""] * _BLANK
_LARGEST = 1e12
"""No amount is larger; more digits would overflow."""
_GOES_ON = frozenset({"point", "and", "n", "an"})
"""Words, beside those that multiply, that a number in digits may go on with."""
_ENDS = frozenset({".", "!", "?", ";"})
_KEPT = frozenset("(,:-/£$€°%'\"#")
_CLOSING = {".": ".", ",": ",", "!": ".", "?": "?", ";": ";", ":": ":", ")": ","}
"""Marks that often stand right behind a word, and what they mean there."""
_ALWAYS_ITSELF = (_ENDS | _KEPT) - {".", "-", "/"}
"""Marks that mean the same wherever they stand."""
_MARKS = {"!": ".", ")": ",", "[": ",", "]": ",", "=": ":", "*": "x", "~": "", "…": ".", "|": ";", "•": ";"}
_WORDS = {
    "&": "and",
    "+": "plus",
    "@": "at",
    "❌": "notdone",
    "✖": "notdone",
    "✗": "notdone",
    "✘": "notdone",
    "🚫": "notdone",
    "✅": "done",
    "✔": "done",
    "☑": "done",
    "✓": "done",
}


class Kind:
    """What a token is. No `Enum`: looking a member up there takes six times as long, and every step asks."""

    WORD: Final = 0
    NUMBER: Final = 1
    MARK: Final = 2


@dataclass(slots=True)
class Token:
    """One token with its place in the normalised text. A number has a value; `raw` is how it was written."""

    kind: int
    """One of `Kind`."""
    text: str
    start: int
    end: int
    glued: bool
    """Nothing stands between it and the token before."""
    value: float = 0.0
    raw: str = ""
    by_words: bool = False
    """A number written in words, or put together from several."""


@dataclass(slots=True)
class Tokens:
    """The normalised text and its tokens. Never changed; not frozen, since that makes it slow to build."""

    text: str
    all: list[Token]
    texts: list[str]
    """The texts of the tokens."""
    around: list[str]
    """The same with nothing behind, so that up to `_BLANK` places before the first and behind the last may be asked for."""
    numbers: list[int]
    """The places of the numbers."""
    noted: list[int]
    """The places of words with which a number or an amount may begin, and of marks that part."""


def _number(text: str) -> float:
    value = float(text.replace(",", ""))
    return value if value < _LARGEST else _LARGEST


def _places_of(words: frozenset[str], texts: Iterable[str]) -> list[int]:
    """The places at which one of some words stands."""
    return [*compress(count(), map(words.__contains__, texts))]


def _lexed(text: str, words: Vocabulary) -> tuple[list[Token], list[int]]:
    """The tokens as typed, and the places of the numbers."""
    tokens: list[Token] = []
    numbers: list[int] = []
    seen, closing, a_word = words.seen, _CLOSING, Kind.WORD
    start = 0
    chunks = text.split(" ")
    for chunk, parts in zip(chunks, map(seen.get, chunks), strict=True):
        last = start + len(chunk)
        if parts is not None:
            for word in parts:
                tokens.append(Token(a_word, word, start, last, False))
        elif chunk.isdecimal():
            numbers.append(len(tokens))
            tokens.append(Token(Kind.NUMBER, chunk, start, last, False, _number(chunk), chunk))
        elif chunk:
            mark, before = closing.get(chunk[-1]), chunk[:-1]
            if mark is None:
                _lex_chunk(tokens, numbers, text, start, last, words)
            elif parts := seen.get(before):
                for word in parts:
                    tokens.append(Token(a_word, word, start, last - 1, False))
                _close(tokens, text, mark, last)
            elif before.isdecimal():
                numbers.append(len(tokens))
                tokens.append(Token(Kind.NUMBER, before, start, last - 1, False, _number(before), before))
                _close(tokens, text, mark, last)
            else:
                _lex_chunk(tokens, numbers, text, start, last, words)
        start = last + 1
    return tokens, numbers


def _lex_chunk(tokens: list[Token], numbers: list[int], text: str, first: int, behind: int, words: Vocabulary) -> None:
    """The tokens of what stands between two blanks and is more than a word seen before."""
    end = -1
    for found in _LEX.finditer(text, first, behind):
        start, last = found.span()
        glued = start == end
        end = last
        piece = found[0]
        if found.lastgroup == "w":
            for word in words.seen.get(piece) or words.parts(piece):
                tokens.append(Token(Kind.WORD, word, start, last, glued))
        elif found.lastgroup == "n":
            tokens.append(Token(Kind.NUMBER, piece, start, last, glued, _number(piece), piece))
            if not (glued and _decimal_comma(tokens, text)):
                numbers.append(len(tokens) - 1)
        else:
            _mark(tokens, text, piece, start, last, glued)


def _close(tokens: list[Token], text: str, mark: str, last: int) -> None:
    """One of `_CLOSING` right behind a word or a number."""
    if mark == ".":
        _stop(tokens, text, last - 1, last, True)
    else:
        tokens.append(Token(Kind.MARK, mark, last - 1, last, True))


def _mark(tokens: list[Token], text: str, piece: str, start: int, last: int, glued: bool) -> None:
    mark = _MARKS.get(piece, piece)
    if mark[:1] == ".":
        _stop(tokens, text, start, last, glued)
    elif mark in _ALWAYS_ITSELF:
        tokens.append(Token(Kind.MARK, mark, start, last, glued))
    elif mark == "-":
        _dash(tokens, text, start, last, glued)
    elif mark in _WORDS:
        tokens.append(Token(Kind.WORD, _WORDS[mark], start, last, glued))
    elif mark == "x":
        tokens.append(Token(Kind.WORD, "x", start, last, glued))
    elif mark == "/":
        parts_words = not glued and text[last : last + 1] == " " and text[last + 1 : last + 2].isalpha()
        tokens.append(Token(Kind.MARK, "," if parts_words else "/", start, last, glued))
    elif mark and ord(mark[0]) >= 0x2190 and tokens and tokens[-1].text != ",":
        # A picture parts what stands around it.
        tokens.append(Token(Kind.MARK, ",", start, last, glued))


def _stop(tokens: list[Token], text: str, start: int, last: int, glued: bool) -> None:
    if glued and tokens and tokens[-1].text == "no" and text[last : last + 4].lstrip().startswith("of"):
        tokens[-1].text = "number"
    elif tokens and tokens[-1].text == ".":
        tokens[-1].end = last
    else:
        tokens.append(Token(Kind.MARK, ".", start, last, glued))


def _decimal_comma(tokens: list[Token], text: str) -> bool:
    """ "3,5" and "38,5" are written so on the continent; "3,4" is two numbers. Whether the last tokens were made one."""
    if len(tokens) < 3 or tokens[-2].text != "," or not tokens[-2].glued:
        return False
    whole, part = tokens[-3], tokens[-1]
    follows = text[part.end : part.end + 4].lstrip()
    if whole.kind is not Kind.NUMBER or "." in whole.raw or len(part.raw) != 1:
        return False
    if part.raw != "5" and whole.value <= 10 and not follows.startswith(("km", "on ", "/", "h", "kil")):
        return False
    raw = f"{whole.raw}.{part.raw}"
    tokens[-3:] = [Token(Kind.NUMBER, raw, whole.start, part.end, whole.glued, float(raw), raw)]
    return True


def _dash(tokens: list[Token], text: str, start: int, last: int, glued: bool) -> None:
    """A hyphen inside a word is a gap; between or before numbers, or with blanks around it, it is a mark."""
    before, after = text[start - 1 : start], text[last : last + 1]
    if before.isalpha() and after.isalpha():
        return
    if before.isdigit() and after.isalpha():
        return
    if tokens and tokens[-1].text in {"under", "over"} and glued:
        return
    if before.isalpha() and after.isdigit() and len(tokens) and tokens[-1].kind is Kind.WORD:
        tokens.append(Token(Kind.MARK, ":", start, last, glued))
        return
    tokens.append(Token(Kind.MARK, "-", start, last, glued))


class _Composer:
    """Puts number words, and digits with "hundred", "point", "and a half", together."""

    def __init__(self, tokens: list[Token], words: Vocabulary) -> None:
        self.tokens = tokens
        self.words = words

    def word(self, at: int) -> str:
        return self.tokens[at].text if at < len(self.tokens) and self.tokens[at].kind is Kind.WORD else ""

    def digits(self, at: int) -> float | None:
        if at < len(self.tokens) and self.tokens[at].kind is Kind.NUMBER:
            return self.tokens[at].value
        return None

    def small(self, at: int) -> tuple[float, int] | None:
        """A number below a hundred in words, or digits."""
        value = self.digits(at)
        if value is not None:
            return value, at + 1
        one = self.words.numbers.get(self.word(at))
        if one is None:
            return None
        if 20 <= one <= 90:
            unit = self.words.numbers.get(self.word(at + 1), 0)
            if 1 <= unit <= 9:
                return one + unit, at + 2
            # "twenty and four hours"
            unit = self.words.numbers.get(self.word(at + 2), 0)
            if self.word(at + 1) == "and" and 1 <= unit <= 9 and self.word(at + 3) in self.words.units:
                return one + unit, at + 3
        return float(one), at + 1

    def cardinal(self, at: int) -> tuple[float, int] | None:
        """A whole number with hundreds, thousands, dozens."""
        first = self.small(at)
        if first is None:
            multiple = self.words.multiples.get(self.word(at + 1))
            if self.word(at) in {"a", "an"} and multiple is not None and not self.word(at + 1).endswith("s"):
                first = (1.0, at + 1)
            elif self.word(at) == "half" and self.word(at + 1) in {"a", "of"} and self.word(at + 2) == "dozen":
                return 6.0, at + 3
            elif self.word(at) == "dozen":
                return 12.0, at + 1
            elif self.word(at) == "couple" or (self.word(at) == "a" and self.word(at + 1) == "couple"):
                last = at + 1 if self.word(at) == "couple" else at + 2
                last += self.word(last) == "of"
                if self.word(last) not in self.words.multiples:
                    return (2.0, last) if self.word(last) in self.words.units else None
                first = (2.0, last)
            else:
                return None
        value, at = first
        total, part, scale = 0.0, value, 1
        seen = False
        while (multiple := self.words.multiples.get(self.word(at))) is not None:
            seen = True
            if multiple >= 1000:
                total, part = total + (part or 1) * multiple, 0.0
            else:
                part = (part or 1) * multiple
            at += 1
            at += self.word(at) == "of" and multiple in {12, 100}
            scale = multiple
            joined = at + 1 if self.word(at) == "and" and scale != 12 else at
            following = self.small(joined) if scale != 12 else None
            if following is None or following[0] >= scale or not float(following[0]).is_integer():
                if self.word(at) in self.words.multiples:
                    continue
                break
            after = self.word(following[1])
            if after in self.words.fractions and after not in {"half"}:
                break  # "one hundred and three quarters"
            if after in {"dozen", "dozens"} and joined > at:
                return total + part + following[0] * 12, following[1] + 1  # "three hundred and two dozens"
            if (
                joined == at
                and after not in self.words.units
                and after not in self.words.multiples
                and self.digits(joined)
            ):
                break
            part, at = part + following[0], following[1]
        return (total + part if seen else value), at

    def number(self, at: int) -> tuple[float, int] | None:
        """A number with what follows the point, and halves."""
        spoken = self.hundreds_left_out(at)
        if spoken is not None:
            return spoken
        whole = self.cardinal(at)
        if whole is None:
            if self.word(at) == "point" and (tail := self.small(at + 1)) is not None and tail[0] >= 1:
                return float(f"0.{tail[0]:.0f}"), tail[1]
            return None
        value, last = whole
        if self.word(last) == "point" and (tail := self.small(last + 1)) is not None and float(tail[0]).is_integer():
            decimals, end = f"{tail[0]:.0f}", tail[1]
            while tail[0] < 10 and len(decimals) < 6 and (more := self.words.numbers.get(self.word(end), 10)) < 10:
                decimals, end = f"{decimals}{more}", end + 1
            value, last = float(f"{value:.0f}.{decimals}"), end
            multiple = self.words.multiples.get(self.word(last))
            return (value * multiple, last + 1) if multiple is not None and multiple > 12 else (value, last)
        value, last = self.with_half(value, last)
        multiple = self.words.multiples.get(self.word(last))
        if multiple is not None and multiple >= 1000 and not float(value).is_integer():
            return value * multiple, last + 1  # "one and a half thousand"
        return value, last

    def hundreds_left_out(self, at: int) -> tuple[float, int] | None:
        """ "one twenty two minutes", "10 000 steps": with a unit behind it only."""
        if self.word(at) == "one":
            tail = self.small(at + 1)
            if (
                tail is not None
                and 20 <= tail[0] <= 99
                and self.word(at + 1) in self.words.numbers
                and self.word(tail[1]) in self.words.units
            ):
                return 100 + tail[0], tail[1]
            return None
        first = self.digits(at)
        if first is None or not 1 <= first < 1000 or at + 2 >= len(self.tokens):
            return None
        second = self.tokens[at + 1]
        if (
            second.kind is Kind.NUMBER
            and len(second.raw) == 3
            and second.raw.isdigit()
            and self.word(at + 2) in {"steps", "paces"}
        ):
            return first * 1000 + second.value, at + 2
        return None

    def with_half(self, value: float, last: int) -> tuple[float, int]:
        if not float(value).is_integer():
            return value, last
        # "10 1/2", "1/2" after a number
        top, bottom = self.digits(last), self.digits(last + 2)
        if top is not None and bottom and self._slash(last + 1) and top < bottom and not self.tokens[last].glued:
            if bottom in {2, 3, 4} and self.tokens[last + 1].glued:
                return value + top / bottom, last + 3
            return value, last
        joined = last
        if self.word(joined) in {"and", "n", "an"}:
            joined += 1
            top, bottom = self.digits(joined), self.digits(joined + 2)
            if top is not None and bottom in {2.0, 3.0, 4.0} and self._slash(joined + 1) and top < bottom:
                return value + top / bottom, joined + 3
            parts = self.small(joined) or ((1.0, joined + 1) if self.word(joined) == "a" else None)
            if (
                parts is not None
                and parts[0] >= 1
                and (bottom_word := self.words.fractions.get(self.word(parts[1]))) is not None
                and parts[0] < bottom_word
            ):
                return value + parts[0] / bottom_word, parts[1] + 1
            if self.word(joined) == "a":
                joined += 1
            if self.word(joined) == "half":
                return value + 0.5, joined + 1
            if self.word(joined) == "quarter":
                return value + 0.25, joined + 1
            if self.word(joined) == "bit" and self.word(joined - 1) == "a":
                return value, joined + 1
        return value, last

    def _slash(self, at: int) -> bool:
        return at < len(self.tokens) and self.tokens[at].text == "/"

    def composed(self, openings: Iterable[int]) -> list[Token]:
        """The tokens with numbers put together that begin at the places given; the same list where there are none."""
        tokens = self.tokens
        out: list[Token] = []
        done = 0
        """Up to here the tokens are in `out`."""
        for at in openings:
            token = tokens[at]
            if at < done:
                continue
            following = tokens[at + 1].text if at + 1 < len(tokens) else ""
            if token.text in {"a", "an"} and following not in self.words.multiples and following != "couple":
                continue
            if token.text == "one" and done < at and tokens[at - 1].text in self.words.not_a_number:
                continue
            made = self.number(at)
            if made is None:
                continue
            value, last = made
            if last > at + 1 or token.kind is not Kind.NUMBER:
                out += tokens[done:at]
                text = str(int(value)) if float(value).is_integer() else f"{value:g}"
                end, by_words = tokens[last - 1].end, True
                out.append(Token(Kind.NUMBER, text, token.start, end, token.glued, value, text, by_words))
                done = last
        return [*out, *tokens[done:]] if done else tokens


def _goes_on(tokens: list[Token], at: int, words: Vocabulary) -> bool:
    """Whether a number in digits may go on with what stands behind it."""
    if at >= len(tokens):
        return False
    after = tokens[at]
    return after.text in _GOES_ON or after.text in words.multiples or after.kind is Kind.NUMBER


def tokenised(plain: str, words: Vocabulary) -> Tokens:
    """The normalised reply as tokens. Linear in the length of the text; never raises."""
    tokens, numbers = _lexed(plain, words)
    texts = [each.text for each in tokens]
    openings = [at for at in numbers if _goes_on(tokens, at + 1, words)]
    noted = _places_of(words.noted, texts)
    by_words = [at for at in noted if texts[at] in words.number_starts]
    if openings or by_words:
        composed = _Composer(tokens, words).composed(sorted(openings + by_words))
        if composed is not tokens:
            tokens, texts = composed, [each.text for each in composed]
            numbers = [at for at, each in enumerate(composed) if each.kind is Kind.NUMBER]
            noted = _places_of(words.noted, texts)
    return Tokens(plain, tokens, texts, texts + _NOTHING, numbers, noted)
