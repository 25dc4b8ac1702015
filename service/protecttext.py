"""The protection plan in words: what to expect, when and where to look, the ladder of measures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from rules.knowledge.facts import Control, Pest
from rules.knowledge.known import Knowledge
from rules.knowledge.pestshapes import STEPS
from rules.knowledge.thresholds import GROWERS, Threshold
from rules.model import Plan, Window
from rules.planning.care import MIDDLING, CropCare, Expected, Guard, Protection, Wait
from rules.seasons import LAST_YEAR, is_south
from service.text import WIDTH, Page
from service.words import HONEST, MONTHS, as_date, as_list, as_span, capital, publishers

_LEVELS = {"high": ("high risk",), "medium": (), "low": ()}
#: What stands behind a measure, told where it is not published guidance.
_PROOF = {"trial": " (Measured in trials.)", "guidance": "", "practice": " (Growers' practice, not measured.)"}
#: Crops or pests named in one list; of more, their number is told.
_FEW = 4
#: Who else may be hurt; told beside a measure that has no caution of its own.
_OTHERS = ("pollinators", "wildlife", "pets", "water", "law")
#: Kinds of measure whose name does not say how it is done; how a spray is used stands on its label.
_HOW = ("exclude", "trap", "bait")
#: Cautions whose texts do not say of themselves what they are about.
_OF_WHAT = ("butterflies", "dusts", "infested_plants_and_soil", "notifiable_disease", "notifiable_pest")


def protect_text(
    found: Protection, plan: Plan, knowledge: Knowledge, *, width: int = WIDTH, colour: bool = False
) -> str:
    """The plan as plain text of at most ``width`` (40 to 80) columns."""
    page = Page(width, colour)
    page.head(f"{plan.garden.name}: protection, {as_span(found.window)}")
    if not found.crops:
        page.say("Nothing stands in these days.", hang=0)
    for care in found.crops:
        if not _quiet(care):
            _care(page, care, plan, found.window)
    _all_quiet(page, [care for care in found.crops if _quiet(care)])
    _pests(page, found, knowledge, south=is_south(plan.garden.latitude))
    if found.ladder:
        page.head("What to do, least harm first")
        page.say("By published guidance, unless something else is said.", hang=0)
    step = None
    for measure in found.ladder:
        if measure.control.step != step:
            step = measure.control.step
            page.say(f"{capital(STEPS[step])}:", hang=0)
        _measure(page, measure.control, measure.pests)
    if found.waits:
        page.head("Before you pick")
        for wait in found.waits:
            page.say(_wait(wait, plan))
    if found.cautions:
        page.head("Cautions")
        for text in _cautions(found, knowledge):
            page.say(text)
    if found.crops:
        page.lines.append("")
        page.say("More about a pest, its controls and their sources: breakcrop pests NAME.", hang=0)
    return "\n".join(page.lines) + "\n"


# -- crop by crop


def _care(page: Page, care: CropCare, plan: Plan, window: Window) -> None:
    names = {bed.id: bed.name for bed in plan.beds}
    beds = as_list(dict.fromkeys(names[p.bed] for p in care.plantings))
    page.say(f"{capital(care.crop.plural)} in {beds}, {_stands(care, window)}", hang=2)
    told = [one for one in care.expected if one.risk >= MIDDLING and not one.any_soil]
    if told:
        page.say(f"Expect {'; '.join(_grouped(told))}.", indent=2)
    elif any(one.any_soil for one in care.expected):
        page.say("Expect only what lives in any soil (see below).", indent=2)
    else:
        page.say(f"Low risk: {as_list(one.pest.name for one in care.expected)}.", indent=2)
    if care.guard is not None:
        named = {one.pest.id for one in told}
        page.say(f"Cover: {' '.join(_guard(care.guard, named, names, window))}", indent=2)


def _quiet(care: CropCare) -> bool:
    """Whether only pests of low risk or of any soil are to be expected, and no cover lies."""
    return care.guard is None and all(one.risk < MIDDLING or one.any_soil for one in care.expected)


def _all_quiet(page: Page, cares: Sequence[CropCare]) -> None:
    """The crops that need no word of their own, in one paragraph."""
    below = [care.crop.plural for care in cares if any(one.risk >= MIDDLING for one in care.expected)]
    told = [
        f"{care.crop.plural} ({as_list(one.pest.name for one in care.expected)})"
        for care in cares
        if care.expected and care.crop.plural not in below
    ]
    free = [care.crop.plural for care in cares if not care.expected]
    if below:
        page.say(f"{as_list(below)}.", "Only what lives in any soil (see below): ", how="head")
    if told:
        page.say(f"{'; '.join(told)}.", "Low risk only: ", how="head")
    if free:
        page.say(f"{as_list(free)}.", "No pest of our list feeds on ", how="head")


def _stands(care: CropCare, window: Window) -> str:
    """From when to when; a perennial is told by the day it went in."""
    first, last = min(p.start for p in care.plantings), max(p.end for p in care.plantings)
    if last.year >= LAST_YEAR:
        return f"{'since' if first < window.start else 'from'} {as_date(first)}"
    return f"{_short(first) if first.year == last.year else as_date(first)} to {as_date(last)}"


def _short(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]}"


def _grouped(expected: Sequence[Expected]) -> Iterator[str]:
    """Pests with the same risk and reasons in one phrase."""
    groups: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for one in expected:
        groups.setdefault((one.level, one.reasons), []).append(one.pest.name)
    for (level, reasons), names in groups.items():
        why = "; ".join((*_LEVELS[level], *reasons))
        yield f"{as_list(names)} ({why if len(names) == 1 else why.replace('goes for', 'go for')})"


def _guard(guard: Guard, told: set[str], names: dict[str, str], window: Window) -> Iterator[str]:
    """The cover in sentences; ``told`` are the pests that the lines above have named."""
    if guard.planned:
        kinds = as_list(dict.fromkeys(cover.kind for cover in guard.planned))
        since = as_date(min(cover.start for cover in guard.planned))
        kept = _few([pest.name for pest in guard.kept_out])
        does = f"with its edges shut it keeps out {kept}" if kept else "it keeps out none of the likely pests"
        yield f"{kinds} planned from {since}; {does}."
    if guard.pests:
        when = f"from {_short(guard.on)}, when it goes in" if guard.on else "from the day each goes in"
        all_ = {pest.id for pest in guard.pests} == told
        whom = ("all of these" if len(told) > 1 else "it") if all_ else as_list(pest.name for pest in guard.pests)
        net = "Net" if guard.planned else "net"
        yield f"{net} of {guard.mesh_mm:g} mm or finer {when}, against {whom}."
    if guard.open_from is not None:
        about = "from" if guard.flower_known else "from about"
        yield f"Open it by day {about} {as_date(max(guard.open_from, window.start))}: the flowers need insects."
    if guard.trap:
        beds, pests = as_list(names[bed] for bed in guard.trap_beds), as_list(pest.name for pest in guard.trap)
        yield f"But in {beds} {pests} may come up beneath it: grow it where no host stood last season, then cover it."


def _few(names: list[str]) -> str:
    """The first names of a list, and how many more there are."""
    more = len(names) - _FEW
    return as_list([*names[:_FEW], f"{more} more"] if more > 1 else names)


# -- pests


def _pests(page: Page, found: Protection, knowledge: Knowledge, *, south: bool) -> None:
    """Each pest of some risk once: when it comes, where to look, at which number to act."""
    crops: dict[str, dict[str, str]] = {}
    told: dict[str, Expected] = {}
    for care in found.crops:
        for one in care.expected:
            if one.risk >= MIDDLING:
                told.setdefault(one.pest.id, one)
                crops.setdefault(one.pest.id, {})[care.crop.id] = care.crop.plural
    numbers = {t.id: t for care in found.crops for t in care.thresholds}
    if told:
        page.head("When they come, what is at risk, when to act")
    if told and south:
        page.say("Months are those of the north, where they were recorded: count half a year on.", hang=0)
    by_name = sorted(told.items(), key=lambda item: item[1].pest.name.casefold())
    for key, one in by_name:
        parts = [f"{one.pest.season.partition(';')[0]}. At risk: {one.pest.susceptible_stage}."]
        parts += [_threshold(t, knowledge) for t in numbers.values() if key in t.pests]
        if not one.any_soil:
            page.say(" ".join(parts), f"{capital(one.pest.name)}: ", hang=2, how="head")
    below = [
        f"{one.pest.name} on {_few(list(crops[key].values()))} ({one.pest.season.partition(';')[0]})"
        for key, one in by_name
        if one.any_soil
    ]
    if below:
        page.say(f"{'; '.join(below)}. Look at seedlings and at what touches the ground.", "In any soil: ", how="head")


def _threshold(threshold: Threshold, knowledge: Knowledge) -> str:
    stage = f" ({threshold.stage})" if threshold.stage else ""
    views = "; or ".join(f"{view.at} ({_by(view.sources, knowledge)})" for view in threshold.views)
    return f"Act in {GROWERS[threshold.grower]}{stage}: {views}."


def _by(sources: Sequence[str], knowledge: Knowledge) -> str:
    """Who has published it; where nobody has, the honest word for what it is."""
    read = publishers((key for key in sources if key not in HONEST), knowledge)
    return "; ".join(read or publishers(sources, knowledge))


# -- measures


def _measure(page: Page, control: Control, pests: Sequence[Pest]) -> None:
    """A measure in one short paragraph; all that is known of it stands in ``breakcrop pests`` and the JSON."""
    text = f"against {_few([pest.name for pest in pests])}. {capital(control.when)}"
    text += f"; {control.how}." if control.kind in _HOW else "."
    if control.reapply:
        text += f" Again: {control.reapply.partition(';')[0]}."
    if control.kind == "exclude":
        text += "".join(f" {capital(condition)}." for condition in control.conditions)
    if control.weak_text and control.step == "monitor":
        text += f" Not for {control.weak_text}."
    for who in _OTHERS if not control.cautions else ():
        if who in control.mind:
            text += f" Mind {who}: {control.mind[who]}."
    page.say(f"{text}{_PROOF[control.grade]}", f"{capital(control.name)}, ", 2, how="head")


def _cautions(found: Protection, knowledge: Knowledge) -> Iterator[str]:
    """Each caution once, with what it is about where its text does not say so; by whose word comes first."""
    about: dict[str, list[str]] = {}
    for measure in found.ladder:
        for key in measure.control.cautions:
            about.setdefault(key, []).append(measure.control.name)
    for care in found.crops:
        for one in care.expected:
            for key in one.pest.cautions if one.risk >= MIDDLING else ():
                about.setdefault(key, []).append(one.pest.name)
    by_authority: dict[str, list[str]] = {}
    for key in found.cautions:
        caution, names = knowledge.cautions[key], list(dict.fromkeys(about.get(key, ())))
        head = f"{capital(_few(names))}: " if key in _OF_WHAT else ""
        text = caution.text.rstrip(".")
        told = f"{head}{text[:1].lower() + text[1:] if head else text}."
        by_authority.setdefault(caution.defer_to, []).append(told)
    for authority, told_by in by_authority.items():
        yield f"{' '.join(told_by)} Defer to: {authority}."


def _wait(wait: Wait, plan: Plan) -> str:
    names = {bed.id: bed.name for bed in plan.beds}
    crops = as_list(dict.fromkeys(p.crop.plural for p in wait.plantings))
    treatment = wait.treatment
    done = f"{capital(treatment.active)} on the {crops} in {names[treatment.bed]} on {as_date(treatment.date)}"
    if wait.until is None:
        return f"{done}: the label's days before harvest are not on record. Read your label and do not pick before."
    days = treatment.harvest_interval
    return f"{done}: do not pick before {as_date(wait.until)}, by the label's {days} {'day' if days == 1 else 'days'}."
