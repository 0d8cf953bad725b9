"""How a share is written."""

from fractions import Fraction


def percent(share: Fraction | None, places: int = 2) -> str:
    """Return a share in percent, cut off rather than rounded, so that it never looks reached.

    Examples
    --------
    >>> percent(Fraction(999996, 10000000)), percent(Fraction(1, 10)), percent(None)
    ('9.99%', '10%', 'no rate')
    """
    if share is None:
        return "no rate"
    scaled = int(share * 100 * 10**places)
    text = f"{scaled // 10**places}.{scaled % 10**places:0{places}d}".rstrip("0").rstrip(".")
    return f"{text}%"
