"""The words of sheet, cards and crew's page in another language, by a catalog of sentences.

English is the language of the code. A catalog (``languages/es.po``, gettext) holds its sentences
with holes for what differs, ``"Set the machine's limiter to {0} for the whole pull."``, and what
they are in the other language, with the same holes. A text is translated where it leaves for paper
or screen: it is matched against the sentences, and what stands in the holes goes over as it is, a
figure or a name, or is itself matched. So no figure can differ between two languages, and what no
sentence fits stays English and is reported, never dropped.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache, cached_property
from html import escape, unescape
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent / "languages"
ENGLISH = "en"

_HOLE = re.compile(r"\{(\w+)\}")
# What needs no words: figures with their units, signs, and marks such as "-" or "1 of 2".
_UNITS = (
    "lbf/ft|ft·lbf|lbf ft|lbf|lb/ft|lb|ft/min|ft|in|mil|gal|kcmil|AWG|kV|V|kN/m|N/m|kN|N|kg/m|kg|km"
    "|m/min|mm²|mm|m|kJ|J|L|min|h|s|deg|°C|°F|°|%|x|psi|MPa|N·m"
)
_FIGURE = rf"[-+±≤≥<>~]?\d[\d,.'/]*(?:[ -]?(?:{_UNITS})(?![\w]))?"
# Keys of the model file, codes such as "PVC-40" or "NFPA", and the symbols of formulas.
_CODE = (
    r"route3d [\w .-]+|"
    r"[a-z]+(?:\.[\w-]+)+|[a-z]+_[a-z_]+|[A-Z]+-\w+|\b(?:PVC|RMC|IMC|EMT|HDPE|XLPE|EPR|NFPA|EN|DIN|VDE"
    r"|ISO|SHA|UL|NEMA|ANSI|ASTM|TC-3|C80.1|VDE|HD|D/d|d/d|R|ID|Q|k|L|D)\b"
)
_PLAIN = re.compile(rf"(?:{_FIGURE}|{_CODE}|[^\w]|\b(?:{_UNITS})\b)*")
# Sentences with so many letters of their own are kept where a hole of theirs stays English, and a
# hole of theirs may hold several sentences.
_ALMOST_ALL = 15
# Words of a drawing: the mark before them, and they.
_DRAWN = re.compile(r"(<(?:text|tspan|title)\b[^>]*>)([^<]+)")
# Fields of the model's records that hold what people typed.
_NAMING = frozenset(
    {"name", "about", "stock", "title", "job", "client", "number", "revision", "date", "made"}
    | {"checked", "approved", "mark", "what", "by", "held_by"}
)
# Fields with words of ours, publications among them.
_OURS = frozenset({"tables", "origins", "notes"})
# Where a text may be taken apart: between sentences, or in a list.
_SENTENCES = re.compile(r"((?<=[.:;!?]) +|; )")
_LISTS = re.compile(r"(, | \+ | / | \(|\)$|\) )")


def languages() -> tuple[str, ...]:
    """The languages there is a catalog of, English first."""
    return (ENGLISH, *sorted(file.stem for file in HERE.glob("*.po")))


class Translated(str):
    """A text that is in the language it is wanted in."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence of a catalog with holes: how it is recognized and what it becomes.

    ``longest`` is its longest text between holes, looked for first as that is quick, and ``weight``
    the length of all of them: of two sentences that fit the longer one is tried first. Of the two
    ``shapes`` one gives the first holes as little as it can, the other as much.
    """

    longest: str
    shapes: tuple[re.Pattern[str], re.Pattern[str]]
    words: str
    weight: int


@dataclass(frozen=True, eq=False)
class Translation:
    """What texts of one job become: ``names`` are those its people gave, never translated.

    ``titles`` are those of publications, which stay as they are where no sentence fits them.
    ``missing`` collects the texts of which a part stayed English.
    """

    language: str
    exact: Mapping[str, str]
    sentences: tuple[Sentence, ...]
    names: frozenset[str] = frozenset()
    titles: frozenset[str] = frozenset()
    missing: set[str] = field(default_factory=set)

    def of(self, text: str) -> str:
        """One text in the language; what no sentence fits stays as it is and is noted."""
        if self.language == ENGLISH:
            return text
        words, whole = self._of(text)
        if not whole:
            self.missing.add(text)
        return words

    def of_svg(self, drawing: str) -> str:
        """A drawing with its words in the language."""
        if self.language == ENGLISH:
            return drawing
        return _DRAWN.sub(lambda m: m[1] + escape(self.of(unescape(m[2]))), drawing)

    def of_data(self, data: Any, skip: Collection[str] = ()) -> Any:
        """The same data with every text in the language, but for the values of keys ``skip``."""
        if isinstance(data, Translated) or self.language == ENGLISH:
            return data
        if isinstance(data, str):
            return self.of(data)
        if isinstance(data, Mapping):
            return {k: v if k in skip else self.of_data(v, skip) for k, v in data.items()}
        if isinstance(data, list | tuple):
            return [self.of_data(v, skip) for v in data]
        return data

    @cached_property
    def _known(self) -> dict[str, tuple[str, bool]]:
        return {}

    def _of(self, text: str) -> tuple[str, bool]:
        """The text in the language, and whether all of it is."""
        if text not in self._known:
            self._known[text] = text, False  # a sentence whose hole holds the text itself ends here
            self._known[text] = self._worked_out(text)
        return self._known[text]

    def _worked_out(self, text: str) -> tuple[str, bool]:
        if text in self.names:
            return text, True
        if text in self.exact:
            return self.exact[text], True
        if _PLAIN.fullmatch(text):
            return text, True
        bare = text.strip()
        if bare != text:
            words, whole = self._of(bare)
            return text.replace(bare, words, 1), whole
        partly: list[str] = []
        for way in (self._by_sentence, self._without_its_end, self._in_lower_case, self._by_parts):
            if (found := way(text)) is not None:
                words, whole = found
                if whole:
                    return words, True
                partly.append(words)
        if text in self.titles:
            return text, True
        return (partly[0] if partly else text), False

    def _by_sentence(self, text: str) -> tuple[str, bool] | None:
        """By the first sentence that fits with all its holes understood, or the first at all."""
        partly: tuple[str, bool] | None = None
        for sentence in self.sentences:
            if sentence.longest not in text:
                continue
            for shape in sentence.shapes:
                if not (found := shape.fullmatch(text)):
                    break
                parts = {hole: self._of(part) for hole, part in found.groupdict().items()}
                words = _HOLE.sub(lambda m, p=parts: p["h" + m[1]][0], sentence.words)  # type: ignore[misc]
                if all(whole for _, whole in parts.values()):
                    return words, True
                if partly is None and sentence.weight >= _ALMOST_ALL:
                    partly = words, False
        return partly

    def _without_its_end(self, text: str) -> tuple[str, bool] | None:
        """A sentence whose catalog entry has no full stop."""
        if len(text) < 2 or text[-1] not in ".:;":
            return None
        words, whole = self._of(text[:-1])
        return words + text[-1], whole

    def _in_lower_case(self, text: str) -> tuple[str, bool] | None:
        """What the catalog has in the middle of a sentence, at the beginning of one."""
        if not (text[0].isupper() and text[1:2].islower()):
            return None
        words, whole = self._of(text[0].lower() + text[1:])
        return words[:1].upper() + words[1:], whole

    def _by_parts(self, text: str) -> tuple[str, bool] | None:
        """Several sentences, or a list, each part on its own."""
        for marks in (_SENTENCES, _LISTS):
            parts = marks.split(text)  # part, mark, part, mark, ..., part
            if len(parts) > 1:
                found = self._covered(parts)
                if found[1] or marks is _SENTENCES:
                    return found
        return None

    def _covered(self, parts: list[str]) -> tuple[str, bool]:
        """The longest stretches of parts that are understood, one after the other."""
        partly: str | None = None
        for last in range(len(parts) - 2, 0, -2):
            words, whole = self._of("".join(parts[:last]))
            if whole:
                rest, all_of_it = self._of("".join(parts[last + 1 :]))
                if all_of_it:
                    return words + parts[last] + rest, True
                partly = partly or words + parts[last] + rest
        if partly is None:
            words, rest = self._of(parts[0])[0], self._of("".join(parts[2:]))[0]
            partly = words + parts[1] + rest
        return partly, False


AS_IT_IS = Translation(ENGLISH, {}, ())
"""English: every text stays as it is."""


def translation(
    language: str, names: Iterable[str] = (), titles: Iterable[str] = ()
) -> Translation:
    """What texts become in a language for which there is a catalog; ValueError for another."""
    if language not in languages():
        raise ValueError(f"no catalog of language {language!r}")
    exact, sentences = _catalog(language)
    known = frozenset(name.strip() for name in names)
    return Translation(language, exact, sentences, known, frozenset(titles))


def page_words(language: str) -> dict[str, str]:
    """The sentences of the crew's page by their English, for its ``words.js``."""
    if language == ENGLISH:
        return {}
    return {e.msgid: e.msgstr for e in _entries(language) if e.msgctxt == "page" and e.msgstr}


