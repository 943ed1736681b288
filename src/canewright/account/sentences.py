"""The verdict and the suspects in sentences a tired person can act on."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence

from canewright.account.lines import LedgerLine
from canewright.account.numbers import rounded, span, times
from canewright.account.words import _, several, told
from canewright.engine.adjusting.explain import Statement
from canewright.engine.adjusting.statistics import GlobalTest
from canewright.engine.measuring.what_to_measure import Hint
from canewright.engine.suspects.suspects import Suspect, Suspects

_LETTER = re.compile(r"(?<![^\W_])[a-z](?=_)|(?<=_)[a-z](?![^\W_])")
"""A letter that stands for itself in a name, as in `a_molasses`."""


def spoken(name: str) -> str:
    """A point or a reading in a sentence: `mixed_juice pol`, mixed juice pol; `a_pans`, A pans."""
    return _LETTER.sub(lambda found: found[0].upper(), name).replace("_", " ")


def read_at(name: str) -> str:
    """A reading in a sentence, its analysis in the language spoken: `a_molasses pol`."""
    point, parted, analysis = name.partition(" ")
    return f"{spoken(point)}{parted}{told(spoken(analysis))}"


def closing(suspects: Suspects) -> str:
    """Whether the balance closes, in one sentence."""
    before, after = suspects.before, suspects.after
    if before.degrees_of_freedom == 0:
        return _(
            "The balance closes, but nothing in it is checked by anything else: "
            "there is no reading too many."
        )
    if not suspects.findings:
        if before.passes:
            return _("The balance closes ({numbers}).").format(numbers=_numbers(before))
        text = _("The balance does not close ({numbers}), and no single error explains it.")
        return f"{text.format(numbers=_numbers(before))} {_unusual(suspects)}"
    words = {"what": _counted(suspects.findings), "numbers": _numbers(after)}
    if suspects.explained:
        return _("The balance closes once {what} ({numbers}).").format(**words)
    text = _("The balance does not close even when {what} ({numbers}).")
    return f"{text.format(**words)} {_unusual(suspects)}"


def other_hours(given: float, fitting: float, test: GlobalTest) -> str:
    """That a shift would close had it been of another length, in one sentence."""
    return _(
        "With {fitting} h in place of {given} h it would close with nothing set aside ({numbers}): "
        "is the length of the shift right?"
    ).format(fitting=f"{fitting:g}", given=f"{given:g}", numbers=_numbers(test))


def _numbers(test: GlobalTest) -> str:
    return several(
        "chi-square {gamma} on {degrees} degree of freedom, 95 % limit {limit}",
        "chi-square {gamma} on {degrees} degrees of freedom, 95 % limit {limit}",
        test.degrees_of_freedom,
    ).format(gamma=f"{test.gamma:.0f}", degrees=test.degrees_of_freedom, limit=f"{test.limit:.0f}")


def _unusual(suspects: Suspects) -> str:
    if not suspects.unusual:
        return _("Look for a station that runs far from its usual range.")
    listed = ", ".join(told(spoken(name)) for name in suspects.unusual[:3])
    return _("The readings contradict what is usual for: {listed}.").format(listed=listed)


def _counted(findings: Sequence[Suspect]) -> str:
    def count(*kinds: str) -> int:
        return sum(1 for finding in findings if finding.kind in kinds)

    readings, instruments = count("bias"), count("shared bias")
    swaps, losses = count("swapped samples"), count("loss", "sucrose loss")
    words = []
    if readings:
        text = several("one reading is set aside", "{count} readings are set aside", readings)
        words.append(text.format(count=readings))
    if instruments:
        text = several(
            "one instrument is taken as off on all its readings",
            "{count} instruments are taken as off on all its readings",
            instruments,
        )
        words.append(text.format(count=instruments))
    if swaps:
        text = several(
            "two samples are put back in their places",
            "{count} pairs of samples are put back in their places",
            swaps,
        )
        words.append(text.format(count=swaps))
    if losses:
        text = several("a loss is allowed for", "{count} losses are allowed for", losses)
        words.append(text.format(count=losses))
    return _(" and ").join(words)


def headline(suspect: Suspect) -> str:
    """What is wrong and by how much."""
    size, sd = suspect.bias, suspect.sd
    words = {
        "size": rounded(size, sd),
        "by": rounded(abs(size), sd),
        "within": span(*suspect.interval, sd),
        "place": told(spoken(suspect.place)),
        "unit": suspect.unit,
    }
    if suspect.kind == "loss":
        return _("{size} t/h of liquor lost in {place} ({within})").format(**words)
    if suspect.kind == "sucrose loss":
        return _("{size} t/h of sucrose lost in {place} ({within})").format(**words)
    if suspect.kind == "swapped samples":
        one, other = map(spoken, _points(suspect))
        text = _("samples of {one} and {other} were taken for each other")
        return text.format(one=one, other=other)
    if suspect.kind == "shared bias":
        words["unit"] = "%" if suspect.unit == "% of value" else suspect.unit
        text = (
            _("{place} reads {by} {unit} high on all its {count} readings ({within})")
            if size > 0
            else _("{place} reads {by} {unit} low on all its {count} readings ({within})")
        )
        return text.format(count=len(suspect.readings), **words)
    words["reading"] = read_at(*suspect.readings)
    if suspect.unit != "%" and suspect.estimate:
        factor = 100 / abs(suspect.estimate)
        low, high = (end * factor for end in suspect.interval)
        words["percent"] = rounded(abs(size) * factor, sd * factor)
        words["within"] = span(low, high, sd * factor)
        text = (
            _("{reading} reads {percent} % high ({within}), by {by} {unit}")
            if size > 0
            else _("{reading} reads {percent} % low ({within}), by {by} {unit}")
        )
        return text.format(**words)
    text = (
        _("{reading} reads {by} {unit} high ({within})")
        if size > 0
        else _("{reading} reads {by} {unit} low ({within})")
    )
    return text.format(**words)


def _points(suspect: Suspect) -> tuple[str, str]:
    points = list(dict.fromkeys(name.split()[0] for name in suspect.readings))
    return points[0], points[1]


def supposition(name: str) -> str:
    """A supposition as it stands in a sentence."""
    if name.startswith("bias of "):
        return _("a bias of {reading}").format(reading=read_at(name.removeprefix("bias of ")))
    name = spoken(name)
    if name.startswith("calibration of "):
        instrument = name.removeprefix("calibration of ")
        return _("{instrument} off on all its readings").format(instrument=told(instrument))
    if name.endswith(" swapped"):
        samples = name.removesuffix(" swapped")
        return _("samples of {samples} taken for each other").format(samples=samples)
    return _("a {error}").format(error=told(name))


def why(suspect: Suspect) -> str:
    """Why it is doubted, what else it could be, what to check first."""
    sentences = []
    if suspect.agreeing:
        text = several(
            "{readings} contradicts it, and agrees with the rest.",
            "{readings} agree with each other and not with it.",
            len(suspect.agreeing),
        )
        named = text.format(readings=_listed([read_at(name) for name in suspect.agreeing], told))
        sentences.append(named[0].upper() + named[1:])
    elif suspect.kind in ("loss", "sucrose loss"):
        sentences.append(_("The readings before the section and after it agree among themselves."))
    typed = mistyped(suspect)
    if typed:
        sentences.append(typed)
    if suspect.equivalents:
        others = "; ".join(supposition(name) for name in suspect.equivalents[:4])
        text = _("These readings cannot tell it from: {others}.")
        sentences.append(text.format(others=others))
    if suspect.next_best:
        text = _("Next best explanation: {best} ({times}).")
        best = supposition(suspect.next_best)
        sentences.append(text.format(best=best, times=times(suspect.less_likely)))
    sentences.append(_("Check first: {check}.").format(check=told(suspect.check_first)))
    return " ".join(sentences)


def _listed(names: Sequence[str], told: Callable[[str], str] = str) -> str:
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} {told('and')} {names[-1]}"


def mistyped(suspect: Suspect) -> str:
    """A slip of the pen that would explain the reading; empty where none does."""
    if suspect.kind != "bias" or not math.isfinite(suspect.reading):
        return ""
    text = f"{suspect.reading:.6g}"
    near = 2 * suspect.sd
    for i in range(len(text) - 1):
        if text[i].isdigit() and text[i + 1].isdigit() and text[i] != text[i + 1]:
            swapped = text[:i] + text[i + 1] + text[i] + text[i + 2 :]
            if abs(float(swapped) - suspect.estimate) < near:
                text = _("{number} would fit: two digits may have changed places.")
                return text.format(number=swapped)
    for factor in (10.0, 0.1):
        if abs(suspect.reading * factor - suspect.estimate) < near:
            text = _("{number} would fit: the decimal point may have slipped.")
            return text.format(number=f"{suspect.reading * factor:.6g}")
    return ""


def undetermined(known: Statement, base: str, hint: Hint | None) -> str:
    """What is undetermined of the sucrose, and whether that is a finding."""
    on = told(base.replace("sucrose", "of sucrose", 1))
    half = (known.interval[1] - known.interval[0]) / 2
    words = {"value": rounded(known.value, known.sd), "half": rounded(half, half / 2), "on": on}
    if not known.determined:
        text = _(
            "undetermined {value} +/- {half} % {on}: not determined, the readings hardly see it."
        )
        answer = text.format(**words)
        return answer if hint is None else f"{answer} {what_would_help(hint)}"
    if not known.differs_from_zero:
        text = _(
            "undetermined {value} +/- {half} % {on}: not a finding, it cannot be told from zero in "
            "one shift."
        )
    elif known.value > 0:
        text = _("undetermined {value} +/- {half} % {on}: distinguishable from zero, lost.")
    else:
        text = _(
            "undetermined {value} +/- {half} % {on}: distinguishable from zero, too much sucrose "
            "found."
        )
    return text.format(**words)


NOT_TOLD_APART = (
    "The readings do not tell apart what was lost in {sections}: only the sum is printed."
)
SMALLEST_TOLD = "Smallest loss told from zero in such a shift, % (9 times in 10): {sizes}."


def about_sections(line: LedgerLine, told: Callable[[str], str] = str) -> str:
    """Whether readings tell the sections of an undetermined loss apart, and from what size on.

    `told` translates the sentence and the names in it.
    """
    if not line.told_apart:
        names = [told(part.name) for part in line.parts if not part.amount.determined]
        return told(NOT_TOLD_APART).format(sections=_listed(names, told))
    sizes = [(line.name, line)] if line.amount.determined else []
    sizes += [(part.name, part) for part in line.parts]
    listed = ", ".join(
        f"{told(name)} {rounded(each.told_from_zero, each.percent.sd)}" for name, each in sizes
    )
    return told(SMALLEST_TOLD).format(sizes=listed)


def what_would_help(hint: Hint) -> str:
    """The reading that would settle a figure."""
    half = 1.96 * hint.sd
    text = _("Reading {analysis} of {point} would bring it to +/- {half}.")
    return text.format(
        analysis=told(spoken(hint.analysis)),
        point=told(spoken(hint.point)),
        half=rounded(half, hint.sd),
    )
