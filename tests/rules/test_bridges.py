"""The graph of hosts in space and time: what leads where, and that its cut is a smallest one."""

from __future__ import annotations

from itertools import combinations, pairwise

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.graphs.bridges import Host, HostGraph, leads


def host(
    name: str, start: int, end: int, bed: str = "a", after: int = 0, planned: bool = True, target: bool = True
) -> Host:
    return Host(name, bed, start, end, after, 1 if planned else None, target)


def old(name: str, start: int, end: int, bed: str = "a", after: int = 0) -> Host:
    return host(name, start, end, bed, after, planned=False, target=False)


@pytest.mark.parametrize(
    ("earlier", "later", "expected"),
    [
        (old("u", 0, 10), host("v", 10, 20), True),
        (old("u", 0, 10), host("v", 11, 20), False),
        (old("u", 0, 10, after=30), host("v", 40, 50), True),
        (old("u", 0, 10, after=30), host("v", 41, 50), False),
        (host("v", 5, 20), old("u", 0, 10), False),
    ],
)
def test_a_pest_goes_forward_in_time_until_it_starves(earlier: Host, later: Host, expected: bool) -> None:
    assert leads(earlier, later) is expected


def test_one_planting_between_cuts_many_routes() -> None:
    hosts = [old("kale", 0, 100), host("link", 90, 200), *(host(f"late{n}", 150, 260) for n in range(4))]
    cut = HostGraph(hosts, None).cut(["kale"])
    assert cut.change == ("link",)
    assert cut.reached == ("link", "late0", "late1", "late2", "late3")
    assert ("kale", "link", "late3") in cut.routes


def test_the_past_is_never_cut() -> None:
    hosts = [old("kale", 0, 100), old("swede", 50, 200), host("radish", 190, 220)]
    assert HostGraph(hosts, None).cut(["kale"]).change == ("radish",)


def test_beds_out_of_reach_are_not_reached() -> None:
    hosts = [old("kale", 0, 100, "a"), host("near", 90, 200, "b"), host("far", 90, 200, "c")]
    within = {"a": frozenset("ab"), "b": frozenset("ab"), "c": frozenset("c")}
    assert HostGraph(hosts, within).cut(["kale"]).reached == ("near",)


def test_without_a_source_nothing_is_reached() -> None:
    assert HostGraph([old("kale", 0, 100), host("near", 90, 200)], None).cut([]).reached == ()


@st.composite
def plans(draw: st.DrawFn) -> tuple[list[Host], list[str]]:
    made = []
    for n in range(draw(st.integers(2, 8))):
        start = draw(st.integers(0, 60))
        planned = draw(st.booleans())
        made.append(
            Host(
                f"p{n}",
                draw(st.sampled_from("abc")),
                start,
                start + draw(st.integers(0, 30)),
                draw(st.sampled_from([0, 5, 40])),
                draw(st.integers(1, 4)) if planned else None,
                planned and draw(st.booleans()),
            )
        )
    return made, draw(st.lists(st.sampled_from([h.id for h in made]), min_size=1, max_size=2, unique=True))


WITHIN = {"a": frozenset("ab"), "b": frozenset("abc"), "c": frozenset("bc")}


def reachable(hosts: list[Host], sources: list[str], within: object, gone: frozenset[str]) -> set[str]:
    """Targets that a pest reaches, by a plain search over all pairs."""
    graph = nx.DiGraph()
    graph.add_nodes_from(h.id for h in hosts if h.id not in gone)
    for u in hosts:
        for v in hosts:
            near = within is None or v.bed in within[u.bed]  # type: ignore[index]
            if u is not v and near and leads(u, v) and not {u.id, v.id} & gone:
                graph.add_edge(u.id, v.id)
    found = {name for s in sources if s in graph for name in nx.descendants(graph, s)}
    return {h.id for h in hosts if h.target and h.cost is not None and h.id in found and h.id not in sources}


@given(plans(), st.sampled_from([None, WITHIN]))
@settings(max_examples=300, deadline=None)
def test_the_cut_disconnects_and_no_smaller_one_does(drawn: tuple[list[Host], list[str]], within: object) -> None:
    hosts, sources = drawn
    cut = HostGraph(hosts, within).cut(sources)  # type: ignore[arg-type]
    assert set(cut.reached) == reachable(hosts, sources, within, frozenset())
    assert not reachable(hosts, sources, within, frozenset(cut.change))
    cuttable = [h.id for h in hosts if h.cost is not None and h.id not in sources]
    for size in range(len(cut.change)):
        for smaller in combinations(cuttable, size):
            assert reachable(hosts, sources, within, frozenset(smaller))


@given(plans(), st.sampled_from([None, WITHIN]), st.data())
@settings(max_examples=150, deadline=None)
def test_taking_a_planting_out_never_reaches_more(
    drawn: tuple[list[Host], list[str]], within: object, data: st.DataObject
) -> None:
    hosts, sources = drawn
    before = set(HostGraph(hosts, within).cut(sources).reached)  # type: ignore[arg-type]
    left_out = data.draw(st.sampled_from([h.id for h in hosts]))
    after = set(HostGraph([h for h in hosts if h.id != left_out], within).cut(sources).reached)  # type: ignore[arg-type]
    assert after <= before


def test_a_living_way_is_told_although_a_shorter_one_leads_through_bare_ground() -> None:
    hosts = [old("kale", 0, 100, after=200), host("link", 90, 190), host("late", 190, 260)]
    cut = HostGraph(hosts, None).cut(["kale"], bare=5)
    assert cut.routes == (("kale", "link"), ("kale", "link", "late"))
    without = HostGraph([h for h in hosts if h.id != "link"], None).cut(["kale"], bare=5)
    assert without.reached == ()


@given(plans(), st.sampled_from([None, WITHIN]), st.sampled_from([0, 5, 20]))
@settings(max_examples=300, deadline=None)
def test_living_routes_against_a_search_over_all_steps(
    drawn: tuple[list[Host], list[str]], within: object, bare: int
) -> None:
    hosts, sources = drawn
    known = {h.id: h for h in hosts}
    graph: nx.DiGraph = nx.DiGraph()
    for u in hosts:
        for v in hosts:
            near = within is None or v.bed in within[u.bed]  # type: ignore[index]
            if u is not v and near and leads(u, v):
                alive = v.start <= u.end + bare
                graph.add_edge((u.id, False), (v.id, alive))
                graph.add_edge((u.id, True), (v.id, True))
    found = {n for s in sources if (s, False) in graph for n, alive in nx.descendants(graph, (s, False)) if alive}
    expected = {n for n in found - set(sources) if known[n].target and known[n].cost is not None}
    cut = HostGraph(hosts, within).cut(sources, bare)  # type: ignore[arg-type]
    assert set(cut.reached) == expected
    for name, route in zip(cut.reached, cut.routes, strict=True):
        steps = [(known[a], known[b]) for a, b in pairwise(route)]
        assert route[0] in sources
        assert route[-1] == name
        assert all(leads(a, b) for a, b in steps)
        assert any(b.start <= a.end + bare for a, b in steps)
