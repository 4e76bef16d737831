"""The host: loads plugins, asks them in order of id, and keeps what each does wrong to itself.

One host may be shared by any number of threads: nothing in it changes after it was made. There is no global state.
Plugins receive the same frozen objects, one after the other; what Python cannot forbid (``object.__setattr__`` on a
frozen object) is not guarded against.
"""

from __future__ import annotations

from itertools import islice
from time import perf_counter
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from loadworthy.declarations import Requirement
from loadworthy.errors import DeclarationError
from loadworthy.findings import Demand, Distortion
from loadworthy.host.isolate import Watchdog, describe
from loadworthy.host.loading import load
from loadworthy.host.prepared import ready
from loadworthy.host.results import HookRun, PluginFailure
from loadworthy.host.shapes import show, word

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from os import PathLike

    from loadworthy.case import Case
    from loadworthy.declarations import Catalogue
    from loadworthy.findings import Result
    from loadworthy.host.isolate import Watch
    from loadworthy.host.loading import Implementation
    from loadworthy.host.prepared import Prepared
    from loadworthy.host.results import PluginInfo
    from loadworthy.limits import Limits

    #: (plugin, found, good, refused): puts what passes into good, and sentences on the rest into refused.
    _Check = Callable[[str, list[Any], list[Any], list[str]], None]

#: Results that one call may give; a generator that goes on is stopped there.
MOST_RESULTS = 20_000
#: Refused results that are named one by one.
MOST_NAMED = 20


