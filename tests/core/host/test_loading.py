from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from loadworthy.findings import Advice
from loadworthy.hookspecs import hookimpl
from loadworthy.host import Host, PluginFailure, PluginInfo

GOOD = """
from loadworthy.sdk import Advice, hookimpl

@hookimpl
def examine(case):
    return [Advice("from a file")]
"""


def problems(host: Host) -> list[tuple[str, str, str]]:
    return [(failure.plugin, failure.hook, failure.problem) for failure in host.failures]


def write(folder: Path, name: str, text: str = GOOD) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_no_plugins() -> None:
    host = Host(entry_points=False)
    assert (host.plugins, host.failures) == ((), ())


def test_order_is_by_id(plugin: Any, examine: Any, tmp_path: Path) -> None:
    given = {id: plugin(examine=lambda: [Advice("given")]) for id in ("zeta", "beta")}
    host = Host(given, files=[write(tmp_path, "omega.py"), write(tmp_path, "alpha.py")], entry_points=False)
    assert [one.id for one in host.plugins] == ["alpha", "beta", "omega", "zeta"]
    assert [id for id, _ in examine(host).values] == ["alpha", "beta", "omega", "zeta"]
    again = Host(
        dict(reversed(given.items())), files=[tmp_path / "alpha.py", tmp_path / "omega.py"], entry_points=False
    )
    assert repr(examine(again)) == repr(examine(host))


def test_tryfirst_changes_nothing(examine: Any) -> None:
    late = SimpleNamespace(examine=hookimpl(lambda: [Advice("z")], tryfirst=True))
    soon = SimpleNamespace(examine=hookimpl(lambda: [Advice("a")], trylast=True))
    assert [id for id, _ in examine(Host({"z": late, "a": soon}, entry_points=False)).values] == ["a", "z"]


def test_information(tmp_path: Path, plugin: Any) -> None:
    path = write(tmp_path, "shop.py")
    both = plugin(examine=lambda: None, declare=lambda: None)
    host = Host({"both": both}, files=[str(path)], entry_points=False)
    assert host.plugins == (
        PluginInfo("both", "", "", ("declare", "examine"), "given"),
        PluginInfo("shop", "", "", ("examine",), str(path)),
    )


def test_file_defines_classes_of_its_own(tmp_path: Path, examine: Any) -> None:
    text = (
        "from __future__ import annotations\nfrom dataclasses import dataclass\nfrom typing import ClassVar\n"
        "@dataclass\nclass Pair:\n    count: ClassVar[int] = 2\n    a: int = 1\n" + GOOD.replace("__future__", "")
    )
    host = Host(files=[write(tmp_path, "shop.py", text)], entry_points=False)
    assert host.failures == ()
    assert examine(host).values == (("shop", Advice("from a file")),)


def test_nothing_beside_a_file_is_read_or_written(tmp_path: Path) -> None:
    (tmp_path / "__pycache__").mkdir()
    for tag in (sys.implementation.cache_tag or "none", "none"):
        (tmp_path / "__pycache__" / f"shop.{tag}.pyc").write_bytes(b"not to be read")
    before = sorted(path.name for path in tmp_path.rglob("*"))
    host = Host(files=[write(tmp_path, "shop.py")], entry_points=False)
    assert host.failures == ()
    assert sorted(path.name for path in tmp_path.rglob("*")) == sorted([*before, "shop.py"])


def test_same_name_in_two_folders(tmp_path: Path) -> None:
    for folder in ("a", "b"):
        (tmp_path / folder).mkdir()
    files = [write(tmp_path / "a", "shop.py"), write(tmp_path / "b", "shop.py")]
    host = Host(files=files, entry_points=False)
    assert len(host.plugins) == 1
    assert problems(host) == [("shop", "load", f"is the id of two plugins: {files[0]} is used, {files[1]} is not")]


def test_given_goes_before_file(tmp_path: Path, plugin: Any, examine: Any) -> None:
    host = Host(
        {"shop": plugin(examine=lambda: [Advice("given")])}, files=[write(tmp_path, "shop.py")], entry_points=False
    )
    assert examine(host).values == (("shop", Advice("given")),)
    assert "is the id of two plugins: given is used" in problems(host)[0][2]


BROKEN = [
    (
        "import",
        "import a_module_that_nobody_has\n",
        "raised ModuleNotFoundError: No module named 'a_module_that_nobody_has'",
    ),
    ("syntax", "def examine(:\n", "raised SyntaxError"),
    ("raises", "raise ValueError('not today')\n", "raised ValueError: not today"),
    ("exits", "raise SystemExit(1)\n", "raised SystemExit: 1"),
    ("no hook", "x = 1\n", "has no function marked with hookimpl, so it is no plugin"),
    ("binary", "\0", "raised "),
]


@pytest.mark.parametrize(("name", "text", "words"), BROKEN, ids=[case[0] for case in BROKEN])
def test_a_file_that_cannot_be_loaded(name: str, text: str, words: str, tmp_path: Path, examine: Any) -> None:
    files = [write(tmp_path, "broken.py", text), write(tmp_path, "good.py")]
    modules = set(sys.modules)
    host = Host(files=files, entry_points=False)
    assert [failure[:2] for failure in problems(host)] == [("broken", "load")]
    assert words in problems(host)[0][2]
    assert [one.id for one in host.plugins] == ["good"]
    assert examine(host).values == (("good", Advice("from a file")),)
    if name != "no hook":
        assert not any("broken" in module for module in set(sys.modules) - modules)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    host = Host(files=[tmp_path / "gone.py"], entry_points=False)
    assert problems(host)[0][:2] == ("gone", "load")
    assert "raised FileNotFoundError" in problems(host)[0][2]


