"""`canewright chart`: control charts of a record of check samples, and what they say."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from canewright.cli.problems import Refused, did_you_mean

if TYPE_CHECKING:
    from canewright.files.check_records import CheckFile
    from canewright.laboratory.check_samples import CheckRecord, CheckVerdict
    from canewright.laboratory.control_charts import Chart, Signal

CHARTS = ("single", "range", "average", "sums")
"""Names of the charts for `--draw`."""


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("chart")
    def command(
        file: Annotated[
            Path,
            typer.Argument(
                metavar="FILE",
                help="Columns time, value and expected, the value of the standard.",
            ),
        ],
        repeatability: Annotated[
            float | None,
            typer.Option(
                help="Standard deviation of one reading; from the record when left out.",
                show_default=False,
            ),
        ] = None,
        standard_uncertainty: Annotated[
            float, typer.Option(help="Standard uncertainty of the standard's own value.")
        ] = 0.0,
        unit: Annotated[str, typer.Option(help="Unit of the readings, for the printing.")] = "",
        name: Annotated[
            str, typer.Option(help="Name of the instrument; the file's when left out.")
        ] = "",
        rules: Annotated[
            str, typer.Option(help="limits_only, western_electric or eight_rules.")
        ] = "western_electric",
        draw: Annotated[
            str, typer.Option(help="Chart for --svg: single, range, average or sums.")
        ] = "average",
        svg: Annotated[
            Path | None,
            typer.Option("--svg", help="Write a drawing to this file.", show_default=False),
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """Chart check samples: drift and bias of an instrument.

        canewright chart refractometer.csv --unit % --standard-uncertainty 0.02
        """
        from canewright.laboratory.run_rules import rule_sets

        known = rule_sets()
        if rules not in known:
            raise Refused(
                f"There is no set of rules called {rules!r}.{did_you_mean(rules, known)} Known are "
                f"{', '.join(known)}."
            )
        if draw not in CHARTS:
            raise Refused(f"There is no chart called {draw!r}: take {', '.join(CHARTS)}.")
        answer(
            file,
            options={
                "instrument": name or file.stem.replace("_", " "),
                "unit": unit,
                "repeatability": repeatability,
                "standard_uncertainty": standard_uncertainty,
            },
            rules=rules,
            draw=draw,
            svg=svg,
            as_json=as_json,
        )


def answer(
    file: Path,
    *,
    options: dict[str, Any],
    rules: str,
    draw: str,
    svg: Path | None,
    as_json: bool,
) -> None:
    """Read, chart, and print or write what was asked for.

    Raises
    ------
    InputRefused
        With everything that is wrong with the file.
    Refused
        If no chart can be made of it.
    """
    from canewright.cli import printing
    from canewright.files.check_records import read_check_file
    from canewright.laboratory import chart_drawing
    from canewright.laboratory.check_samples import chart_checks

    taken = read_check_file(file)
    try:
        record = taken.record(**options)
        verdict = chart_checks(record, rules)
        charts = _charts(taken, verdict, rules)
    except ValueError as error:
        raise Refused(f"{taken.file}: {error}") from None
    if svg is not None:
        if draw not in charts:
            raise Refused(f"{taken.file}: a single check has no range to draw.")
        labels = [f"{moment:%Y-%m-%d %H:%M}" for moment in record.times]
        drawn = charts[draw]
        labels = labels[-drawn.plotted.size :]
        title = f"{record.instrument}: {drawn.kind} of reading less standard"
        unit = "sd" if draw == "sums" else record.unit
        svg.write_text(
            chart_drawing.svg(drawn, title=title, unit=unit, labels=labels), encoding="utf-8"
        )
    if as_json:
        printing.write_json(_for_json(verdict, charts, bool(taken.expected)))
    else:
        _print(verdict, charts, bool(taken.expected), rules)
        if svg is not None:
            printing.paragraph(printing.console(), f"The {charts[draw].kind} is drawn in {svg}.")


def _charts(taken: "CheckFile", verdict: "CheckVerdict", rules: str) -> "dict[str, Chart]":
    from canewright.laboratory.control_charts import cumulative_sums, mean_and_range, moving_range

    record = verdict.record
    charts = {"single": verdict.single, "average": verdict.average}
    groups = taken.groups
    if len(groups) > 1 and len(groups[0]) > 1:
        expected = taken.expected or (record.expected[0],) * len(taken.values)
        table = [[taken.values[k] - expected[k] for k in group] for group in groups]
        charts["range"] = mean_and_range(table, centre=0.0, rules=rules)[1]
    elif record.deviations.size > 1:
        charts["range"] = moving_range(record.deviations, sd=record.sd)
    charts["sums"] = cumulative_sums(record.deviations, centre=0.0, sd=record.sd)
    return charts


def _print(
    verdict: "CheckVerdict", charts: "dict[str, Chart]", against_standard: bool, rules: str
) -> None:
    import sys

    from canewright.cli import printing
    from canewright.laboratory.chart_drawing import sparkline
    from canewright.laboratory.run_rules import rule_sets

    screen = printing.console()
    record = verdict.record
    printing.paragraph(screen, record.instrument, style="bold")
    printing.paragraph(screen, verdict.words)
    if not against_standard:
        printing.paragraph(
            screen, "The file has no column 'expected': its own mean is the centre, so that a "
            "lasting error cannot show."
        )  # fmt: skip
    plain = (sys.stdout.encoding or "").lower().replace("-", "") not in ("utf8", "utf16")
    for chart in charts.values():
        unit = " sd" if chart is charts["sums"] else f" {record.unit}" if record.unit else ""
        printing.heading(screen, chart.kind)
        low, high = (
            printing.number(float(line[-1]), chart.sd) for line in (chart.lower, chart.upper)
        )
        printing.paragraph(screen, f"limits {low} to {high}{unit}", indent=2)
        room = max(10, screen.width - 4)
        printing.verbatim(screen, sparkline(chart, plain=plain, widest=room), indent=2)
    rows = [
        [chart.kind, told.words, _checks(found), _time(record, found[0]), told.look_for]
        for chart in charts.values()
        for told, found in _by_rule(chart)
    ]
    if rows:
        printing.heading(screen, "Signals")
        column = printing.Column
        headings = [
            column("chart", wrap=True), column("what", wrap=True), column("checks", wrap=True),
            column("first", wrap=True), column("look for", wrap=True),
        ]  # fmt: skip
        printing.table(screen, headings, rows)
    used = rule_sets()[rules]
    printing.paragraph(screen, "")
    often = ""
    if math.isfinite(used.in_control):
        often = f"; by chance once in {used.in_control:.0f} checks"
    printing.paragraph(screen, f"Rules: {used.words}{often} [{used.source}].")
    printing.paragraph(
        screen,
        f"For the balance: bias {printing.number(verdict.bias, verdict.bias_sd)} with standard "
        f"uncertainty {verdict.bias_sd:.2g}"
        + (f" {record.unit}" if record.unit else "")
        + " [muth1960].",
    )


def _by_rule(chart: "Chart") -> "list[tuple[Signal, list[int]]]":
    """Each rule that was broken, with all the points at which it was."""
    first: dict[tuple[str, str], tuple[Signal, list[int]]] = {}
    for signal in chart.signals:
        first.setdefault((signal.rule, signal.words), (signal, []))[1].append(signal.at)
    return list(first.values())


def _checks(places: Sequence[int]) -> str:
    """Numbers of checks, counted from 1, neighbours as a range."""
    runs: list[list[int]] = []
    for place in places:
        if runs and place == runs[-1][-1] + 1:
            runs[-1].append(place)
        else:
            runs.append([place])
    return ", ".join(
        f"{run[0] + 1}" if len(run) == 1 else f"{run[0] + 1} to {run[-1] + 1}" for run in runs
    )


def _time(record: "CheckRecord", at: int) -> str:
    return f"{record.times[at]:%Y-%m-%d %H:%M}"


def _for_json(
    verdict: "CheckVerdict", charts: "dict[str, Chart]", against_standard: bool
) -> dict[str, Any]:
    record = verdict.record
    return {
        "instrument": record.instrument,
        "unit": record.unit,
        "fit": verdict.fit,
        "finding": verdict.words,
        "against_standard": against_standard,
        "bias": {"mean": verdict.bias, "sd": verdict.bias_sd},
        "charts": [
            {
                "name": name,
                "kind": chart.kind,
                "centre": chart.centre,
                "sd": chart.sd,
                "plotted": chart.plotted,
                "below": chart.below,
                "lower": chart.lower,
                "upper": chart.upper,
                "signals": [
                    {
                        "check": signal.at + 1,
                        "time": _time(record, signal.at),
                        "rule": signal.rule,
                        "words": signal.words,
                        "look_for": signal.look_for,
                        "source": signal.source,
                    }
                    for signal in chart.signals
                ],
            }
            for name, chart in charts.items()
        ],
    }
