"""Another language says the same: every figure, every caution, and no sentence left in English."""

from __future__ import annotations

import re
from collections import Counter
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import polib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from route3d.language import AS_IT_IS, HERE, languages, page_words, translation
from route3d.model.job import Job
from route3d.modelfile.read import load, loads
from route3d.modelfile.starter import template_text
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.report.cards import cards_data
from route3d.report.sheet import printed_pages, sheet_data
from route3d.report.spoken import spanish
from route3d.report.translated import translation_for

WRITTEN = re.compile(r"<(?:text|tspan|title)\b[^>]*>([^<]+)")
FIGURES = re.compile(r"\d[\d,.]*\d|\d")
OTHERS = [language for language in languages() if language != "en"]
ROOT = Path(__file__).parents[2]
APP = ROOT / "viewer/web/app"


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


@cache
def corpus() -> tuple[tuple[Job, Plan], ...]:
    """Demos and a template, one of the runs from the end that must not feed it."""
    names = ("riser_duct_bank", "yard_run", "roof_drop", "mezzanine")
    jobs = [load(ROOT / f"models/{name}.toml") for name in names]
    jobs += [loads(template_text("duct-bank", "SI"), "template.toml", ROOT)]
    made = [(job, evaluate(job).runs[0]) for job in jobs]
    feeds = [(job, result, result.best.pull.feed) for job, result in made]
    feeds += [(job, result, result.best.pull.pull) for job, result in made[:1]]
    return tuple((job, make_plan(result, job, step=30.0, feed=feed)) for job, result, feed in feeds)


@cache
def told_in(language: str, system: str) -> tuple[list[tuple[Any, Any]], set[str]]:
    """Sheet and cards of all plans in English and in the language, and what stayed English."""
    pairs, left = [], set[str]()
    for job, plan in corpus():
        told = translation_for(job, [plan], language)
        pairs.append((sheet_data(job, plan, system), sheet_data(job, plan, system, told=told)))
        pages = [printed_pages(job, plan, system, paper="a4", told=t) for t in (AS_IT_IS, told)]
        pairs.append((pages[0], pages[1]))
        pairs.append((cards_data(job, plan, system), cards_data(job, plan, system, told)))
        left |= told.missing
    return pairs, left


# Spanish is longer, so the code may hold fewer rows: it says how many it has.
_OF_CODE = ("code", "code_words")


def texts(data: Any) -> list[str]:
    """All texts in their order, of a drawing what is written in it; lines to read aloud have their
    figures in words.
    """
    if isinstance(data, str):
        return [" ".join(WRITTEN.findall(data))] if data.startswith("<svg") else [data]
    if isinstance(data, dict):
        return [text for key, value in data.items() if key not in _OF_CODE for text in texts(value)]
    return (
        [text for value in data for text in texts(value)] if isinstance(data, list | tuple) else []
    )


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("system", ["US", "SI"])
def test_sheets_and_cards_say_the_same_with_every_figure(language: str, system: str) -> None:
    pairs, left = told_in(language, system)
    assert not left
    wrong = [
        (here, there)
        for english, other in pairs
        for here, there in zip(texts(english), texts(other), strict=True)
        if figures(here) != figures(there)
    ]
    assert not wrong


@pytest.mark.parametrize("language", OTHERS)
def test_a_warning_stays_where_it_stands(language: str) -> None:
    """Every danger, caution and order to stop is there, in the place of the English one."""
    alto = translation(language).of("STOP")
    for here, there in told_in(language, "US")[0]:
        if "verdict" not in here:
            continue
        for key in ("dangers", "cautions", "findings", "steps"):
            assert len(here[key]) == len(there[key])
            assert not any(a == b for a, b in zip(here["dangers"], there["dangers"], strict=True))
        assert here["stop"] == there["stop"]
        assert there["verdict"].startswith(alto) == there["stop"]


def test_numbers_are_said_in_spanish() -> None:
    """Forms by the orthography of the Real Academia Española, cardinals (from memory)."""
    said = {
        1: "uno",
        21: "veintiuno",
        100: "cien",
        101: "ciento uno",
        999: "novecientos noventa y nueve",
    }
    said |= {
        1000: "mil",
        2300: "dos mil trescientos",
        31000: "treinta y un mil",
        1000000: "un millón",
    }
    assert {n: spanish(Decimal(n)) for n in said} == said
