"""From a message as typed to plain lower-case text: quotes, keycaps, dictated stops, spelling, number words, fractions."""

from __future__ import annotations

import re
import unicodedata

from bot.reader.vocabulary import vocabulary

LONGEST = 4_096
"""Characters read for scores and amounts: the length of the longest chat message. Warning signs are looked for in all of it."""

SENTENCE_END = re.compile(r"[.;!?]+(?=\s|$)|;")
_FRACTIONS = {"½": ".5", "¼": ".25", "¾": ".75", "⅓": ".33", "⅔": ".67"}
_TENS = r"(?:twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety)"
_UNITS = r"(?:one|two|three|four|five|six|seven|eight|nine)"


def _fractions(text: str) -> str:
    for sign, decimals in _FRACTIONS.items():
        text = re.sub(rf"(\d)\s?{sign}", rf"\g<1>{decimals}", text)
        text = text.replace(sign, f"0{decimals}")
    return text


def _number_words(text: str) -> str:
    numbers = vocabulary().numbers

    def tens(found: re.Match[str]) -> str:
        return str(numbers[found[1]] + numbers[found[2]])

    text = re.sub(rf"\b({_TENS})[\s-]({_UNITS})\b", tens, text)
    text = re.sub(r"\bhalf a dozen\b", "6", text)
    text = re.sub(r"\b(?:a|one) dozen\b|\bdozen\b", "12", text)
    text = re.sub(r"\b(?:a|one) hundred\b", "100", text)
    # "the second one", "a quick one": no number.
    text = vocabulary().not_a_number.sub(r"\1 thing", text)
    text = vocabulary().number.sub(lambda m: str(numbers[m[1]]), text)
    text = re.sub(r"\b(\d+) hundred(?: and (\d{1,2}))?\b", lambda m: str(int(m[1]) * 100 + int(m[2] or 0)), text)
    text = re.sub(r"\b(\d+) thousand(?: (\d{1,3}))?\b", lambda m: str(int(m[1][:4]) * 1000 + int(m[2] or 0)), text)
    text = re.sub(r"\b(\d+) point (\d)\b", r"\1.\2", text)
    text = re.sub(r"\b(\d+) (?:and a|n a) half\b", r"\1.5", text)
    return re.sub(r"(?<=\d),(?=\d{3}\b)", "", text)


def normalised(text: str, *, number_words: bool = True, longest: int | None = None) -> str:
    """The text as the rest of the reader reads it. Linear in its length."""
    text = unicodedata.normalize("NFC", text[:longest]).translate(
        {
            0x2019: "'",
            0x2018: "'",
            0x201C: '"',
            0x201D: '"',
            0x2013: "-",
            0x2014: " - ",
            0xFE0F: None,
            0x20E3: " ",
            0xD7: "x",
        }
    )
    text = _fractions(text.casefold().replace("🔟", "10"))
    # First of all: a long run of blanks would make the patterns after it slow.
    text = re.sub(r"[^\S\n]+", " ", text)
    text = re.sub(r"\s+(?:comma|virgule)\b", ",", text)
    text = re.sub(r"\s+(?:full stop|period)(?=\s|$)", ".", text)
    text = text.replace("\n", " ; ")
    text = re.sub(r"\ba? ?couple (?:of )?(?=min|hour|hrs?\b|km|mile)", "2 ", text)
    words = vocabulary()
    text = words.spelling.sub(lambda m: words.spelled[m.lastgroup or ""], text)
    text = re.sub(r"(?<=\d)(min|hour|sec|km|mile)s?\b", r" \1", text)
    text = re.sub(r"(?<=\d)\s?(?:mins?|minutes?|m(?=\s+(?:walk|of walking)))\b", " min", text)
    text = re.sub(r"(?<=\d)\s?(?:hrs?|hours?)\b", " hour", text)
    text = re.sub(
        r"(?<=\d)\s?(?:kms?|kilometres?|kilometers?|k(?= (?:walk|run|ran|jog|ride|bike|round|along)))\b", " km", text
    )
    return _number_words(text) if number_words else text
