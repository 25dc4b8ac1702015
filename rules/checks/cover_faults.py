"""What is amiss with a cover itself: its mesh, when it goes on, its edges, flowers, animals, heat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from rules.checks.context import Context, Hit, names_of
from rules.checks.cover_trap import listed
from rules.checks.coverage import GRACE_DAYS, covers_of, feeders, fine_enough, lives_below, shut_until
from rules.knowledge.facts import Pest
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.model import Cover, Planting
from rules.report import Evidence
from rules.seasons import growing_year, is_south

_WORDS = frozenset({"crops", "bed", "cover"})
MESH = Kind(
    options={
        "not_below_mm": Key("number", needed=True, says="Pests that need finer openings than {} mm are left out."),
    },
    words=_WORDS | {"pests", "mesh", "needed"},
    looks_at="The mesh of a net, and the pests that go for the crops under it.",
)
LATE = Kind(
    options={},
    words=_WORDS | {"days", "pests"},
    looks_at="The day a cover goes on, and the day the crops under it went in.",
)
OPEN = Kind(options={}, words=_WORDS | {"pests"}, looks_at="The edges of a cover, where the plan tells how they are.")
BLOOM = Kind(
    options={
        "pollination": Key(
            "words", needed=True, among=("insect", "wind"), says="Crops whose harvest needs this pollination: {}."
        ),
        "days_before_harvest": Key(
            "whole", needed=True, says="The first flower is taken to open {} days before the first harvest."
        ),
        "bees_pass_mm": Key("number", says="Openings of {} mm or more let bees through."),
    },
    words=_WORDS | {"flower"},
    looks_at="Covers that are still shut when the crops under them flower.",
)
WILDLIFE = Kind(
    options={
        "over_mm": Key("number", needed=True, says="Nets with openings of more than {} mm."),
        "law": Key("words", says="Places whose law says so: {}."),
        "not_in": Key("words", says="Not said in these places, whose law says more: {}."),
    },
    words=_WORDS | {"mesh", "place"},
    looks_at="The mesh of a net, and whether it can catch animals.",
)
HEAT = Kind(
    options={
        "below_mm": Key("number", needed=True, says="Fleece, and nets finer than {} mm."),
        "days": Key("whole", needed=True, says="From {} days in the hot months on."),
    },
    words=_WORDS,
    looks_at="Covers over crops in the three hottest months.",
)

#: How places are called in a sentence (ISO 3166-2).
_PLACES = {"AU-VIC": "Victoria", "AU-ACT": "the Australian Capital Territory"}
#: The hot months of the year by the first month of each hemisphere's three.
_NORTH_HEAT, _SOUTH_HEAT = 6, 12


def check_mesh(context: Context, rule: Rule) -> Iterator[Hit]:
    """``cover-mesh``: pests that go for the crop pass the openings, and a finer net would stop them."""
    for cover, plantings in context.once(_covers):
        through = [p for p in _stoppable(context, plantings, rule.options["not_below_mm"]) if not _passes_not(cover, p)]
        if cover.kind == "net" and cover.mesh is not None and through:
            needed = min(pest.max_mesh_mm or 0 for pest in through)
            words = {
                "pests": listed([pest.name for pest in through]),
                "mesh": f"{cover.mesh:g}",
                "needed": f"{needed:g}",
            }
            because: dict[str, Evidence] = {"mesh_mm": cover.mesh, "needed_mm": needed}
            yield _hit(context, cover, plantings, words, because, through, "max_mesh_mm")


def check_late(context: Context, rule: Rule) -> Iterator[Hit]:
    """``cover-late``: the crop stood open before the cover came, so pests may be under it."""
    for cover, plantings in context.once(_covers):
        late = [p for p in plantings if _late(context, cover, p)]
        over = context.once(covers_of)
        shut_in = [
            pest
            for pest in _stoppable(context, late, 0)
            if fine_enough(cover, pest)
            and any(p.crop.id in pest.hosts and _open_until(over[p.id], cover, p, pest) for p in late)
        ]
        if late and shut_in:
            days = max((cover.start - p.start).days for p in late)
            words = {"days": str(days), "pests": listed([pest.name for pest in shut_in])}
            yield _hit(context, cover, late, words, {"days_late": days}, shut_in, "overwinters")


def check_open(context: Context, rule: Rule) -> Iterator[Hit]:
    """``cover-open``: edges that are not shut let in what the cover is there to stop."""
    for cover, plantings in context.once(_covers):
        let_in = [pest for pest in _stoppable(context, plantings, 0) if fine_enough(cover, pest)]
        if cover.edges == "open" and let_in:
            yield _hit(
                context, cover, plantings, {"pests": listed([p.name for p in let_in])}, {}, let_in, "max_mesh_mm"
            )


def check_bloom(context: Context, rule: Rule) -> Iterator[Hit]:
    """``cover-bloom``: a crop that needs insects (or wind) flowers under a cover that stays shut."""
    for cover, plantings in context.once(_covers):
        for planting in plantings:
            flower = first_flower(planting, rule.options["days_before_harvest"])
            fruitless = planting.crop.traits.pollination in rule.options["pollination"]
            spared = planting.variety is not None and planting.variety.parthenocarpic
            if not fruitless or spared or flower is None or not _shuts_out_bees(cover, rule):
                continue
            while planting.crop.perennial and flower < cover.start:
                flower += timedelta(days=365)
            opened = min((day for day in (cover.open_by_day_from, cover.end) if day is not None), default=None)
            if flower < cover.start or flower > planting.end or (opened is not None and opened <= flower):
                continue
            words = {"flower": f"{flower.day} {flower:%B}"}
            yield _hit(context, cover, [planting], words, {"flower_about": flower, "opened": opened})


def check_wildlife(context: Context, rule: Rule) -> Iterator[Hit]:
    """``cover-wildlife``: a net wide enough to entangle animals; ``law`` names the places where it is unlawful."""
    here = (context.plan.garden.country or "").upper()
    law = rule.options.get("law")
    for cover, plantings in context.once(_covers):
        wide = cover.kind == "net" and cover.mesh is not None and cover.mesh > rule.options["over_mm"]
        if wide and (law is None or here in law) and here not in rule.options.get("not_in", ()):
            words = {"mesh": f"{cover.mesh:g}", "place": _PLACES.get(here, here)}
            yield _hit(context, cover, plantings, words, {"mesh_mm": cover.mesh})


def check_heat(context: Context, rule: Rule) -> Iterator[Hit]:
    """``cover-heat``: fleece or very fine net lies over a crop through the hot months."""
    for cover, plantings in context.once(_covers):
        fine = cover.kind == "fleece" or (
            cover.kind == "net" and cover.mesh is not None and cover.mesh < rule.options["below_mm"]
        )
        days = max(_hot_days(context, cover, planting) for planting in plantings)
        if fine and days >= rule.options["days"]:
            yield _hit(context, cover, plantings, {}, {"hot_days": days})


def first_flower(planting: Planting, days_before_harvest: int) -> date | None:
    """About when a planting opens its first flower: so many days before its first harvest; None if not known."""
    harvest = planting.first_harvest
    if harvest is None:
        maturity = planting.crop.maturity
        if maturity is None or planting.exact == "year":
            return None
        harvest = planting.start + timedelta(days=maturity.least)
    return max(planting.start, harvest - timedelta(days=days_before_harvest))


def _covers(context: Context) -> list[tuple[Cover, list[Planting]]]:
    """The covers over plantings of the judged window, each once; also those put over old plants in the window."""
    judged, window = context.judged_ids, context.plan.judge
    over: dict[Cover, list[Planting]] = {}
    for name, covers in context.once(covers_of).items():
        for cover in covers:
            if name in judged or window.start <= cover.start <= window.end:
                over.setdefault(cover, []).append(context.plantings[name])
    told: dict[tuple[object, ...], tuple[Cover, list[Planting]]] = {}
    for cover, plantings in over.items():
        plantings.sort(key=lambda p: (p.start, p.crop.id, p.id))
        like = (cover.kind, cover.mesh, cover.edges, tuple(p.id for p in plantings))
        told.setdefault(like, (cover, plantings))  # two of one kind over the same plants say the same
    return list(told.values())


def _stoppable(context: Context, plantings: list[Planting], not_below_mm: float) -> list[Pest]:
    """Pests that go for these crops first (or for no crop first) and that some cover can stop, by id."""
    found = {
        pest.id: pest
        for planting in plantings
        for pest in feeders(context, planting)
        if (planting.crop.id in pest.preferred if pest.preferred else not pest.wide)
        and pest.max_mesh_mm is not None
        and pest.max_mesh_mm >= not_below_mm
        and pest.group != "vertebrate"
        and not lives_below(pest)
    }
    return [found[key] for key in sorted(found)]


def _late(context: Context, cover: Cover, planting: Planting) -> bool:
    """Whether a cover comes days after the crop went in; old plants covered in a later year are another matter."""
    years = {growing_year(day, context.latitude) for day in (cover.start, planting.start)}
    return (cover.start - planting.start).days > GRACE_DAYS and planting.exact == "day" and len(years) == 1


def _open_until(covers: Sequence[Cover], cover: Cover, planting: Planting, pest: Pest) -> bool:
    """Whether a planting stood open to a pest before this cover came: no other cover passed it on."""
    until = shut_until(covers, planting, pest)
    return until is None or until < cover.start


def _shuts_out_bees(cover: Cover, rule: Rule) -> bool:
    wide = rule.options.get("bees_pass_mm")
    coarse = wide is not None and cover.mesh is not None and cover.mesh >= wide
    return cover.kind == "fleece" or (cover.kind == "net" and not coarse)


def _passes_not(cover: Cover, pest: Pest) -> bool:
    return fine_enough(cover, pest) is not False


def _hot_days(context: Context, cover: Cover, planting: Planting) -> int:
    """Days in the three hottest months that a planting stands under a cover, in its first summer or the next."""
    first_month = _SOUTH_HEAT if is_south(context.latitude) else _NORTH_HEAT
    begun = growing_year(max(cover.start, planting.start), context.latitude)
    most = 0
    for year in (begun, begun + 1):
        first = date(year, first_month, 1)
        last = date(year + (1 if first_month > 9 else 0), (first_month + 1) % 12 + 1, 28)
        start = max(cover.start, planting.start, first)
        end = min(cover.end or planting.end, planting.end, last)
        most = max(most, (end - start).days + 1)
    return most


def _hit(
    context: Context,
    cover: Cover,
    plantings: list[Planting],
    words: dict[str, str],
    because: dict[str, Evidence],
    pests: Sequence[Pest] = (),
    rests_on: str = "",
) -> Hit:
    held = tuple(plantings)
    common = {"crops": names_of(held), "bed": context.bed_name(cover.bed), "cover": cover.kind}
    evidence = {"cover_from": cover.start} | because
    if pests:
        evidence["pests"] = tuple(pest.id for pest in pests)
    sources = tuple(dict.fromkeys(key for pest in pests for key in pest.sources.get(rests_on, ())))
    return Hit((cover.bed,), held, common | words, evidence, sources=sources, moving_helps=False)
