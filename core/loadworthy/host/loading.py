"""Loading plugins and reading which hooks each of them answers.

Whatever is wrong with one plugin, or with one of its functions, becomes a `PluginFailure`; the rest is used. A function
that cannot be called as the specification says is left out, so that for instance the sections of its plugin stay known.
"""

from __future__ import annotations

import sys
from functools import partial
from os import fspath
from os.path import abspath, basename, splitext
from types import MappingProxyType, ModuleType
from typing import TYPE_CHECKING, Any

import pluggy

from loadworthy import hookspecs
from loadworthy.host.entry_points import find
from loadworthy.host.isolate import describe
from loadworthy.host.results import PluginFailure, PluginInfo
from loadworthy.record import NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from os import PathLike

    from loadworthy.host.isolate import Watch

PROJECT = "loadworthy"
#: Hook named in failures of loading.
LOAD = "load"


class Implementation(NamedTuple):
    """One plugin's function for one hook, and the names of the arguments that it takes, in order."""

    plugin: str
    function: Callable[..., Any]
    arguments: tuple[str, ...]


class Loaded(NamedTuple):
    """All plugins in order of id, their functions by hook, and what went wrong."""

    plugins: tuple[PluginInfo, ...]
    hooks: Mapping[str, tuple[Implementation, ...]]
    failures: tuple[PluginFailure, ...]


class _Candidate(NamedTuple):
    id: str
    source: str
    load: Callable[[], Any]
    distribution: str = ""
    version: str = ""


class _Registry(pluggy.PluginManager):
    """A plugin manager that leaves out functions which could not be called, and remembers why."""

    def __init__(self) -> None:
        super().__init__(PROJECT)
        self.add_hookspecs(hookspecs)
        #: Argument names of every hook.
        self.offers = {name: frozenset(hook.spec.argnames) for name, hook in vars(self.hook).items() if hook.spec}
        #: Hook and problem of every function that the plugin last registered has and that was refused.
        self.refused: list[tuple[str, str]] = []

    def parse_hookimpl_opts(self, plugin: Any, name: str) -> Any:
        """Return the options of a function that is a hook of ours, None for everything else."""
        if name.startswith("__"):  # half of what a module has, and no hook is called so
            return None
        options: Any = super().parse_hookimpl_opts(plugin, name)
        problem = ""
        if options is None:
            if name in self.offers and callable(getattr(plugin, name)):
                problem = "has the name of a hook but is not marked with hookimpl; write @hookimpl above it"
        elif (options["specname"] or name) not in self.offers:
            if options["optionalhook"]:  # meant for a host that may not know it
                return None
            problem = f"is no hook of {PROJECT}; hooks are {', '.join(sorted(self.offers))}"
        elif options["wrapper"] or options["hookwrapper"]:
            problem = "is a wrapper of other plugins' calls, which this host does not allow"
        else:
            problem = self._unmet(plugin, name, options)
        if problem:
            self.refused.append((name, problem))
            return None
        return options

    def _unmet(self, plugin: Any, name: str, options: Any) -> str:
        """Say which arguments of a function the specification does not offer, or not by position."""
        offered = self.offers[options["specname"] or name]
        function = getattr(plugin, name)
        unmet = [asked for asked in pluggy.HookImpl(plugin, "", function, options).argnames if asked not in offered]
        code = getattr(function, "__code__", None)  # of a method too
        if code is not None:
            by_name = code.co_varnames[code.co_argcount : code.co_argcount + code.co_kwonlyargcount]
            unmet += [asked for asked in by_name if asked not in (function.__kwdefaults__ or ())]
        if not unmet:
            return ""
        return f"asks for {', '.join(unmet)}; the hook offers, by position, {', '.join(sorted(offered)) or 'nothing'}"


