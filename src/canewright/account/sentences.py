"""The verdict and the suspects in sentences a tired person can act on."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from canewright.account.lines import LedgerLine
from canewright.account.numbers import rounded, span, times
from canewright.engine.explain import Statement
from canewright.engine.statistics import GlobalTest
from canewright.engine.suspects import Suspect, Suspects
from canewright.engine.what_to_measure import Hint


def spoken(name: str) -> str:
    """A point or a reading as it stands in a sentence: `mixed_juice pol`, mixed juice pol."""
    return name.replace("_", " ")


def closing(suspects: Suspects) -> str:
    """Whether the balance closes, in one sentence."""
    before, after = suspects.before, suspects.after
    if before.degrees_of_freedom == 0:
        return (
            "The balance closes, but nothing in it is checked by anything else: "
            "there is no reading too many."
        )
    if not suspects.findings:
        if before.passes:
            return f"The balance closes ({_numbers(before)})."
        return (
            f"The balance does not close ({_numbers(before)}), and no single error explains it."
            + _unusual(suspects)
        )
    what = _counted(suspects.findings)
    if suspects.explained:
        return f"The balance closes once {what} ({_numbers(after)})."
    return f"The balance does not close even when {what} ({_numbers(after)})." + _unusual(suspects)


def _numbers(test: GlobalTest) -> str:
    degrees = test.degrees_of_freedom
    return (
        f"chi-square {test.gamma:.0f} on {degrees} degree{'s' if degrees != 1 else ''} of "
        f"freedom, 95 % limit {test.limit:.0f}"
    )


def _unusual(suspects: Suspects) -> str:
    if not suspects.unusual:
        return " Look for a station that runs far from its usual range."
    listed = ", ".join(map(spoken, suspects.unusual[:3]))
    return f" The readings contradict what is usual for: {listed}."


def _counted(findings: Sequence[Suspect]) -> str:
    words = []
    readings = sum(1 for finding in findings if finding.kind == "bias")
    if readings:
        words.append("one reading is" if readings == 1 else f"{readings} readings are")
        words[-1] += " set aside"
    instruments = sum(1 for finding in findings if finding.kind == "shared bias")
    if instruments:
        what = "one instrument is" if instruments == 1 else f"{instruments} instruments are"
        words.append(f"{what} taken as off on all its readings")
    swaps = sum(1 for finding in findings if finding.kind == "swapped samples")
    if swaps:
        words.append("two samples are" if swaps == 1 else f"{swaps} pairs of samples are")
        words[-1] += " put back in their places"
    losses = sum(1 for finding in findings if finding.kind in ("loss", "sucrose loss"))
    if losses:
        words.append("a loss is allowed for" if losses == 1 else f"{losses} losses are allowed for")
    return " and ".join(words)


def headline(suspect: Suspect) -> str:
    """What is wrong and by how much."""
    size, sd = suspect.bias, suspect.sd
    within = span(*suspect.interval, sd)
    if suspect.kind == "loss":
        return f"{rounded(size, sd)} t/h of liquor lost in {suspect.place} ({within})"
    if suspect.kind == "sucrose loss":
        return f"{rounded(size, sd)} t/h of sucrose lost in {suspect.place} ({within})"
    if suspect.kind == "swapped samples":
        one, other = map(spoken, _points(suspect))
        return f"samples of {one} and {other} were taken for each other"
    way = "high" if size > 0 else "low"
    if suspect.kind == "shared bias":
        unit = "" if suspect.unit == "% of value" else f" {suspect.unit}"
        percent = " %" if suspect.unit == "% of value" else unit
        return (
            f"{spoken(suspect.place)} reads {rounded(abs(size), sd)}{percent} {way} on all its "
            f"{len(suspect.readings)} readings ({within})"
        )
    reading = spoken(*suspect.readings)
    if suspect.unit != "%" and suspect.estimate:
        factor = 100 / abs(suspect.estimate)
        percent = rounded(abs(size) * factor, sd * factor)
        low, high = (end * factor for end in suspect.interval)
        return (
            f"{reading} reads {percent} % {way} ({span(low, high, sd * factor)}), "
            f"by {rounded(abs(size), sd)} {suspect.unit}"
        )
    return f"{reading} reads {rounded(abs(size), sd)} {suspect.unit} {way} ({within})"


def _points(suspect: Suspect) -> tuple[str, str]:
    points = list(dict.fromkeys(name.split()[0] for name in suspect.readings))
    return points[0], points[1]


def supposition(name: str) -> str:
    """A supposition as it stands in a sentence."""
    name = spoken(name)
    if name.startswith("calibration of "):
        return f"{name.removeprefix('calibration of ')} off on all its readings"
    if name.endswith(" swapped"):
        return f"samples of {name.removesuffix(' swapped')} taken for each other"
    if name.startswith("loss of "):
        return f"a {name}"
    return f"a {name}"


def why(suspect: Suspect) -> str:
    """Why it is doubted, what else it could be, what to check first."""
    sentences = []
    if suspect.agreeing:
        sentences.append(f"{_listed(suspect.agreeing)} {_agree(suspect.agreeing)}.")
    elif suspect.kind in ("loss", "sucrose loss"):
        sentences.append("The readings before the section and after it agree among themselves.")
    typed = mistyped(suspect)
    if typed:
        sentences.append(typed)
    if suspect.equivalents:
        others = "; ".join(supposition(name) for name in suspect.equivalents[:4])
        sentences.append(f"These readings cannot tell it from: {others}.")
    if suspect.next_best:
        best = supposition(suspect.next_best)
        sentences.append(f"Next best explanation: {best} ({times(suspect.less_likely)}).")
    sentences.append(f"Check first: {suspect.check_first}.")
    return " ".join(sentences)


def _listed(names: Sequence[str], told: Callable[[str], str] = str) -> str:
    names = [spoken(name) for name in names]
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} {told('and')} {names[-1]}"


def _agree(names: Sequence[str]) -> str:
    if len(names) == 1:
        return "contradicts it, and agrees with the rest"
    return "agree with each other and not with it"


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
                return f"{swapped} would fit: two digits may have changed places."
    for factor in (10.0, 0.1):
        if abs(suspect.reading * factor - suspect.estimate) < near:
            return f"{suspect.reading * factor:.6g} would fit: the decimal point may have slipped."
    return ""


def undetermined(known: Statement, base: str, hint: Hint | None) -> str:
    """What is undetermined of the sucrose, and whether that is a finding."""
    on = base.replace("sucrose", "of sucrose", 1)
    half = (known.interval[1] - known.interval[0]) / 2
    text = f"undetermined {rounded(known.value, known.sd)} +/- {rounded(half, half / 2)} % {on}"
    if not known.determined:
        answer = f"{text}: not determined, the readings hardly see it."
        if hint is not None:
            answer += f" {what_would_help(hint)}"
        return answer
    if known.differs_from_zero:
        word = "lost" if known.value > 0 else "too much sucrose found"
        return f"{text}: distinguishable from zero, {word}."
    return f"{text}: not a finding, it cannot be told from zero in one shift."


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
    what = f"{spoken(hint.analysis)} of {spoken(hint.point)}"
    return f"Reading {what} would bring it to +/- {rounded(half, hint.sd)}."
