"""Text to upper-case words: punctuation, accents and spacing carry no meaning in an address."""

import re
import unicodedata

VULGAR_FRACTIONS = str.maketrans(
    {"½": " 1/2 ", "¼": " 1/4 ", "¾": " 3/4 ", "⅓": " 1/3 ", "⅔": " 2/3 "}
)
DASHES = str.maketrans(dict.fromkeys("‐‑‒–—−", "-") | dict.fromkeys("'’‘`´\"“”", None))
BOUNDARY = re.compile(r"[,;()\[\]\r\n|]+")
INITIALS = re.compile(r"(?<![A-Z])([A-Z])\.(?=[A-Z](?:\.|\b))")
POINT = re.compile(r"\.(?!\d)|(?<!\d)\.")
SIGN = re.compile(r"([#&@])")
NOT_A_WORD = re.compile(r"[^\w#&@/.\-]|_")
SLASH = re.compile(r"(?<!\d)/|/(?!\d)")
WORD_HYPHEN = re.compile(r"(?<=[^\W\d])-(?=[^\W\d]{2})|(?<=[^\W\d]{2})-(?=[^\W\d])|(?<!\w)-(?=\w)")


def fold(text: str) -> str:
    """Upper-case words of one part of an address, one space apart."""
    if text.isascii() and text.replace(" ", "").isalnum():
        return " ".join(text.upper().split())
    text = text.translate(VULGAR_FRACTIONS)
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text.translate(DASHES)).replace("\u2044", "/")
        text = "".join(c for c in text if not unicodedata.combining(c))
    text = text.upper().translate(DASHES)
    text = POINT.sub(" ", INITIALS.sub(r"\1", text))
    text = SIGN.sub(r" \1 ", NOT_A_WORD.sub(" ", text))
    text = WORD_HYPHEN.sub(" ", SLASH.sub(" / ", text))
    return " ".join(text.split())


def parts(text: str) -> list[str]:
    """The folded parts of an address that commas, brackets or line ends set apart."""
    return [folded for part in BOUNDARY.split(text) if (folded := fold(part))]
