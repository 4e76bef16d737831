"""Calibration numbers against the maker's list, and what all rules together say of undeclared changes."""

from __future__ import annotations

from math import log10
from typing import TYPE_CHECKING, Final

from loadworthy.sdk import Finding, Gap, Used
from loadworthy_plugins.modifications.entry import ID
from loadworthy_plugins.modifications.rule_table import CALIBRATION, CONVERTER, LOOK, PRIOR, RAIL, RULES, UNDECLARED
from loadworthy_plugins.shared_results import bands, seen

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from loadworthy.sdk import Case, Limits, Result, Sheet


#: Likelihood ratio of a number that is not the maker's.
NUMBER_RATIO: Final = next(rule for rule in RULES if rule.name == "calibration_number").bands["mismatch"][CALIBRATION]
#: Numbers of the control unit and where the maker's list has them.
NUMBERS: Final = (("calibration_id", "maker_calibration_id"), ("verification_number", "maker_verification_number"))


def compared(sheet: Sheet) -> dict[str, bool]:
    """Return which numbers of a record of the calibration are the maker's; only those that both sides give.

    Blanks, hyphens and case are set aside.
    """
    found = {}
    for name, maker in NUMBERS:
        read, listed = ("".join(str(sheet.get(key) or "").split()).replace("-", "").upper() for key in (name, maker))
        if read and listed:
            found[name] = read == listed
    return found


def recorded_change(case: Case) -> float:
    """Return the probability that the calibration is not the maker's by the latest record that tells: 1 by a word."""
    from loadworthy_plugins.modifications.mixture import posterior

    p = 0.0
    for sheet in case.of("calibration"):
        if sheet.get("present_calibration") == "changed_by":
            p = 1.0
        elif not all(compared(sheet).values()):
            p = posterior(PRIOR, NUMBER_RATIO)
        elif sheet.get("present_calibration") == "standard" or compared(sheet).get("verification_number"):
            p = 0.0
    return p


def calibration_rules(case: Case) -> Iterator[Finding]:
    """Judge every record of the calibration's identifier and verification number against the maker's."""
    for sheet in case.of("calibration"):
        yield from _number(sheet)


def _number(sheet: Sheet) -> Iterator[Finding]:
    """A number that was read and fits clears; an identifier alone does not: it is kept when content is changed."""
    if all(sheet.get(name) is None for pair in NUMBERS for name in pair):
        return
    found = compared(sheet)
    if not found:
        yield Finding(
            ID + "calibration_number", sheet.id, unknown="number of the control unit and of the maker's list needed"
        )
        return
    mismatch = not all(found.values())
    proven = found.get("verification_number") is True and not mismatch
    words = "identifier" if found.get("calibration_id") is False else "verification number"
    yield Finding(
        ID + "calibration_number",
        sheet.id,
        verdicts=seen(mismatch, "watch"),
        text=f"calibration {words} is not the maker's: the calibration was changed"
        if mismatch
        else "calibration numbers as on the maker's list",
        bands=bands(mismatch=float(mismatch), clean=float(proven)),
        clears=proven,
        readings=tuple(Used(f"{sheet.id}.{name}", str(sheet.get(name))) for name in found),
    )


def inferred(results: Iterable[Result]) -> dict[str, float]:
    """Return what each undeclared change is worth believing by the findings of one sheet alone.

    From the prior of one undeclared change of one kind; of results that share a group only the strongest for and
    against count. What is declared, and other checks, are not looked at: that is for the register.
    """
    # Late: with a record of the calibration alone nothing else of the runs is needed.
    from loadworthy_plugins.modifications.mixture import posterior

    table = {ID + rule.name: rule for rule in RULES}
    weights: dict[str, dict[str, list[float]]] = {}
    for one in results:
        rule = table.get(one.rule) if isinstance(one, Finding) else None
        if rule is None or not isinstance(one, Finding) or not one.bands:
            continue
        for cause in UNDECLARED:
            ratio = max(0.0, 1.0 - sum(one.bands.values()))
            ratio += sum(p * _ratio(rule.bands.get(band, {}), cause) for band, p in one.bands.items())
            if ratio > 1.0 or (ratio < 1.0 and one.clears):
                weights.setdefault(cause, {}).setdefault(rule.group, []).append(10.0 * log10(ratio))
    out = {}
    for cause, groups in weights.items():
        db = sum(max(0.0, *found) + min(0.0, *found) for found in groups.values())
        out[cause] = posterior(PRIOR, 10.0 ** (db / 10.0))
    return out


def _ratio(ratios: Mapping[str, float], cause: str) -> float:
    """Return a band's ratio of a cause; what speaks of "rail sensor or converter" speaks of the converter too."""
    wider = ratios.get(RAIL, 1.0) if cause == CONVERTER else 1.0
    return ratios.get(cause, wider)


def inference(sheet: Sheet, results: Iterable[Result], limits: Limits) -> Iterator[Result]:
    """Report every undeclared change that one sheet makes more likely than not, and ask for eyes where it is likely."""
    every, report = inferred(results), limits[ID + "posterior_report"]
    if not every:
        return
    found = {cause: p for cause, p in sorted(every.items()) if report.judge(p, 0.0).p_beyond >= 0.5}
    words = ", ".join(f"{cause.replace('-', ' ')} {p:.2f}" for cause, p in found.items())
    yield Finding(
        ID + "undeclared",
        sheet.id,
        verdicts=tuple(report.judge(p, 0.0) for _, p in sorted(every.items())),
        text=f"more likely than not by this sheet alone: {words}"
        if found
        else "no undeclared change is more likely than not by this sheet alone, which proves none absent",
        names=tuple((cause, None) for cause in found),
    )
    for cause, p in found.items():
        if p >= limits[ID + "posterior_conflict"].number:
            yield Gap(
                f"{ID}undeclared.{cause}",
                f"{cause.replace('-', ' ')}: {p:.2f} by {sheet.id} against what is declared; a person must look",
                section="mixture_run",
                test=LOOK,
            )
