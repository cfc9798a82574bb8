"""What sheet, cards and page of a job become in another language."""

from __future__ import annotations

from collections.abc import Sequence

from route3d.language import AS_IT_IS, ENGLISH, Translation, names_of, translation
from route3d.model.job import Job
from route3d.planning.pull_plan.plan import Plan

LANGUAGE_NAMES = {"en": "English", "es": "Spanish"}


def translation_for(job: Job, plans: Sequence[Plan], language: str) -> Translation:
    """The translation that knows the names of a job, and the publications of its plans."""
    if language == ENGLISH:
        return AS_IT_IS
    sources = [link.source for plan in plans for link in plan.links]
    sources += [finding.source for plan in plans for finding in plan.all_findings]
    titles = {part for source in sources for part in (source, *source.split("; "))}
    return translation(language, names_of(job), titles)


def left_in_english(told: Translation, most: int = 3) -> str:
    """A note on the texts that have no sentence in the catalog; empty where all have one."""
    if not told.missing:
        return ""
    count, shown = len(told.missing), sorted(told.missing)[:most]
    name = LANGUAGE_NAMES.get(told.language, told.language)
    texts = "; ".join(f'"{text}"' for text in shown)
    more = f" and {count - len(shown)} more" if count > len(shown) else ""
    return f"{count} texts have no {name} in the catalog and stay English: {texts}{more}"
