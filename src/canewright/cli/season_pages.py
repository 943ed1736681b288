"""What `canewright season` prints: the verdict first, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from canewright.account.held import held_in
from canewright.account.numbers import rounded
from canewright.account.season import UNDETERMINED, SeasonAccount, gamma_per_degree
from canewright.account.season_checks import late_at_the_end
from canewright.account.season_scatter import scatter_sentence
from canewright.cli import printing
from canewright.cli.printing import Column, number
from canewright.cli.season_time_pages import print_performance, print_plan, print_time
from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.adjusting.statistics import HEALTHY_RATIO
from canewright.engine.chain.comparison import Change
from canewright.engine.chain.watch import Call

LABEL = 11
FLOORS = 3
SHOWN_ASIDE = 12
LEFT = 8
CURVE = (1, 3, 9, 21, 45, 90, 180, 450, 900, 1800)
"""Numbers of shifts at which the interval to date is shown."""


def print_season(screen: Console, account: SeasonAccount, *, everything: bool) -> None:
    """Print what can be said of a season."""
    _head(screen, account)
    _verdict(screen, account)
    _curve(screen, account)
    _ledger(screen, account, everything=everything)
    _calls(screen, account)
    _periods(screen, account)
    print_performance(screen, account, everything=everything)
    _figures(screen, account, everything=everything)
    print_time(screen, account)
    print_plan(screen, account)
    _jumps(screen, account)
    _held(screen, account)
    _aside(screen, account)
    _left_out(screen, account)


def _labelled(screen: Console, label: str, text: str) -> None:
    columns = [Column(narrowest=LABEL - 2, widest=LABEL - 2), Column(wrap=True)]
    printing.table(screen, columns, [(label, text)])


def _head(screen: Console, account: SeasonAccount) -> None:
    printing.paragraph(screen, account.factory.name, style="bold")
    first, last = account.results[0], account.results[-1]
    parts = [f"{len(account.results)} shifts"]
    if first.start is not None and last.start is not None:
        parts.append(f"{first.start:%d %b %Y} to {last.start:%d %b %Y}")
    cane = account.figure("cane_tonnes")
    if cane is not None:
        parts.append(f"{number(cane.value, cane.sd)} t cane crushed")
    printing.paragraph(screen, ", ".join(parts))
    printing.emit(screen, "")


def _verdict(screen: Console, account: SeasonAccount) -> None:
    figure = account.figure(UNDETERMINED)
    if figure is not None:
        half = COVERAGE * figure.sd
        low, high = figure.value - half, figure.value + half
        finding = (
            "It differs from nothing."
            if low > 0 or high < 0
            else "It may be nothing: zero lies inside."
        )
        if high < 0:
            finding = "Less went in than came out: look at the scales first."
        _labelled(
            screen,
            "Loss",
            f"{rounded(figure.value, figure.sd)} {figure.unit} to date, "
            f"+/- {rounded(half, figure.sd)} (95 %). {finding}",
        )
        independent = account.undetermined[-1].independent_sd
        _labelled(
            screen,
            "",
            f"Added up as if each shift's errors were its own it would read "
            f"+/- {rounded(COVERAGE * independent, independent)}: too "
            f"{'narrow' if independent < figure.sd else 'wide'}.",
        )
        floors = [f for f in account.floor() if f.share > 0.01][:FLOORS]
        if floors:
            told = ", ".join(f"{f.instrument} ({100 * f.share:.0f} %)" for f in floors)
            _labelled(
                screen,
                "Floor",
                f"Calibrations that more shifts will not average out, by their part of its "
                f"variance: {told}. Calibrating the {floors[0].instrument} would bring it to "
                f"+/- {rounded(COVERAGE * floors[0].without, figure.sd)}.",
            )
    mean = account.gamma_per_degree
    low, high = HEALTHY_RATIO
    if mean > high:
        health = "the stated uncertainties are too small, or something is wrong in many shifts"
    elif mean < low:
        health = "uncertainties and usual ranges are stated wider than the readings show"
    else:
        health = "the readings are as good as stated"
    scatter = scatter_sentence(account.results)
    _labelled(
        screen,
        "Readings",
        f"Squared innovations {mean:.2f} on average (1 expected): {health}. {scatter}".rstrip(),
    )
    for call in account.calls:
        _labelled(screen, "Drift", called(account, call))
    for late in late_at_the_end(account.factory, account.files.starts()):
        _labelled(
            screen,
            "Overdue",
            f"The {late.instrument} was due for calibration on {late.due:%d %b %Y}, "
            f"{late.days_in_words} before the last shift.",
        )


def called(account: SeasonAccount, call: Call) -> str:
    """A sentence on an instrument that stepped or drifted."""
    seen = account.named(call.called)
    did = "stepped" if call.shape == "step" else "began to drift"
    if call.earliest < 0:
        did, start = "stepped or drifted off", f"by {account.named(call.start)} at the latest"
    else:
        start = f"in about {account.named(call.start)}"
        if call.earliest < call.latest:
            start += (
                f" (between {account.named(call.earliest)} and {account.named(call.latest)}, 95 %)"
            )
    each = "" if call.shape == "step" else " in each shift"
    rivals = f" It could also be: {', '.join(call.rivals)}." if call.rivals else ""
    return (
        f"The {call.instrument} {did} {start}, by {call.size:+.1f} +/- "
        f"{COVERAGE * call.sd:.1f} of its standard uncertainty{each}; called at {seen}, "
        f"{_shifts(call.called - call.start + 1)} on, where one of that size shows on average "
        f"after {_shifts(call.due - call.start + 1)}. The season is balanced with its bias let "
        f"go from then on.{rivals} Check its zero and calibration."
    )


def _shifts(count: int) -> str:
    return "1 shift" if count == 1 else f"{count} shifts"


def _curve(screen: Console, account: SeasonAccount) -> None:
    points = account.undetermined
    if not points:
        return
    printing.heading(screen, "Undetermined loss to date, % of sucrose in cane")
    shown = [n for n in CURVE if n < len(points)] + [len(points)]
    rows = [
        (
            str(n),
            rounded(points[n - 1].value, points[n - 1].sd),
            rounded(COVERAGE * points[n - 1].sd, points[n - 1].sd),
            rounded(COVERAGE * points[n - 1].independent_sd, points[n - 1].independent_sd),
        )
        for n in shown
    ]
    columns = [
        Column("shifts", "right"),
        Column("to date", "right"),
        Column("+/- (95 %)", "right"),
        Column("+/- if independent", "right"),
    ]
    printing.table(screen, columns, rows)


def _ledger(screen: Console, account: SeasonAccount, *, everything: bool) -> None:
    for name, ledger in account.ledgers.items():
        if name != "sucrose" and not everything:
            continue
        printing.heading(screen, f"Where the {name} went, to date")
        printing.paragraph(screen, ledger.covers, indent=2)
        rows = [
            (
                row.name if row.side == "out" else f"{row.name} (in)",
                *_numbers(row.amount, row.sd, determined=row.determined),
                f"{row.share:.2f}" if row.determined else "",
            )
            for row in account.ledger(name)
            if row.amount or row.sd
        ]
        columns = [
            Column("", wrap=True),
            Column(ledger.unit, "right"),
            Column("+/-", "right"),
            Column(f"% of {ledger.base_name}", "right"),
        ]
        printing.table(screen, columns, rows)


def _numbers(value: float, sd: float, *, determined: bool) -> tuple[str, str]:
    """A value and half its interval, unless priors carry more of it than readings do."""
    if not determined:
        return "not determined", ""
    return number(value, sd), number(COVERAGE * sd, sd)


def _calls(screen: Console, account: SeasonAccount) -> None:
    carried, last = account.chain.carried, account.results[-1]
    biases = [i for i, kind in enumerate(carried.kinds) if kind == "bias"]
    far = sorted(biases, key=lambda i: -abs(last.carried[i]))[:6]
    printing.heading(screen, "Instruments furthest from their calibration")
    rows = [
        (
            carried.names[i],
            f"{last.carried[i]:+.1f}",
            f"{COVERAGE * last.carried_sd[i]:.1f}",
        )
        for i in far
    ]
    columns = [
        Column("", wrap=True),
        Column("standard uncertainties", "right"),
        Column("+/-", "right"),
    ]
    printing.table(screen, columns, rows)


def _periods(screen: Console, account: SeasonAccount) -> None:
    weeks = account.periods("week")
    rows = []
    for period, figures in weeks:
        by_name = {figure.name: figure for figure in figures}
        loss = by_name.get(UNDETERMINED)
        if loss is None:
            continue
        shifts = len(account.within(period))
        rows.append(
            (
                period.name,
                str(shifts),
                rounded(loss.value, loss.sd),
                rounded(COVERAGE * loss.sd, loss.sd),
                f"{gamma_per_degree(account.within(period)):.2f}",
            )
        )
    if rows:
        printing.heading(screen, "Undetermined loss by week, % of sucrose in cane")
        columns = [
            Column("", wrap=True),
            Column("shifts", "right"),
            Column("loss", "right"),
            Column("+/-", "right"),
            Column("squared innovations", "right"),
        ]
        printing.table(screen, columns, rows)
    if len(weeks) > 1:
        name, other = weeks[-2][0].name, weeks[-1][0].name
        _change(screen, account.compare(weeks[-2][0], weeks[-1][0]), name, other)
    _change(screen, account.compare_with_last_season(account.season), "last season", "this season")


def _change(screen: Console, change: Change | None, name: str, other: str) -> None:
    """Print what changed in sugar on cane, in parts that add up."""
    if change is None:
        return
    printing.heading(screen, f"Sucrose in sugar, % cane: from {name} to {other}")
    told = [(label, f"{part:+.3f}") for label, part in change.contributions.items()]
    rows_of_change = [
        ("as reported, before", f"{change.before:.3f}"),
        *told,
        ("as reported, after", f"{change.after:.3f}"),
    ]
    printing.table(screen, [Column("", wrap=True), Column("", "right")], rows_of_change)


def _figures(screen: Console, account: SeasonAccount, *, everything: bool) -> None:
    printing.heading(screen, "Figures to date")
    last = account.last_season(account.season)
    rows = []
    for figure in account.figures:
        if not everything and not account.figures_of_shift[figure.name].headline:
            continue
        if figure.value == 0.0 and figure.sd == 0.0:
            continue
        before = None if last is None else last.figure(figure.name)
        own = _numbers(figure.value, figure.sd, determined=figure.determined)
        if last is None:
            rows.append((figure.label, *own, figure.unit, figure.rule.split(" over ")[0]))
            continue
        then = ("", "")
        if before is not None:
            then = _numbers(before.value, before.sd, determined=before.determined)
        rows.append((f"{figure.label}, {figure.unit}", *own, *then))
    columns = [
        Column("", wrap=True),
        Column("value", "right"),
        Column("+/-", "right"),
    ]
    if last is None:
        columns += [Column("unit"), Column("shifts make")]
    else:
        columns += [Column("last season", "right"), Column("+/-", "right")]
    printing.table(screen, columns, rows)
    if account.last is not None and last is not None:
        first = account.last.results[0].start
        began = "" if first is None else f", which began {first:%d %b %Y}"
        printing.paragraph(
            screen,
            f"Last season: the same days of the crop{began}; {last.shifts} shifts against "
            f"{len(account.results)}.",
            indent=2,
        )


def _aside(screen: Console, account: SeasonAccount) -> None:
    found = [(r, item) for r in account.results for item in r.aside]
    if not found:
        return
    printing.heading(screen, "Readings set aside: the rest of the season contradicts them")
    found.sort(key=lambda pair: -abs(pair[1].standardised))
    rows = [
        (
            r.name,
            account.reading(item.name),
            number(item.reading),
            f"{item.expected:.5g}",
            f"{item.standardised:+.0f}",
        )
        for r, item in found[:SHOWN_ASIDE]
    ]
    columns = [
        Column("shift"),
        Column("reading", wrap=True),
        Column("read", "right"),
        Column("expected", "right"),
        Column("sd off", "right"),
    ]
    printing.table(screen, columns, rows)
    if len(found) > SHOWN_ASIDE:
        printing.paragraph(screen, f"and {len(found) - SHOWN_ASIDE} more.", indent=2)


def _jumps(screen: Console, account: SeasonAccount) -> None:
    if not account.jumps:
        return
    printing.heading(screen, "Stocks that jumped by more than could flow")
    rows = [(account.named(jump.number), jump.sentence) for jump in account.jumps[:LEFT]]
    printing.table(screen, [Column("shift"), Column("", wrap=True)], rows)
    _and_more(screen, account.jumps)


def _held(screen: Console, account: SeasonAccount) -> None:
    held = held_in(account.chain.reconciler, account.results)
    if held:
        printing.heading(screen, "Held at the edge of what can be")
        for one in held[:LEFT]:
            printing.paragraph(screen, one.sentence, indent=2)
        _and_more(screen, held)


def _and_more(screen: Console, found: Sequence[object]) -> None:
    """How many of a list were not printed."""
    if len(found) > LEFT:
        printing.paragraph(screen, f"and {len(found) - LEFT} more; --json tells all.", indent=2)


def _left_out(screen: Console, account: SeasonAccount) -> None:
    told = [(item.file, " ".join(item.sentences)) for item in account.files.left]
    told += [(name, f"It could not be balanced: {why}") for name, why in account.skipped]
    if told:
        printing.heading(screen, "Left out")
        printing.table(screen, [Column(""), Column("", wrap=True)], told[:LEFT])
        _and_more(screen, told)
    for note in account.files.notes:
        printing.paragraph(screen, note)
    if account.factory.invented:
        printing.emit(screen, "")
        printing.paragraph(screen, "Invented: a made-up factory and a made-up season.")