class Host:
    """The plugins in use.

    ``plugins`` maps ids to modules or objects, ``files`` are single Python files (id: the name without ending), and
    unless ``entry_points`` is false, everything installed in the group ``loadworthy`` is used too. ``budget`` is the
    time in s that one call of one plugin may take. ``timed`` measures each plugin's own time. Raises ValueError for a
    budget that is not positive; plugins that cannot be loaded are listed in ``failures``.
    """

    def __init__(
        self,
        plugins: Mapping[str, Any] | None = None,
        *,
        entry_points: bool = True,
        files: Iterable[str | PathLike[str]] = (),
        budget: float = 10.0,
        timed: bool = False,
    ) -> None:
        if not 0.0 < budget < float("inf"):
            raise ValueError(f"the time budget of plugins must be positive, not {budget}")
        self._budget = float(budget)
        self._timed = timed
        self._watchdog = Watchdog(self._budget)
        with self._watchdog.watch() as watch:
            loaded = load(plugins or {}, files, entry_points, watch, self._budget)
        self._hooks = loaded.hooks
        self._plugins = loaded.plugins
        prepared = ready(self._plugins)
        declared = self._run("declare", {}, _unchecked, without=prepared.plugins if prepared else frozenset())
        self._failures = _by_plugin([*loaded.failures, *declared.failures])
        loaded_ids = {plugin.id for plugin in loaded.plugins}
        absent = {f.plugin for f in loaded.failures if f.plugin not in loaded_ids}
        absent |= {f.plugin for f in (*loaded.failures, *declared.failures) if f.hook == "declare"}
        self._catalogue: Catalogue | DeclarationError = _collected(declared.values, tuple(sorted(absent)), prepared)

    @property
    def plugins(self) -> tuple[PluginInfo, ...]:
        """The loaded plugins in order of id."""
        return self._plugins

    @property
    def failures(self) -> tuple[PluginFailure, ...]:
        """What went wrong while plugins were loaded and declared what they bring; each bars the outcome ``clear``."""
        return self._failures

    @property
    def catalogue(self) -> Catalogue:
        """All declarations, checked. Raises DeclarationError with every contradiction at once."""
        found = self._catalogue
        if isinstance(found, DeclarationError):
            # A new one each time: threads that share the host must not share a traceback.
            raise DeclarationError(found.message, found.faults)
        return found

    def requirements(self) -> HookRun:
        """Return the rows of required evidence. Of two rows of one id that differ the first plugin's counts."""
        run = self._results("requirements", {}, (Requirement,))
        values: list[tuple[str, Any]] = []
        failures = list(run.failures)
        first: dict[str, tuple[str, Requirement]] = {}
        for plugin, row in run.values:
            by, same = first.setdefault(row.id, (plugin, row))
            if same is row:
                values.append((plugin, row))
            elif same != row:
                problem = f"the row {row.id} is given by {by} with other content, which counts"
                failures.append(PluginFailure(plugin, "requirements", problem))
        return run._replace(values=tuple(values), failures=_by_plugin(failures))

    def subjects(self, case: Case) -> HookRun:
        """Return the members of each located kind. Of two lists of one kind that differ the first plugin's counts."""
        run = self._run("subjects", {"case": case}, _members, many=False)
        failures = list(run.failures)
        first: dict[str, tuple[str, tuple[str, ...]]] = {}
        values = []
        for plugin, members in run.values:
            kept = {}
            for kind, ids in members.items():
                by, same = first.setdefault(kind, (plugin, ids))
                if same == ids:
                    kept[kind] = ids
                else:
                    problem = f"the members of {kind} are listed otherwise by {by}, whose list counts"
                    failures.append(PluginFailure(plugin, "subjects", problem))
            values.append((plugin, MappingProxyType(kept)))
        return run._replace(values=tuple(values), failures=_by_plugin(failures))

    def distort(self, case: Case) -> HookRun:
        """Return which readings a declared part falsifies."""
        return self._results("distort", {"case": case}, (Distortion,))

    def demand(self, case: Case, preferred: str | None = None) -> HookRun:
        """Ask for the table of demand: ``preferred`` first, then the others in order of id, until one supplies it.

        ``values`` holds the supplier and its table, ``unused`` the other plugins that answer this hook.
        """
        from loadworthy.host.check_demand import demand_fault

        suppliers = self._hooks.get("demand", ())
        order = sorted(suppliers, key=lambda one: (one.plugin != preferred, one.plugin))
        failures: list[PluginFailure] = []
        if preferred is not None and preferred not in {one.plugin for one in suppliers}:
            failures.append(
                PluginFailure(preferred, "demand", "is to supply demand but no loaded plugin of this name does")
            )
        values: list[tuple[str, Any]] = []
        seconds: dict[str, float] = {}
        for one in order:
            run = self._run("demand", {"case": case}, _single(demand_fault), many=False, only=one)
            failures += run.failures
            seconds |= run.seconds
            if run.values:
                values += run.values
                break
        return HookRun(
            tuple(values),
            _by_plugin(failures),
            MappingProxyType(seconds),
            values[0][1] if values else None,
            tuple(one.plugin for one in suppliers if not values or one.plugin != values[0][0]),
        )

    def extend_demand(self, case: Case, demand: Demand) -> HookRun:
        """Let plugins add quantities to the table; each is given the supplier's own, so that their order is nothing.

        ``demand`` of the result is the table with all that was added.
        """
        from loadworthy.host.check_demand import extension_fault, merged

        def check(after: Any) -> str:
            return extension_fault(demand, after)

        run = self._run("extend_demand", {"case": case, "demand": demand}, _single(check), many=False)
        table, problems = merged(demand, run.values)
        more = (PluginFailure(plugin, "extend_demand", problem) for plugin, problem in problems)
        return run._replace(demand=table, failures=_by_plugin([*run.failures, *more]))

    def examine(self, case: Case, demand: Demand | None, limits: Limits) -> HookRun:
        """Return every result of every plugin on the case."""
        from loadworthy.host.checks import RESULTS

        return self._results("examine", {"case": case, "demand": demand, "limits": limits}, RESULTS)

    def review(self, case: Case, results: Sequence[Result]) -> HookRun:
        """Return what plugins add in view of all ``results`` of ``examine``, in the order in which that gave them."""
        from loadworthy.host.checks import RESULTS

        frozen = tuple(results)
        return self._results("review", {"case": case, "results": frozen}, RESULTS, frozen)

    def _results(
        self,
        hook: str,
        given: Mapping[str, Any],
        allowed: Iterable[type],
        known: Sequence[Any] = (),
    ) -> HookRun:
        """Run a hook that gives many results of a few classes. ``known`` are results that are there already."""
        if not self._hooks.get(hook):
            return HookRun()
        from loadworthy.host.checks import Inspector, finding_keys, without_twins

        catalogue = self.catalogue
        taken = finding_keys(known)

        def check(plugin: str, raw: list[Any], good: list[Any], refused: list[str]) -> None:
            sound: list[Any] = []
            Inspector(plugin, allowed, catalogue).sift(raw, sound, refused)
            good += without_twins(sound, refused, taken)

        return self._run(hook, given, check)

    def _run(
        self,
        hook: str,
        given: Mapping[str, Any],
        check: _Check,
        *,
        many: bool = True,
        only: Implementation | None = None,
        without: frozenset[str] = frozenset(),
    ) -> HookRun:
        """Call the implementations of a hook, all, one or all but some plugins', and keep what passes the check."""
        values: list[tuple[str, Any]] = []
        failures: list[PluginFailure] = []
        seconds: dict[str, float] = {}
        with self._watchdog.watch() as watch:
            for one in self._hooks.get(hook, ()) if only is None else (only,):
                if one.plugin in without:
                    continue
                found: list[Any] = []
                arguments = [given[name] for name in one.arguments]
                start = perf_counter() if self._timed else 0.0
                _, error = watch.call(_ask, one.function, arguments, found, many)
                if self._timed:
                    seconds[one.plugin] = perf_counter() - start
                if error is not None:
                    failures.append(self._failure(one.plugin, hook, error, watch))
                refused: list[str] = []
                if found:
                    good: list[Any] = []
                    # What was returned may run code of the plugin when it is looked at, so that is watched too.
                    _, error = watch.call(check, one.plugin, found, good, refused)
                    if error is not None:
                        failures.append(self._failure(one.plugin, hook, error, watch))
                    values += [(one.plugin, value) for value in good]
                failures += [PluginFailure(one.plugin, hook, problem) for problem in _shortened(refused)]
        return HookRun(tuple(values), tuple(failures), MappingProxyType(seconds))

    def _failure(self, plugin: str, hook: str, error: BaseException, watch: Watch) -> PluginFailure:
        if isinstance(error, _ResultsError):
            return PluginFailure(plugin, hook, str(error))
        return PluginFailure(plugin, hook, *describe(error, watch, self._budget))


