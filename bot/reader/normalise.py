"""From a message as typed to plain lower-case text: quotes, keycaps, dictated stops, blanks. The first step of all reading."""

from __future__ import annotations

import re
import unicodedata

from bot.reader.vocabulary import dictated_scores, words_with_digits

SENTENCE_END = re.compile(r"[.;!?](?:[.;!?]*(?=\s|$)|(?<=;))")
"""Marks before a blank, or a semicolon."""
_FRACTIONS = {"½": ".5", "¼": ".25", "¾": ".75", "⅓": ".33", "⅔": ".67"}
_CHARACTERS = {
    0x2019: "'",
    0x2018: "'",
    0x2032: "'",
    0x201C: '"',
    0x201D: '"',
    0x2033: '"',
    0x2013: "-",
    0x2014: " - ",
    0x2212: "-",
    0xFE0F: None,
    0x20E3: " ",
    0xD7: "x",
}
_KEYCAPS = re.compile(r"(\d)\ufe0f?\u20e3(?=\d\ufe0f?\u20e3)")
_DIGIT_BY_LETTER = re.compile(r"\d(?:[a-z]|(?<=[a-z]\d))")
"""Where there is none, nothing is `_MIXED`; quicker, since it is only tried at digits."""
_MIXED = re.compile(r"\b(?:\d[a-z]{2,7}|[a-z]{1,2}\d)[a-z]?\b")
_OUT_OF_TEN = re.compile(r"\b[a-z]{2,4}(?= out of (?:ten|10)\b)")
_SCOTS_ALL = re.compile(r"(?<![\w'])a' (?=\w)")
_BLANKS = re.compile(r"[^\S\n]+")
_ODD_BLANK = re.compile(r"[^\S\n ]")
_COMMA = re.compile(r"\s+(?:comma|virgule)\b")
_MARK = re.compile(r"\s+(question|exclamation) mark\b")
_STOP = re.compile(r"\s+(?:full stop|period)(?=\s|$)")
_LINE = re.compile(r"(?<!\bthe)(?<!\ba)(?<!\bmy)\s+new (?:line|paragraph)(?=\s|$)")


def _fractions(text: str) -> str:
    for sign, decimals in _FRACTIONS.items():
        if sign in text:
            text = re.sub(rf"(\d)\s?{sign}", rf"\g<1>{decimals}", text)
            text = text.replace(sign, f"0{decimals}")
    return text


def plain_characters(text: str) -> str:
    """The text in lower case with plain quotes and digits; a line break is " ; ". Linear in its length."""
    if "\u20e3" in text:
        text = _KEYCAPS.sub(r"\1", text)
    if text.isascii():
        text = text.lower()
    else:
        text = unicodedata.normalize("NFC", text).translate(_CHARACTERS)
        text = _fractions(text.casefold().replace("🔟", "10"))
    # First of all: a long run of blanks would make the patterns after it slow.
    if "  " in text or (not text.isprintable() and _ODD_BLANK.search(text)):
        text = _BLANKS.sub(" ", text)
    if "comma" in text or "virgule" in text:
        text = _COMMA.sub(",", text)
    if "full stop" in text or "period" in text:
        text = _STOP.sub(".", text)
    if " new line" in text or " new paragraph" in text:
        text = _LINE.sub(" ;", text)
    if " mark" in text:
        text = _MARK.sub(lambda found: "?" if found[1] == "question" else "!", text)
    if _DIGIT_BY_LETTER.search(text):
        mixed = words_with_digits()
        text = _MIXED.sub(lambda found: mixed.get(found[0], found[0]), text)
    if "out of ten" in text or "out of 10" in text:
        spoken = dictated_scores()
        text = _OUT_OF_TEN.sub(lambda found: spoken.get(found[0], found[0]), text)
    if "a' " in text:
        text = _SCOTS_ALL.sub("all ", text)
    return text.replace("\n", " ; ")
