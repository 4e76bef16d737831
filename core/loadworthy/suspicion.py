"""Symptom sets: who may explain what was seen, and how suspicious each candidate is (method, section 4)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy.beliefs import SymptomShare, SymptomView
from loadworthy.findings import Symptom
from loadworthy.record import NamedTuple
from loadworthy.stats import shares

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from loadworthy.beliefs import Standing
    from loadworthy.declarations import Catalogue
    from loadworthy.evidence import Key, Places, Weigher
    from loadworthy.findings import Result

#: Candidates of a symptom together never leave less than the rest of this for "none of these".
MOST_EXPLAINED = 0.98
#: A symptom less likely than this was not seen.
SEEN_FROM = 0.05
#: A candidate leads once more than this share of the suspicion is on it.
LEADS_ABOVE = 0.5


class Seen(NamedTuple):
    """A symptom that stands, with its candidates addressed to places and scaled."""

    id: str
    plugin: str
    symptom: Symptom
    group: str
    candidates: tuple[tuple[Key, float], ...]
    standing: Standing | None


def symptom_id(symptom: Symptom) -> str:
    """Return ``set[@subject]#sheet``."""
    at = f"@{symptom.subject}" if symptom.subject else ""
    return f"{symptom.id}{at}#{symptom.sheet}"


def standing_symptoms(
    results: Sequence[tuple[str, Result]],
    standings: Sequence[Standing],
    catalogue: Catalogue,
    places: Places,
    weigher: Weigher,
) -> Iterator[Seen]:
    """Yield the symptoms whose findings still stand, in a fixed order."""
    by_sheet: dict[tuple[str, str], list[Standing]] = {}
    for one in standings:
        by_sheet.setdefault((one.finding.rule, one.finding.sheet), []).append(one)
    reported = [(plugin, r) for plugin, r in results if isinstance(r, Symptom)]
    for plugin, symptom in sorted(reported, key=lambda pair: (symptom_id(pair[1]), pair[1].rule, pair[0])):
        about = [
            s
            for s in by_sheet.get((symptom.rule, symptom.sheet), ())
            if s.finding.subject in (None, symptom.subject) or symptom.subject is None
        ]
        standing = next((s for s in about if s.stands), None)
        if about and standing is None:
            continue
        rule = catalogue.rules.get(symptom.rule)
        name = symptom.group or (rule.group if rule is not None else "") or symptom.rule
        yield Seen(
            id=symptom_id(symptom),
            plugin=plugin,
            symptom=symptom,
            group=weigher.group(plugin, name, symptom.sheet),
            candidates=_candidates(symptom, catalogue, places),
            standing=standing,
        )


def _candidates(symptom: Symptom, catalogue: Catalogue, places: Places) -> tuple[tuple[Key, float], ...]:
    """Address a symptom's candidates; a candidate that may sit in several places shares its weight."""
    declared = catalogue.symptoms.get(symptom.id)
    given: Iterable[tuple[str, str | None, float]] = symptom.candidates or (
        (cause, symptom.subject, weight) for cause, weight in (declared.candidates if declared else ())
    )
    weights: dict[Key, float] = {}
    for cause, subject, weight in given:
        keys = set(places.keys(cause, subject))
        for key in keys:
            weights[key] = weights.get(key, 0.0) + weight / len(keys)
    ordered = sorted(weights, key=lambda key: (key[0], key[1] or ""))
    total = sum(weights[key] for key in ordered)
    scale = MOST_EXPLAINED / total if total > MOST_EXPLAINED else 1.0
    return tuple((key, weights[key] * scale) for key in ordered)


def view(seen: Seen, ratio_of: Callable[[Key], float | None], catalogue: Catalogue) -> SymptomView:
    """Return a symptom with the order of suspicion among its candidates.

    ``ratio_of`` gives the likelihood ratio of a candidate from all evidence but the symptom's own group, or None
    where a repair has set its membership aside.
    """
    symptom = seen.symptom
    live = [(key, weight, ratio) for key, weight in seen.candidates if (ratio := ratio_of(key)) is not None]
    none = 1.0 - sum(weight for _, weight in seen.candidates)
    portions, none_share = shares([w for _, w, _ in live], [r for _, _, r in live], none)
    declared = catalogue.symptoms.get(symptom.id)
    return SymptomView(
        id=seen.id,
        set_id=symptom.id,
        text=symptom.text or (declared.text if declared else symptom.id),
        plugin=seen.plugin,
        rule=symptom.rule,
        sheet=symptom.sheet,
        subject=symptom.subject,
        group=seen.group,
        p_beyond=symptom.p_beyond,
        strength=max(0.0, (symptom.p_beyond - SEEN_FROM) / (1.0 - SEEN_FROM)),
        shares=tuple(
            SymptomShare(key[0], key[1], weight, ratio, share)
            for (key, weight, ratio), share in zip(live, portions, strict=True)
        ),
        none_share=none_share,
        unexplained=symptom.p_beyond >= SEEN_FROM and max(portions, default=0.0) <= LEADS_ABOVE,
        grade=seen.standing.grade if seen.standing is not None else None,
    )