class _ResultsError(Exception):
    """What a hook returned is not what it should return."""


def _ask(function: Callable[..., Any], arguments: Sequence[Any], found: list[Any], many: bool) -> None:
    """Call a hook and put what it gives into ``found``: what came before an exception counts too."""
    value = function(*arguments)
    if value is None:
        return
    if not many:
        found.append(value)
        return
    if isinstance(value, (str, bytes)) or not hasattr(value.__class__, "__iter__"):
        raise _ResultsError(f"returned {show(value)}; due is a list of results, or a generator of them")
    found.extend(islice(value, MOST_RESULTS + 1))
    if len(found) > MOST_RESULTS:
        del found[MOST_RESULTS:]
        raise _ResultsError(f"gave more than {MOST_RESULTS} results; the rest was not looked at")


def _unchecked(_: str, found: list[Any], good: list[Any], __: list[str]) -> None:
    """Take everything: declarations are checked together, as a catalogue."""
    good += found


def _single(fault: Callable[[Any], str]) -> _Check:
    """Return a check of the one value of a hook from a function that says what is wrong with it."""

    def check(_: str, found: list[Any], good: list[Any], refused: list[str]) -> None:
        problem = fault(found[0])
        if problem:
            refused.append(f"the table was refused: {problem}")
        else:
            good.append(found[0])

    return check


def _members(_: str, found: list[Any], good: list[Any], refused: list[str]) -> None:
    """Copy a mapping of kinds to members, which are texts and differ."""
    if not isinstance(found[0], (dict, MappingProxyType)):
        refused.append(f"returned {show(found[0])}; due is a mapping of kinds to lists of subjects")
        return
    members: dict[str, tuple[str, ...]] = {}
    for kind, ids in found[0].items():
        if not word(kind) or not isinstance(ids, (list, tuple)) or not all(map(word, ids)):
            refused.append(f"the members of {show(kind)} are refused; due is a text and a list of texts")
        elif len(set(ids)) != len(ids):
            refused.append(f"the members of {kind} are refused: one stands twice")
        else:
            members[kind] = tuple(ids)
    good.append(MappingProxyType(members))


def _shortened(refused: list[str]) -> list[str]:
    if len(refused) <= MOST_NAMED:
        return refused
    return [*refused[:MOST_NAMED], f"{len(refused) - MOST_NAMED} more results were refused"]


def _by_plugin(failures: list[PluginFailure]) -> tuple[PluginFailure, ...]:
    return tuple(sorted(failures, key=lambda failure: failure.plugin))


def _collected(
    declared: Sequence[tuple[str, Any]], absent: tuple[str, ...], prepared: Prepared | None
) -> Catalogue | DeclarationError:
    from loadworthy.host.catalogue import collect

    try:
        return collect(declared, absent, prepared)
    except DeclarationError as error:
        return DeclarationError(error.message, error.faults)
