"""The limit line and its miniature, the state mark: how far, how sure, which side of the limit."""

from math import isfinite

from plant.drawings.svg import circle, line, number, ornament, picture, polygon

IN, CLOSE, OUT, UNKNOWN = "in tolerance", "too close to call", "out of tolerance", "not known"
FILL = {IN: "f-in", CLOSE: "f-close", OUT: "f-out", UNKNOWN: "f-none"}
END_PERCENT = 150  # the ruled line ends here; what lies beyond is a triangle that points on
LIMIT_PERCENT = 100


def _x(percent: float) -> float:
    """8 units of margin, then 2 units for each percent of the limit."""
    return 8 + 2 * percent


def _known(value: float | None) -> bool:
    return value is not None and isfinite(value)


def state_mark(verdict: str) -> str:
    """Which side of the heavy stroke, 34 x 18; always followed by its word, so hidden from screen readers.

    Raises
    ------
    KeyError
        The verdict is none of the four words.
    """
    fill = FILL[verdict]
    body = line(1, 9, 33, 9, "dots" if verdict == UNKNOWN else "hair") + line(17, 1, 17, 17, "limit-s")
    if verdict == IN:
        body += circle(7.5, 9, 4.5, f"mark {fill}")
    elif verdict == CLOSE:
        body += line(5, 9, 29, 9, "whisker-s") + circle(17, 9, 4.5, f"mark {fill}")
    elif verdict == OUT:
        body += circle(26.5, 9, 4.5, f"mark {fill}")
    return ornament(34, 18, body, "glyph")


def limit_line(share: float | None, share_u: float | None, verdict: str) -> str:
    """A value with its uncertainty on a ruled line that ends at 150 % of the limit.

    Parameters
    ----------
    share : float or None
        Value over limit; 1 is the limit, None or NaN is not known. [1]
    share_u : float or None
        Half width of the whisker over limit, at the confidence the decision was made with, so that a whisker across
        the limit and the words "in tolerance" never stand together. [1]
    verdict : str
        One of the four verdicts; fills the mark.

    Returns
    -------
    str
        SVG, 316 x 32: x = 8 + 2 p for p percent of the limit.
    """
    fill = FILL[verdict]
    body = (
        line(_x(0), 16, _x(LIMIT_PERCENT), 16, "hair")
        + line(_x(LIMIT_PERCENT), 14, _x(END_PERCENT), 14, "hair")
        + line(_x(LIMIT_PERCENT), 18, _x(END_PERCENT), 18, "hair")
        + line(_x(0), 11, _x(0), 21, "hair")
        + line(_x(50), 13, _x(50), 19, "hair")
        + line(_x(LIMIT_PERCENT), 2, _x(LIMIT_PERCENT), 30, "limit")
    )
    if not _known(share):
        return picture(316, 32, body, f"No value: {verdict}", "ll")
    percent = 100 * float(share)  # type: ignore[arg-type]
    label = f"{number(percent)} percent of the limit"
    half = 100 * float(share_u) if _known(share_u) else None  # type: ignore[arg-type]
    if half is not None:
        label += f", plus or minus {number(half)}"
        low, high = max(0.0, percent - half), min(float(END_PERCENT), percent + half)
        if low < END_PERCENT:
            body += line(_x(low), 16, _x(high), 16, "whisker") + line(_x(low), 10, _x(low), 22, "cap")
            if percent <= END_PERCENT:
                body += line(_x(high), 10, _x(high), 22, "cap")
    if percent <= END_PERCENT:
        body += circle(_x(percent), 16, 6.5, f"mark {fill}")
    else:
        body += polygon([(_x(140), 7), (_x(152), 16), (_x(140), 25)], f"mark {fill}")
    return picture(316, 32, body, f"{label}: {verdict}", "ll")