@pytest.mark.parametrize("id", ["", "two words", "with.dot", "a@b", "1st", "ümlaut", 5])
def test_ids_that_cannot_be_used(id: Any, plugin: Any) -> None:
    host = Host({id: plugin(examine=lambda: None)}, entry_points=False)
    assert host.plugins == ()
    assert [failure.hook for failure in host.failures] == ["load"]
    assert "is no usable id" in host.failures[0].problem


@pytest.mark.parametrize("nothing", [None, "loadworthy_plugins.any", b"x"])
def test_what_is_no_plugin(nothing: Any) -> None:
    host = Host({"a": nothing}, entry_points=False)
    assert host.plugins == ()
    assert "given in place of a module or object" in host.failures[0].problem


def test_one_object_under_two_ids(plugin: Any) -> None:
    one = plugin(examine=lambda: None)
    host = Host({"a": one, "b": one}, entry_points=False)
    assert [info.id for info in host.plugins] == ["a"]
    assert problems(host) == [("b", "load", "raised ValueError: this is the plugin a under another id")]


def wrapper(case: Any) -> Any:
    yield


REFUSED = [
    ("examine", hookimpl(wrapper, wrapper=True), "examine is a wrapper of other plugins' calls, which"),
    ("examine", hookimpl(wrapper, hookwrapper=True), "examine is a wrapper of other plugins' calls, which"),
    (
        "examin",
        hookimpl(lambda: None),
        "examin is no hook of loadworthy; hooks are declare, demand, distort, examine, ",
    ),
    ("judge", hookimpl(lambda: None, specname="judgement"), "judge is no hook of loadworthy; hooks are"),
    ("examine", lambda case: None, "examine has the name of a hook but is not marked with hookimpl"),
    (
        "examine",
        hookimpl(lambda case, sheets, mood: None),
        "examine asks for sheets, mood; the hook offers, by position, case, demand, limits",
    ),
    ("examine", hookimpl(lambda case, *, limits: None), "examine asks for limits; the hook offers, by position, case"),
    ("declare", hookimpl(lambda case: None), "declare asks for case; the hook offers, by position, nothing"),
]


@pytest.mark.parametrize(("name", "function", "words"), REFUSED, ids=[f"{case[0]}: {case[2][:30]}" for case in REFUSED])
def test_a_function_that_cannot_be_called_is_refused(name: str, function: Any, words: str) -> None:
    odd = SimpleNamespace(**{"subjects": hookimpl(lambda case: {"wheel": ["wheel 1"]}), name: function})
    host = Host({"odd": odd}, entry_points=False)
    assert [(failure.plugin, failure.hook) for failure in host.failures] == [("odd", name)]
    assert host.failures[0].problem.startswith(words)
    # The rest of the plugin is used.
    assert [info.hooks for info in host.plugins] == [("subjects",)]


def test_optional_hooks_of_another_version_are_ignored() -> None:
    later = SimpleNamespace(
        examine=hookimpl(lambda: None), of_tomorrow=hookimpl(lambda nothing: None, optionalhook=True)
    )
    host = Host({"later": later}, entry_points=False)
    assert host.failures == ()
    assert host.plugins[0].hooks == ("examine",)


def test_a_hook_under_another_name(examine: Any) -> None:
    named = SimpleNamespace(judge=hookimpl(lambda: [Advice("judged")], specname="examine"))
    assert examine(Host({"named": named}, entry_points=False)).values == (("named", Advice("judged")),)


def test_arguments_by_name(examine: Any) -> None:
    def some(limits: Any, case: Any) -> list[Advice]:
        return [Advice(f"{type(limits).__name__} {type(case).__name__}")]

    def default(case: Any, limits: Any = None, mood: str = "good") -> list[Advice]:
        return [Advice(f"{type(limits).__name__} {mood}")]

    class Methods:
        @hookimpl
        def examine(self, demand: Any) -> list[Advice]:
            return [Advice(f"demand {demand}")]

        @property
        def trap(self) -> None:
            raise ValueError("properties are not looked at")

    host = Host(
        {
            "a": SimpleNamespace(examine=hookimpl(some)),
            "b": SimpleNamespace(examine=hookimpl(default)),
            "c": Methods(),
        },
        entry_points=False,
    )
    assert host.failures == ()
    assert [one.text for _, one in examine(host).values] == ["Limits Case", "Limits good", "demand None"]


def test_unmarked_helpers_are_no_failure() -> None:
    one = SimpleNamespace(examine=hookimpl(lambda: None), helper=lambda x: x, review="a text")
    assert Host({"one": one}, entry_points=False).failures == ()


def test_failures_are_plain_values() -> None:
    failure = PluginFailure("a", "examine", "raised ValueError")
    assert str(failure) == "a (examine): raised ValueError"
    assert sorted([failure, PluginFailure("a", "declare", "x")])[0].hook == "declare"
