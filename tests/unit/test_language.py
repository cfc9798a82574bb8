"""Another language says the same: every figure, every caution, and no sentence left in English."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from pathlib import Path

import polib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.language import HERE, languages, page_words, translation

FIGURES = re.compile(r"\d[\d,.]*\d|\d")
OTHERS = [language for language in languages() if language != "en"]
APP = Path(__file__).parents[2] / "viewer/web/app"


@cache
def entries(language: str) -> list[polib.POEntry]:
    return [e for e in polib.pofile(str(HERE / f"{language}.po")) if not e.obsolete]


def figures(text: str) -> Counter[str]:
    return Counter(found.rstrip(".,") for found in FIGURES.findall(text))


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_has_the_same_holes_and_figures(language: str) -> None:
    wrong = [
        entry.msgid
        for entry in entries(language)
        if not entry.msgstr
        or set(re.findall(r"\{\w+\}", entry.msgid)) != set(re.findall(r"\{\w+\}", entry.msgstr))
        or figures(re.sub(r"\{\w+\}", "", entry.msgid))
        != figures(re.sub(r"\{\w+\}", "", entry.msgstr))
    ]
    assert not wrong


@pytest.mark.parametrize("language", OTHERS)
@given(data=st.data())
def test_what_stands_in_the_holes_goes_over_as_it_is(language: str, data: st.DataObject) -> None:
    known = [e for e in entries(language) if "{" in e.msgid and not e.msgctxt]
    entry = data.draw(st.sampled_from(known))
    holes = dict.fromkeys(re.findall(r"\{(\w+)\}", entry.msgid))
    values = {hole: f"{data.draw(st.integers(100, 99999)):,} lbf" for hole in holes}
    fill = lambda text: re.sub(r"\{(\w+)\}", lambda m: values[m[1]], text)  # noqa: E731
    told = translation(language)
    words = told.of(fill(entry.msgid))
    assert figures(words) == figures(fill(entry.msgid))
    assert not told.missing


@pytest.mark.parametrize("language", OTHERS)
def test_the_words_of_the_crews_page_are_all_there(language: str) -> None:
    asked = {
        bytes(sentence, "utf-8").decode("unicode_escape").encode("latin-1").decode("utf-8")
        if "\\" in sentence
        else sentence
        for file in APP.glob("*.js")
        for sentence in re.findall(r'\bt\("((?:[^"\\]|\\.)*)"', file.read_text(encoding="utf-8"))
    }
    assert not asked - page_words(language).keys()


def test_names_of_the_job_are_kept() -> None:
    told = translation("es", {"gear change", "vault V1"})
    assert told.of("Feed from vault V1, pull at gear change.") == (
        "Alimente desde vault V1, jale en gear change."
    )


def test_what_no_sentence_fits_stays_and_is_reported() -> None:
    told = translation("es")
    assert told.of("The quick brown fox pulls 300 lbf.") == "The quick brown fox pulls 300 lbf."
    assert told.missing == {"The quick brown fox pulls 300 lbf."}


def test_a_language_without_catalog_is_refused() -> None:
    with pytest.raises(ValueError, match="xx"):
        translation("xx")