def load(
    given: Mapping[str, Any], files: Iterable[str | PathLike[str]], entry_points: bool, watch: Watch, budget: float
) -> Loaded:
    """Load all plugins under a watch and return them in order of id. Raises nothing that comes from a plugin."""
    registry = _Registry()
    plugins: list[PluginInfo] = []
    failures: list[PluginFailure] = []
    for one in _candidates(given, files, entry_points, failures):
        registry.refused.clear()
        plugin, error = watch.call(one.load)
        if error is None:
            _, error = watch.call(_register, registry, plugin, one.id)
        if error is not None:
            failures.append(PluginFailure(one.id, LOAD, *describe(error, watch, budget)))
            continue
        failures += (PluginFailure(one.id, hook, f"{hook} {problem}", one.source) for hook, problem in registry.refused)
        hooks = tuple(sorted(caller.name for caller in registry.get_hookcallers(plugin) or ()))
        if not hooks and not registry.refused:
            problem = "has no function marked with hookimpl, so it is no plugin"
            failures.append(PluginFailure(one.id, LOAD, problem, one.source))
            continue
        plugins.append(PluginInfo(one.id, one.distribution, one.version, hooks, one.source))
    hooks_of = {hook: _implementations(registry, hook, offered) for hook, offered in registry.offers.items()}
    return Loaded(tuple(plugins), MappingProxyType(hooks_of), tuple(failures))


def _candidates(
    given: Mapping[str, Any], files: Iterable[str | PathLike[str]], entry_points: bool, failures: list[PluginFailure]
) -> list[_Candidate]:
    """Return what to load in order of id. Of several with one id the first counts: given, file, installed."""
    found = [_Candidate(id, "given", partial(_itself, plugin)) for id, plugin in given.items()]
    for file in files:
        path = fspath(file)
        found.append(_Candidate(splitext(basename(path))[0], path, partial(_load_file, path)))
    for point in sorted(find(PROJECT)) if entry_points else ():
        found.append(_Candidate(point.name, point.value, point.load, point.distribution, point.version))
    chosen: dict[str, _Candidate] = {}
    for one in found:
        if not _is_id(one.id):
            problem = "is no usable id; take letters, digits, hyphens and underscores, a letter first"
            failures.append(PluginFailure(str(one.id), LOAD, problem, one.source))
        elif one.id in chosen:
            first = chosen[one.id]
            problem = f"is the id of two plugins: {_origin(first)} is used, {_origin(one)} is not"
            failures.append(PluginFailure(one.id, LOAD, problem))
        else:
            chosen[one.id] = one
    return [chosen[id] for id in sorted(chosen)]


def _itself(plugin: Any) -> Any:
    return plugin


def _is_id(id: object) -> bool:
    return isinstance(id, str) and id.isascii() and id.replace("-", "_").isidentifier()


def _origin(one: _Candidate) -> str:
    return f"{one.source} of {one.distribution}" if one.distribution else one.source


def _load_file(path: str) -> Any:
    """Run a single Python file as a module of its own, named after the file's place.

    Only the file itself is read: no compiled copy that may lie beside it is used or written.
    """
    full = abspath(path)
    with open(full, "rb") as file:
        source = file.read()
    name = f"{PROJECT}_file:{full}"
    module = ModuleType(name)
    module.__file__ = full
    # Class decorators look up the module of their class there.
    sys.modules[name] = module
    try:
        exec(compile(source, full, "exec", dont_inherit=True), vars(module))
    except BaseException:
        del sys.modules[name]
        raise
    return module


def _register(registry: _Registry, plugin: Any, id: str) -> None:
    if plugin is None or isinstance(plugin, (str, bytes)):
        raise TypeError(f"{type(plugin).__name__} given in place of a module or object")
    other = registry.get_name(plugin)
    if other is not None:
        raise ValueError(f"this is the plugin {other} under another id")
    try:
        registry.register(plugin, name=id)
    except BaseException:
        if registry.has_plugin(id):
            registry.unregister(name=id)
        raise


def _implementations(registry: _Registry, hook: str, offered: frozenset[str]) -> tuple[Implementation, ...]:
    found = []
    for one in getattr(registry.hook, hook).get_hookimpls():
        names = list(one.argnames)
        # pluggy passes no argument that has a default; a rule that asks for its limits that way shall have them.
        for name in one.kwargnames:
            if name not in offered:
                break
            names.append(name)
        found.append(Implementation(one.plugin_name, one.function, tuple(names)))
    return tuple(sorted(found, key=lambda one: one.plugin))
