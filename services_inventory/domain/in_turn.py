"""What of a long row of things is looked at tonight, so that a night costs the same every year."""


def tonight(number: int, size: int, night: int | None) -> list[range]:
    """Return the places looked at: the newest `size`, and as many of the older ones in turn.

    Parameters
    ----------
    number : how many things there are, oldest first
    night : tonight's number, one more than last night's; None to look at all of them
    """
    if night is None:
        return [range(number)]
    older = max(0, number - size)
    parts = -(-older // size)
    newest = range(older, number)
    if not parts:
        return [newest]
    start = night % parts * size
    return [range(start, min(start + size, older)), newest]
