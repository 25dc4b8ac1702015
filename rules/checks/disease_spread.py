"""Around a sighting: what keeps a disease alive, what carries it on, what wears it down."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from rules.checks.context import Context, Hit, month_year, names_of
from rules.checks.exposures import is_hosted
from rules.checks.grounds import Ground
from rules.knowledge.facts import Disease
from rules.knowledge.ruleset import Kind, Rule
from rules.model import Planting
from rules.seasons import add_years

_WORDS = frozenset({"crops", "bed", "disease", "seen", "advice"})
CARRIER = Kind(looks_at="A crop that carries a disease unseen, in ground where it was seen.", options={}, words=_WORDS)
ELSEWHERE = Kind(
    looks_at="Hosts of a soil disease in clean ground, while another bed of the garden has it.",
    options={},
    words=_WORDS | {"beds"},
)
REDUCED = Kind(
    looks_at="A crop that lowers a disease, in ground where it was seen.", options={}, words=_WORDS | {"effect"}
)


def _open(disease: Disease, seen: date, on: date) -> bool:
    """True while a sighting still matters on a day."""
    return disease.better is None or add_years(seen, disease.better) >= on


def _words(context: Context, bed: str, disease: Disease, seen: date, plantings: tuple[Planting, ...]) -> dict[str, str]:
    return {
        "crops": names_of(plantings),
        "bed": context.bed_name(bed),
        "disease": disease.name,
        "seen": month_year(seen),
        "advice": disease.advice,
        "effect": disease.notes.get("reduced_by", "they lower it").rstrip("."),
    }


def _on_sighted_ground(context: Context, which: str, source: str) -> Iterator[Hit]:
    """Plantings of the window that stand in one of a disease's crop lists, where it was seen."""
    for bed, ground in context.grounds.items():
        for disease_id, days in ground.sightings.items():
            disease = context.knowledge.diseases[disease_id]
            crops: frozenset[str] = getattr(disease, which)
            found = tuple(
                p
                for p in ground.plantings
                if p.bed == bed
                and p.crop.id in crops
                and p.start > days[0]
                and _open(disease, days[-1], p.start)
                and context.in_window(p.start, p.end)
            )
            if found:
                yield Hit(
                    (bed,),
                    found,
                    _words(context, bed, disease, days[0], found),
                    {"disease": disease_id, "seen": days[0]},
                    disease=disease_id,
                    sources=disease.sources.get(source, ()),
                    cautions=disease.cautions,
                )


def check_carrier(context: Context, rule: Rule) -> Iterator[Hit]:
    """``disease-carrier``: a crop that carries the disease unseen stands in its break."""
    return _on_sighted_ground(context, "carriers", "carriers")


def check_reduced(context: Context, rule: Rule) -> Iterator[Hit]:
    """``disease-reduced``: a crop that lowers the disease stands where it was seen."""
    return _on_sighted_ground(context, "reduced_by", "reduced_by")


def check_elsewhere(context: Context, rule: Rule) -> Iterator[Hit]:
    """``disease-elsewhere``: hosts stand in clean ground while another bed has the disease (once a disease)."""
    seen_in: dict[str, list[Ground]] = {}
    for ground in context.grounds.values():
        for disease_id in ground.sightings:
            if context.knowledge.diseases[disease_id].in_soil:
                seen_in.setdefault(disease_id, []).append(ground)
    for disease_id, sick in sorted(seen_in.items()):
        disease = context.knowledge.diseases[disease_id]
        seen = max(day for ground in sick for day in ground.sightings[disease_id])
        at_risk = [
            p
            for p in context.judged
            if is_hosted(p.crop, disease)
            and disease_id not in context.grounds[p.bed].sightings
            and p.start > seen
            and _open(disease, seen, p.start)
        ]
        if at_risk:
            at_risk.sort(key=lambda p: (context.rank[p.bed], p.start, p.crop.id, p.id))
            beds = tuple(dict.fromkeys(p.bed for p in at_risk))
            first = min(sick, key=lambda g: context.rank[g.bed.id]).bed.id
            words = _words(context, first, disease, seen, tuple(at_risk)) | {
                "beds": ", ".join(context.bed_name(bed) for bed in beds)
            }
            yield Hit(
                beds,
                tuple(at_risk),
                words,
                {
                    "disease": disease_id,
                    "seen": seen,
                    "seen_in": tuple(sorted((g.bed.id for g in sick), key=context.rank.__getitem__)),
                },
                disease=disease_id,
                sources=disease.sources.get("survival", ()) or disease.sources.get("hosts", ()),
                cautions=disease.cautions,
            )
