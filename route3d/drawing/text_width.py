"""How wide words are, and words cut or broken to a width."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

CAPITAL = 0.729
"""Height of capitals in DejaVu Sans, of the font size."""

Measure = Callable[[str, float, bool], tuple[float, float]]
"""Width and line height in pixels of a text, given its size and whether it is bold."""


def _thousandths(text: str) -> tuple[int, ...]:
    return tuple(map(int, text.split()))


# Advance widths of DejaVu Sans and its bold, in 1/1000 of the font size, from the space (32) to the
# tilde (126), rounded up; the other fonts a viewer may take are narrower.
_ADVANCES = _thousandths(
    "318 401 460 838 637 951 780 275 391 391 500 838 318 361 318 337 637 637 637 637 637 637 "
    "637 637 637 637 337 337 838 838 838 531 1000 685 687 699 771 632 576 775 752 295 295 656 "
    "558 863 749 788 604 788 695 635 611 732 685 989 686 611 686 391 337 391 838 500 500 613 "
    "635 550 635 616 353 635 634 278 278 580 278 975 634 612 635 635 412 521 393 634 592 818 "
    "592 592 525 637 337 637 838 "
)
_BOLD_ADVANCES = _thousandths(
    "349 457 521 838 696 1002 873 307 458 458 523 838 380 416 380 366 696 696 696 696 696 696 "
    "696 696 696 696 400 400 838 838 838 581 1000 774 763 734 831 684 684 821 837 373 373 775 "
    "638 996 837 851 733 851 771 721 683 813 774 1104 771 725 726 458 366 458 838 500 500 675 "
    "716 593 716 679 436 716 712 343 343 666 343 1042 712 688 716 716 494 596 479 712 652 924 "
    "646 652 583 712 366 712 838 "
)
_OTHER = 1100  # hardly a letter of other scripts is wider


def plain(text: str) -> str:
    """What people typed as one line of printable characters."""
    return "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))


@lru_cache(1 << 15)  # sheets are laid out by trial
def text_width(text: str, height: float, *, bold: bool = False) -> float:
    """Width of a line of text whose capitals are ``height`` high; never too little."""
    advances = _BOLD_ADVANCES if bold else _ADVANCES
    total = sum(advances[ord(c) - 32] if " " <= c <= "~" else _OTHER for c in text)
    return total / 1000 * height / CAPITAL


def fitted(text: str, height: float, width: float, *, bold: bool = False) -> str:
    """The text cut to ``width``, an ellipsis at its end where something is omitted."""
    text = plain(text)
    if text_width(text, height, bold=bold) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        fits = text_width(text[:middle].rstrip() + "…", height, bold=bold) <= width
        low, high = (middle, high) if fits else (low, middle - 1)
    return text[:low].rstrip() + "…" if low else ""


def wrapped(text: str, width: float, size: float, bold: bool, measure: Measure) -> list[str]:
    """The lines of a text broken at plain spaces, each at most ``width`` pixels wide.

    The lines are as even as their least number allows. A single word wider than that is cut into
    pieces; nothing is omitted.
    """
    lines = _filled(text, width, size, bold, measure)
    low, high = width / max(len(lines), 1), width
    for _ in range(8 if len(lines) > 1 else 0):
        middle = (low + high) / 2
        evener = _filled(text, middle, size, bold, measure)
        low, high = (low, middle) if len(evener) <= len(lines) else (middle, high)
    return _filled(text, high, size, bold, measure)


def _filled(text: str, width: float, size: float, bold: bool, measure: Measure) -> list[str]:
    lines: list[str] = []
    for word in (w for w in text.split(" ") if w):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and measure(joined, size, bold)[0] <= width:
            lines[-1] = joined
        else:
            lines += _pieces(word, width, size, bold, measure)
    return lines


def _pieces(word: str, width: float, size: float, bold: bool, measure: Measure) -> list[str]:
    """The word, in as many pieces as it must be cut into."""
    pieces = []
    while len(word) > 1 and measure(word, size, bold)[0] > width:
        fits = (k for k in range(len(word) - 1, 0, -1) if measure(word[:k], size, bold)[0] <= width)
        cut = next(fits, 1)
        pieces.append(word[:cut])
        word = word[cut:]
    return [*pieces, word]


def fitting(text: str, width: float, size: float, bold: bool, measure: Measure) -> float:
    """The letter height up to ``size`` at which a text fits; never below six pixels."""
    wide = measure(text, size, bold)[0]
    return size if wide <= width else max(6.0, size * width / wide - 0.5)