def _entries(language: str) -> Any:
    import polib  # not needed in English

    return polib.pofile(str(HERE / f"{language}.po"))


@cache
def _catalog(language: str) -> tuple[dict[str, str], tuple[Sentence, ...]]:
    exact, sentences = {}, []
    for entry in () if language == ENGLISH else _entries(language):
        if entry.msgctxt == "page" or not entry.msgstr or entry.obsolete:
            continue
        if _HOLE.search(entry.msgid):
            sentences.append(_sentence(entry.msgid, entry.msgstr))
        else:
            exact[entry.msgid] = entry.msgstr
    sentences.sort(key=lambda s: -s.weight)
    return exact, tuple(sentences)


def _sentence(msgid: str, words: str) -> Sentence:
    parts = _HOLE.split(msgid)  # text, hole, text, hole, ..., text
    texts = parts[::2]
    longest, weight = max(texts, key=len), sum(map(len, texts))
    hole = "." if weight >= _ALMOST_ALL else r"(?:(?![.;:] ).)"
    shapes = [
        re.compile(
            "".join(
                f"(?P<h{part}>{hole}{more})" if i % 2 else re.escape(part)
                for i, part in enumerate(parts)
            ),
            re.DOTALL,
        )
        for more in ("+?", "+")
    ]
    return Sentence(longest, (shapes[0], shapes[1]), words, weight)


def names_of(*records: Any) -> set[str]:
    """The names that people gave in a job or a plan, and titles and the like: no words of ours."""
    found: set[str] = set()
    for record in records:
        if isinstance(record, str):
            continue
        if isinstance(record, Mapping):
            found |= names_of(*record.keys(), *record.values())
        elif isinstance(record, list | tuple | set | frozenset):
            found |= names_of(*record)
        elif is_dataclass(record):
            for part in fields(record):
                value = getattr(record, part.name)
                if part.name in _NAMING and isinstance(value, str):
                    found.add(value.strip())
                elif part.name not in _OURS:
                    found |= names_of(value)
    return found - {""}
