"""A formula written once, in a part of typst's math language, for paper, browser and terminal.

``frac(a, b)``, ``sqrt(a)``, ``x_1``, ``x^2``, ``e^(K θ)``, ``sin``, ``"upright words"``, Greek
letters and plain signs: typst sets that as it is; here it becomes MathML and a line of text.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from html import escape

_TOKEN = re.compile(r'"[^"]*"|\d+(?:\.\d+)?|[A-Za-z]+|\S')
# Names that are set upright, as typst does; every other word of letters is one quantity.
_UPRIGHT = frozenset(("sin", "cos", "tan", "sinh", "cosh", "max", "min"))
_APPLIED = "\u2061"  # of a function to what follows
_SPACE = "\u00a0"  # one that a browser keeps at the ends of words


@dataclass(frozen=True, slots=True)
class Formula:
    """One formula; ``typst`` is the text it is written in."""

    typst: str

    @property
    def mathml(self) -> str:
        """The formula as MathML, for a browser."""
        return (
            '<math displaystyle="true" xmlns="http://www.w3.org/1998/Math/MathML">'
            f"{_Reader(self.typst, _MATHML).whole()}</math>"
        )

    @property
    def plain(self) -> str:
        """The formula on one line, for a terminal."""
        text = _Reader(self.typst, _PLAIN).whole().replace(f"{_APPLIED} (", "(")
        return re.sub(r" +", " ", text.replace(_APPLIED, " ")).strip()


@dataclass(frozen=True, slots=True)
class _Writer:
    """How the parts of a formula are set out."""

    number: Callable[[str], str]
    name: Callable[[str], str]
    upright: Callable[[str], str]
    words: Callable[[str], str]
    sign: Callable[[str], str]
    row: Callable[[list[str]], str]
    fraction: Callable[[str, str], str]
    root: Callable[[str], str]
    scripts: Callable[[str, str, str], str]
    bracketed: Callable[[str], str]


def _in_brackets(text: str) -> str:
    """Text that is more than one thing, in brackets."""
    return text if re.fullmatch(r"(sqrt)?\([^()]*\)|[\w.]+", text.strip()) else f"({text.strip()})"


def _plain_scripts(base: str, below: str, above: str) -> str:
    below = below if not below or len(below) == 1 else f"_{below}"
    above = above and ("²" if above == "2" else f"^{_in_brackets(above)}")
    return f"{base.strip()}{below}{above}"


_PLAIN = _Writer(
    number=str,
    name=str,
    upright=lambda text: text + _APPLIED,
    words=str,
    sign=lambda text: f" {text} " if text in "=≤≥<>≈+-−×·" else text,
    row=lambda parts: _spaced(parts),
    fraction=lambda a, b: f"{_in_brackets(a)}/{_in_brackets(b)}",
    root=lambda a: f"sqrt({a.strip()})",
    scripts=_plain_scripts,
    bracketed=lambda a: f"({a.strip()})",
)


def _spaced(parts: list[str]) -> str:
    """Factors side by side with a space between, commas and brackets close to their words."""
    text = ""
    for part in parts:
        close = not text or text[-1] in "( " or part[:1] in ",;) °′%"
        text += part if close else f" {part}"
    return text


_MATHML = _Writer(
    number=lambda text: f"<mn>{text}</mn>",
    name=lambda text: f"<mi>{text}</mi>",
    upright=lambda text: f'<mi>{text}</mi><mo rspace="0.17em">{_APPLIED}</mo>',
    words=lambda text: f"<mtext>{escape(text.replace(' ', _SPACE))}</mtext>",
    sign=lambda text: f"<mo>{escape(text.replace('-', '−'))}</mo>",
    row=lambda parts: f"<mrow>{''.join(parts)}</mrow>",
    fraction=lambda a, b: f"<mfrac>{a}{b}</mfrac>",
    root=lambda a: f"<msqrt>{a}</msqrt>",
    scripts=lambda base, below, above: (
        f"<msubsup>{base}{below}{above}</msubsup>"
        if below and above
        else f"<msub>{base}{below}</msub>"
        if below
        else f"<msup>{base}{above}</msup>"
    ),
    bracketed=lambda a: f"<mrow><mo>(</mo>{a}<mo>)</mo></mrow>",
)


class _Reader:
    """Reads a formula from left to right and hands its parts to a writer."""

    def __init__(self, text: str, writer: _Writer) -> None:
        self._tokens, self._at, self._writer = _TOKEN.findall(text), 0, writer

    def whole(self) -> str:
        """All of it; ValueError for brackets that do not match."""
        found = self._row(frozenset())
        if self._at < len(self._tokens):
            raise ValueError(f"formula does not end at {self._tokens[self._at]!r}")
        return found

    def _row(self, ends: frozenset[str]) -> str:
        parts = []
        while self._at < len(self._tokens) and self._tokens[self._at] not in ends:
            parts.append(self._scripted())
        return self._writer.row(parts)

    def _scripted(self) -> str:
        base, below, above = self._one(), "", ""
        while self._at < len(self._tokens) and self._tokens[self._at] in "_^":
            mark = self._next()
            script = self._group() if self._peek() == "(" else self._one()
            below, above = (script, above) if mark == "_" else (below, script)
        return self._writer.scripts(base, below, above) if below or above else base

    def _one(self) -> str:
        token, write = self._next(), self._writer
        if token == ")":
            raise ValueError("formula has a bracket too many")
        if token == "(":
            return write.bracketed(self._inside(")"))
        if token == "sqrt":
            return write.root(self._group())
        if token == "frac":
            self._expect("(")
            top = self._inside(",")
            return write.fraction(top, self._inside(")"))
        if token[0] == '"':
            return write.words(token[1:-1])
        if token[0].isdigit():
            return write.number(token)
        if token in _UPRIGHT:
            return write.upright(token)
        return write.name(token) if token.isalpha() else write.sign(token)

    def _group(self) -> str:
        self._expect("(")
        return self._inside(")")

    def _inside(self, end: str) -> str:
        found = self._row(frozenset((end,)))
        self._expect(end)
        return found

    def _peek(self) -> str:
        return self._tokens[self._at] if self._at < len(self._tokens) else ""

    def _next(self) -> str:
        token = self._peek()
        if not token:
            raise ValueError("formula ends too early")
        self._at += 1
        return token

    def _expect(self, token: str) -> None:
        if self._next() != token:
            raise ValueError(f"formula needs {token!r}")
