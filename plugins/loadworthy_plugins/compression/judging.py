"""Everything that this check concludes from a case, in one order that depends on nothing but the case."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loadworthy_plugins.compression.coverage import coverage, gaps, margin
from loadworthy_plugins.compression.rules_balance import balance_rules
from loadworthy_plugins.compression.rules_crankcase import blowby_is_high, crankcase_rules
from loadworthy_plugins.compression.rules_escape import escape_rules
from loadworthy_plugins.compression.rules_even import even_rules
from loadworthy_plugins.compression.rules_inspection import inspection_rules, rod_rules
from loadworthy_plugins.compression.rules_leak import leak_rules
from loadworthy_plugins.compression.rules_load import high_ceilings, history_rules, load_rules
from loadworthy_plugins.compression.rules_pattern import pattern_rules
from loadworthy_plugins.compression.rules_set import set_rules
from loadworthy_plugins.compression.rules_trace import trace_rules
from loadworthy_plugins.compression.rules_wet import RINGS_FROM, recoveries, wet_rules
from loadworthy_plugins.compression.session import open_session

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loadworthy.sdk import Case, Demand, Limits, Result
    from loadworthy_plugins.compression.session import Session


def judge_case(case: Case, demand: Demand | None, limits: Limits) -> tuple[Result, ...]:
    """Judge every sheet of this check's sections and answer its rows of required evidence."""
    session = open_session(case, limits)
    if not session.engine.covered:
        return tuple(coverage(session))
    results = list(_findings(session, demand))
    results += list(margin(results, session))
    results += gaps(session)
    results += coverage(session)
    return tuple(results)


def _findings(session: Session, demand: Demand | None) -> Iterator[Result]:
    case, engine, limits = session.case, session.engine, session.limits
    for dry in session.dry:
        leak = session.leak_of(dry)
        yield from balance_rules(dry, leak, session)
        yield from pattern_rules(dry, leak, session)
        recovers = any(r.recovered >= RINGS_FROM and r.conclusive for r in recoveries(dry).values())
        high = blowby_is_high(case, engine, limits, dry.sheet)
        yield from even_rules(dry, leak, session, blowby_high=high, oil_recovers=recovers)
        yield from set_rules(dry, leak, session)
        yield from wet_rules(dry, leak)
        if dry is session.dry[-1]:
            yield from high_ceilings(dry, session, demand)
    for sheet in case.of("compression"):
        yield from inspection_rules(sheet, engine, limits)
        yield from rod_rules(sheet, session.dry_of(sheet), limits)
    for leak in session.leaks:
        near = session.dry_of(leak.sheet)
        yield from leak_rules(leak, near, session)
        yield from escape_rules(leak, near, session)
    for sheet in case.of("cranking_trace"):
        yield from trace_rules(sheet, session)
    yield from crankcase_rules(case, engine, limits)
    yield from load_rules(session, demand)
    yield from history_rules(case, engine)
