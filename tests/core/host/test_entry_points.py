"""The scan gives what importlib.metadata gives, which the standard library defines."""

from __future__ import annotations

import sys
import zipfile
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest

from loadworthy.findings import Advice
from loadworthy.host import Host, PluginInfo
from loadworthy.host import entry_points as scan
from loadworthy.host.entry_points import EntryPoint, find

GROUP = "loadworthy"


def installed(
    folder: Path, name: str, text: str | None, suffix: str = ".dist-info", meta: str | None = "Name: {}\nVersion: 1.2\n"
) -> Path:
    """Write what an installer writes."""
    info = folder / f"{name}{suffix}"
    info.mkdir(parents=True, exist_ok=True)
    if meta is not None:
        file = "METADATA" if suffix == ".dist-info" else "PKG-INFO"
        (info / file).write_text(f"Metadata-Version: 2.1\n{meta.format(name.partition('-')[0])}\nBody: no\n", "utf-8")
    if text is not None:
        (info / "entry_points.txt").write_text(text, "utf-8")
    return info


def standard(group: str = GROUP) -> list[tuple[str, str, str]]:
    return [(one.name, one.value, one.group) for one in metadata.entry_points(group=group)]


def found(group: str = GROUP) -> list[tuple[str, str, str]]:
    return [one[:3] for one in find(group)]


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that is the whole path."""
    folder = tmp_path / "site"
    folder.mkdir()
    monkeypatch.setattr(sys, "path", [str(folder)])
    return folder


@pytest.fixture
def no_fallback(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(group: str) -> Any:
        raise AssertionError("importlib.metadata was asked")

    monkeypatch.setattr(scan, "_ask_importlib", refuse)


@pytest.mark.parametrize("group", ["console_scripts", "pytest11", "loadworthy", "nobody.has.this"])
def test_the_real_environment(group: str) -> None:
    assert sorted(found(group)) == sorted(standard(group))
    if group == "console_scripts":
        assert len(found(group)) > 5


TEXTS = [
    "[loadworthy]\na = pkg.a\nb=pkg.b:thing.inner\n",
    "[other]\nx = y\n\n[loadworthy]\n# comment\n\n  spaced   =   pkg.mod : attr [extra] \n[third]\nz = q\n",
    "[loadworthy.commands]\nc = pkg\n",
    "[loadworthy]\n[empty]\nz = q\n[loadworthy]\nagain = pkg\n",
    "",
    "[loadworthy]\r\nwindows = pkg.mod\r\n",
]


@pytest.mark.parametrize("suffix", [".dist-info", ".egg-info"])
@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.usefixtures("no_fallback")
def test_texts(text: str, suffix: str, path: Path) -> None:
    installed(path, "one-1.2", text, suffix)
    assert found() == standard()
    assert found("loadworthy.commands") == standard("loadworthy.commands")


@pytest.mark.usefixtures("no_fallback")
def test_the_first_of_a_distribution_wins(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    second, third = tmp_path / "second", tmp_path / "third"
    installed(path, "My_Shop.checks-1.0", "[loadworthy]\nshop = first\n")
    installed(second, "my_shop_checks-2.0", "[loadworthy]\nshop = second\nmore = second\n")
    # One without entry points hides a later one too.
    installed(second, "bare-1.0", None)
    installed(third, "Bare-2.0", "[loadworthy]\nbare = third\n")
    installed(third, "other-2.0", "[loadworthy]\nother = third\n")
    entries = [str(path), str(second), str(tmp_path / "not there"), str(second), str(third)]
    monkeypatch.setattr(sys, "path", entries)
    assert found() == standard() == [("shop", "first", GROUP), ("other", "third", GROUP)]


@pytest.mark.usefixtures("no_fallback")
def test_editable_and_old_installs(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # A source folder on the path, as "develop" leaves it, and an info that is a single file, as distutils leaves it.
    source = tmp_path / "src"
    installed(source, "devel", "[loadworthy]\ndevel = devel\n", ".egg-info")
    (path / "ancient-1.0.egg-info").write_text("Name: ancient\nVersion: 1.0\n", "utf-8")
    monkeypatch.setattr(sys, "path", [str(path), str(source)])
    assert found() == standard() == [("devel", "devel", GROUP)]
    assert find(GROUP) == (EntryPoint("devel", "devel", GROUP, "devel", "1.2"),)


@pytest.mark.usefixtures("no_fallback")
def test_the_current_folder(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    installed(path, "here-1.0", "[loadworthy]\nhere = here\n")
    monkeypatch.chdir(path)
    monkeypatch.setattr(sys, "path", [""])
    assert found() == standard() == [("here", "here", GROUP)]


def test_archives_are_left_to_importlib(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    installed(path, "one-1.2", "[loadworthy]\none = pkg\n")
    archive = tmp_path / "packed.whl"
    with zipfile.ZipFile(archive, "w") as file:
        file.writestr("packed-3.0.dist-info/METADATA", "Metadata-Version: 2.1\nName: packed\nVersion: 3.0\n")
        file.writestr("packed-3.0.dist-info/entry_points.txt", "[loadworthy]\npacked = packed\n")
    monkeypatch.setattr(sys, "path", [str(archive), str(path)])
    assert found() == standard() == [("packed", "packed", GROUP), ("one", "pkg", GROUP)]
    assert find(GROUP)[0] == EntryPoint("packed", "packed", GROUP, "packed", "3.0")


def test_eggs_are_left_to_importlib(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    egg = tmp_path / "old-1.0.egg"
    info = egg / "EGG-INFO"
    info.mkdir(parents=True)
    (info / "PKG-INFO").write_text("Metadata-Version: 1.0\nName: old\nVersion: 1.0\n", "utf-8")
    (info / "entry_points.txt").write_text("[loadworthy]\nold = old\n", "utf-8")
    monkeypatch.setattr(sys, "path", [str(egg)])
    assert found() == standard() == [("old", "old", GROUP)]


def test_finders_of_other_kinds_are_asked(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Given(metadata.Distribution):
        def read_text(self, filename: str) -> str | None:
            texts = {
                "METADATA": "Metadata-Version: 2.1\nName: given\nVersion: 9\n",
                "entry_points.txt": "[loadworthy]\ngiven = given.module\n",
            }
            return texts.get(filename)

        def locate_file(self, path: Any) -> Any:
            raise FileNotFoundError(path)

        _normalized_name = "given"

    class Finder:
        @staticmethod
        def find_spec(*_: Any) -> None:
            return None

        @staticmethod
        def find_distributions(*_: Any) -> list[Any]:
            return [Given()]

    installed(path, "one-1.2", "[loadworthy]\none = pkg\n")
    monkeypatch.setattr(sys, "meta_path", [*sys.meta_path, Finder])
    assert sorted(found()) == sorted(standard()) == [("given", "given.module", GROUP), ("one", "pkg", GROUP)]


@pytest.mark.usefixtures("no_fallback")
def test_what_is_installed_later_is_found(path: Path) -> None:
    assert find(GROUP) == ()
    info = installed(path, "one-1.2", "[loadworthy]\none = pkg\n")
    assert [one.name for one in find(GROUP)] == ["one"]
    (info / "entry_points.txt").write_text("[loadworthy]\ntwo = pkg\n", "utf-8")
    assert [one.name for one in find(GROUP)] == ["two"]
    (info / "entry_points.txt").unlink()
    assert find(GROUP) == ()


@pytest.mark.usefixtures("no_fallback")
def test_name_and_version(path: Path) -> None:
    installed(path, "with_meta-1.0", "[loadworthy]\na = a\n", meta="Name: With.Meta\nVersion: 1.0.post1\n")
    installed(path, "bare-2.0", "[loadworthy]\nb = b\n", meta=None)
    assert {(one.name, one.distribution, one.version) for one in find(GROUP)} == {
        ("a", "With.Meta", "1.0.post1"),
        ("b", "bare", "2.0"),
    }


def point(value: str) -> EntryPoint:
    return EntryPoint("name", value, GROUP, "", "")


@pytest.mark.parametrize("value", ["os.path", "os:path.join", "os : path [extra]", "json [a,b]"])
def test_loading_is_as_importlib_loads(value: str) -> None:
    assert point(value).load() is metadata.EntryPoint("name", value, GROUP).load()


@pytest.mark.parametrize("value", ["", ":x", "os:", "not a module", "os..path", "os:a b", "os:path:join", "-"])
def test_values_that_name_nothing(value: str) -> None:
    with pytest.raises(ValueError, match="is no entry point"):
        point(value).load()


def test_host_uses_what_is_installed(path: Path, examine: Any) -> None:
    package = "a_package_only_of_this_test"
    (path / f"{package}.py").write_text(
        "from loadworthy.sdk import Advice, hookimpl\n\n"
        "@hookimpl\ndef examine(case):\n    return [Advice('installed')]\n",
        "utf-8",
    )
    installed(
        path,
        "shop-1.0",
        f"[loadworthy]\nshop = {package}\nbad = {package}:nothing\nworse = no such module\n"
        "gone = a_module_that_is_gone\n",
    )
    try:
        host = Host()
        assert host.plugins == (PluginInfo("shop", "shop", "1.2", ("examine",), package),)
        assert [(failure.plugin, failure.hook) for failure in host.failures] == [
            ("bad", "load"),
            ("gone", "load"),
            ("worse", "load"),
        ]
        words = [failure.problem for failure in host.failures]
        assert "AttributeError" in words[0]
        assert "ModuleNotFoundError" in words[1]
        assert '"no such module" is no entry point' in words[2]
        assert examine(host).values == (("shop", Advice("installed")),)
    finally:
        sys.modules.pop(package, None)


def test_two_distributions_with_one_plugin_id(path: Path) -> None:
    installed(path, "b_shop-1.0", "[loadworthy]\nshop = json\n")
    installed(path, "a_shop-1.0", "[loadworthy]\nshop = os\n")
    words = [failure.problem for failure in Host().failures if "two plugins" in failure.problem]
    assert words == ["is the id of two plugins: json of b_shop is used, os of a_shop is not"]
