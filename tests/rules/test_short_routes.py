"""Routes stay short and flows unsought where neither is needed: what keeps large sites cheap and readable."""

from __future__ import annotations

from unittest.mock import patch

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_bridges import WITHIN, host, old, plans

from rules.graphs.bridges import Host, HostGraph

#: Forty beds set on one day while the old kale stands, and forty more in the year after.
ROW = [host(f"b{n:02}", 90, 200, after=200) for n in range(40)] + [host(f"c{n:02}", 395, 500) for n in range(40)]


def test_beds_set_on_one_day_are_no_row_of_steps() -> None:
    # The short way leads through bare ground, so the living one is sought.
    hosts = [old("kale", 0, 30, after=400), old("swede", 20, 100), *ROW]
    cut = HostGraph(hosts, None).cut(["kale"], bare=5)
    assert len(cut.routes) == 80
    assert max(map(len, cut.routes)) == 5  # kale, swede, a bed of each year, and the one that is reached


@pytest.mark.parametrize(
    ("between", "forced"),
    [
        (old("swede", 80, 300), True),  # what stands already cannot be cut, so each bed has to be changed
        (host("swede", 80, 300, target=False), False),  # this one may be the cheaper to change
    ],
)
def test_a_flow_is_sought_only_where_there_is_a_choice(between: Host, forced: bool) -> None:
    hosts = [old("kale", 0, 100), between, *(host(f"late{n}", 150, 260) for n in range(4))]
    with patch.object(nx, "minimum_cut", wraps=nx.minimum_cut) as sought:
        change = HostGraph(hosts, None).cut(["kale"]).change
    assert sought.called is not forced
    assert change == (tuple(f"late{n}" for n in range(4)) if forced else ("swede",))


@given(plans(), st.sampled_from([None, WITHIN]), st.sampled_from([None, 0, 5, 20]))
@settings(max_examples=200, deadline=None)
def test_what_is_reached_is_the_same_with_a_cut_and_without(
    drawn: tuple[list[Host], list[str]], within: dict[str, frozenset[str]] | None, bare: int | None
) -> None:
    hosts, sources = drawn
    graph = HostGraph(hosts, within)
    cut = graph.cut(sources, bare)
    assert graph.reached(sources, bare) == cut.reached == tuple(route[-1] for route in cut.routes)
