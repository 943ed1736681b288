"""In a report in another language no English sentence or label is left.

Every string of the catalogue is written in letters of another script, as a translation would; what
is in Latin letters then was not translated. Left as they are written: what the user named
(factory, streams, stations, vessels, points, instruments, shifts, files, notes), units of
measurement, names of people in names of formulas, equations as their source writes them, the
titles of sources, and the names of the program and of its commands.
"""

import dataclasses
import gettext
import re
import string
from datetime import UTC, date, datetime, timedelta
from html.parser import HTMLParser

import pytest

from canewright.account import balance
from canewright.account.remarks import Remark
from canewright.account.season import balance_season
from canewright.engine.chain.watch import Call
from canewright.files.plan import PlannedSpan
from canewright.files.stops import Stop
from canewright.laboratory import standing
from canewright.laboratory.check_samples import CheckRecord
from canewright.laboratory.instruments import Overdue
from canewright.laboratory.plausibility import alarms
from canewright.report import catalogue, making
from canewright.report.content import Letterhead
from canewright.report.making import report_on
from canewright.report.page import as_page
from canewright.report.pdf import for_page
from canewright.report.same_again import carried
from canewright.report.words import FORM, forms, speaking, told

OTHER = "".join(chr(0x430 + k) for k in range(26)) + "".join(chr(0x410 + k) for k in range(26))
LETTERS = str.maketrans(string.ascii_letters, OTHER)
FIELD = re.compile(r"(\{[^}]*\})")
LATIN = {
    *("Deerr", "Smith", "Shewhart"),
    *("canewright", "SHA"),
    *("mg", "kg", "GJ", "MJ", "kW", "kPa", "bar", "abs", "IU", "ha", "degC", "cm", "mm", "ppm"),
}
"""People, the program, and symbols of units."""


class Foreign(gettext.NullTranslations):
    """Translates all that the catalogue holds, and nothing else."""

    known = frozenset(text for entry in catalogue.entries() for text in entry if text)

    def gettext(self, message):
        if message not in self.known:
            return message
        parts = FIELD.split(message)
        return "".join(p if FIELD.fullmatch(p) else p.translate(LETTERS) for p in parts)

    def ngettext(self, one, many, count):
        return self.gettext(one if count == 1 else many)


class Shown(HTMLParser):
    """The text of a page and what is told of its pictures, but for equations and data."""

    def __init__(self):
        super().__init__()
        self.texts, self.open = [], []

    def handle_starttag(self, tag, attributes):
        if tag not in ("meta", "br", "link"):
            self.open.append(tag)
        self.texts += [v for name, v in attributes if name in ("aria-label", "title", "alt")]

    def handle_endtag(self, tag):
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, text):
        if not {"script", "style", "code", "em"} & set(self.open):
            self.texts.append(text)


def left_in_english(texts, names):
    """Words in Latin letters with what stands before them, once names are taken out."""
    names = sorted({name for name in names if name}, key=len, reverse=True)
    fits = re.compile("|".join(rf"(?<!\w){re.escape(name)}(?!\w)" for name in names))
    # In pictures a name stands in several lines, and stations that are numbered as a row.
    text = re.sub(r"\s+", " ", re.sub(r"\d–\d", "", " ".join(texts)))
    plain = fits.sub("", re.sub(r"\S+\.(csv|toml)\b|\b[0-9a-f]{12,}\b", "", text))
    found = re.finditer(r"[A-Za-z][A-Za-z']+", plain)
    return {plain[max(0, word.start() - 40) : word.end()] for word in found if word[0] not in LATIN}


def names_of(factory, model):
    """All that the user named."""
    flow = model.flowsheet
    found = [factory.name, *flow.streams, *model.states, *(main.name for main in flow.mains)]
    found += [placed.name for placed in flow.placed]
    found += [*(instrument.name for instrument in factory.instruments), *factory.products]
    found += [instrument.name.rpartition(" ")[0] for instrument in factory.instruments]
    found += [name.replace("_", " ") for name in factory.points]
    found += [name.rstrip("0123456789 ") for name in found]
    return [*found, *(name[:1].upper() + name[1:] for name in found)]


@pytest.fixture(scope="module")
def abroad():
    """Reports are made in the other language."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(making, "translation", lambda *_given: Foreign())
        yield


def check(report, names):
    parser = Shown()
    parser.feed(as_page(report).decode())
    page = for_page(report, carried(report))
    texts = [*parser.texts, *report.words.values(), *page["files"], page["engine"]]
    titles = [source.text for source in report.sources]
    assert left_in_english(texts, [*names, *titles]) == set()


@pytest.fixture(scope="module")
def doubtful(made_up, tmp_path_factory):
    """A shift with a wild weight, a reading that does not count and one that came late."""
    rows = (made_up / "readings.csv").read_text(encoding="utf-8").splitlines()
    place = next(k for k, row in enumerate(rows) if row.startswith("mixed_juice,weight,"))
    cells = rows[place].split(",")
    cells[2] = f"{float(cells[2]) * 1.2:.1f}"
    rows[place] = ",".join(cells)
    path = tmp_path_factory.mktemp("doubtful") / "readings.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def spoken_account(made_up, doubtful):
    with speaking(Foreign()):
        account = balance(made_up / "factory.toml", doubtful)
    assert account.suspects.findings
    wet = alarms({("wet raw sugar", "pol"): 99.0, ("wet raw sugar", "moisture"): 0.5})
    assert wet
    return dataclasses.replace(account, remarks=[Remark("alarm", words) for words in wet])


@pytest.mark.parametrize("kind", ["shift", "balance", "laboratory"])
def test_a_report_on_a_shift_is_translated_whole(made_up, doubtful, spoken_account, abroad, kind):
    files = made_up / "factory.toml", doubtful
    report = report_on(kind, *files, Letterhead(), balanced=lambda *_files: spoken_account)
    model = spoken_account.estimate.model
    names = names_of(spoken_account.factory, model)
    check(report, [*names, spoken_account.shift.name, *map(str, files)])


@pytest.fixture(scope="module")
def faulty(made_up, tmp_path_factory):
    """A season with stops, a plan, a drift, a jump of stock and a file that was left out."""
    folder = tmp_path_factory.mktemp("faulty")
    files = sorted((made_up / "season").glob("*.csv"))
    for path in files:
        text = path.read_text(encoding="utf-8")
        if path == files[1]:
            text = re.sub(r"(?m)^(final_molasses_tank_closing,volume_held),[^,]*", r"\1,650", text)
        (folder / path.name).write_text(text, encoding="utf-8")
    (folder / "z.csv").write_text(files[0].read_text(encoding="utf-8"), encoding="utf-8")
    with speaking(Foreign()):
        season = balance_season(made_up / "factory.toml", folder, keep=False)
    assert season.jumps
    assert season.files.left
    start = season.results[0].start + timedelta(hours=1)
    day = start.date()
    return dataclasses.replace(
        season,
        stops=[Stop(start, 1.5, "mechanical", ""), Stop(start, 0.5, "rain", "")],
        plan=[PlannedSpan(day, day + timedelta(days=9), 50000.0, 5000.0, 84.0, 200.0)],
        calls=(
            Call("juice scale", "drift", 1, 2, 1.5, 0.2, 30.0, 20.0, 2, ("weighbridge",)),
            Call("juice scale", "step", 1, 2, 1.5, 0.2, 30.0, 20.0, 2, ()),
        ),
        skipped=[("shift 4", "The file does not tell when its shift began.")],
    )


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["day", "week", "fortnight", "month", "season", "time"])
def test_a_report_on_a_period_is_translated_whole(made_up, faulty, abroad, tmp_path, kind):
    folder = tmp_path / "season"
    folder.mkdir()
    for name in ("a.csv", "stops.csv"):
        (folder / name).write_text("", encoding="utf-8")
    files = made_up / "factory.toml", folder
    report = report_on(kind, *files, Letterhead(), seasoned=lambda *_asked: faulty)
    names = names_of(faulty.factory, faulty.prepared.model)
    shifts = [result.name for result in faulty.results]
    check(report, [*names, *shifts, "shift 4", *map(str, files)])


def in_other_letters(sentence, names):
    """What is left in English of a sentence, but what it quotes and the names of columns."""
    with speaking(Foreign()):
        return left_in_english([re.sub("'[^']*'", "", told(sentence))], [*names, *COLUMNS])


def test_what_is_said_of_files_left_out_is_translated(made_up, tmp_path):
    season = sorted((made_up / "season").glob("*.csv"))
    whole = season[0].read_text(encoding="utf-8")
    other = re.sub(r"(?m)^([a-z]\w+),", r"other_\1,", whole).replace("other_shift", "shift")
    files = {
        "a.csv": whole,
        "b.csv": whole,
        "c.csv": whole.replace("shift,start", "shift,begin"),
        "d.csv": other.replace("other_point", "point"),
        "e.csv": "",
        "f.csv": whole.replace("shift,start,", "shift,start,x"),
        "g.csv": re.sub(r"(?m)^(syrup,brix),[^,]*,", r"\1,6.2,", whole),
        "h.csv": re.sub(r"(?m)^(cane,weight),[^,]*,", r"\1,-3,", whole),
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "i.xlsx").write_bytes(b"no workbook")
    account = balance_season(made_up / "factory.toml", tmp_path, keep=False)
    assert len(account.files.left) == len(files)
    names = names_of(account.factory, account.prepared.model)
    found = {
        item.file: left
        for item in account.files.left
        if (left := in_other_letters(" ".join(item.sentences), names))
    }
    assert found == {}


COLUMNS = ("point", "analysis", "value", "unit", "method", "time", "note", "start", "hours", "name")
MOMENT = datetime(2026, 8, 14, 6, tzinfo=UTC).replace(tzinfo=None)


@pytest.mark.parametrize(
    "sentence",
    [
        *alarms({("syrup", "pol"): 66.0, ("syrup", "brix"): 60.0}),
        *alarms({("bagasse", "pol"): 0.4}),
        *alarms(
            {("bagasse", "moisture"): 50.0, ("bagasse", "fibre"): 47.0, ("bagasse", "brix"): 5.0}
        ),
        standing.stated(
            "juice scale", "% of value", 0.1, Overdue("juice scale", date(2026, 1, 1), 12, 1.4)
        ).words,
        standing.certified(standing.stated("juice scale", "t", 0.1), 2.0, 0.1, "K 17").words,
        standing.certified(standing.stated("juice scale", "t", 0.1), 0.0, 0.1, "").words,
        standing.checked(
            standing.stated("juice scale", "t", 0.1),
            CheckRecord(
                "juice scale",
                (0.1, 0.0, -0.1, 0.1, 0.0, 2.0),
                (0.0,) * 6,
                "t",
                tuple(MOMENT + timedelta(days=k) for k in range(6)),
            ),
            MOMENT + timedelta(days=6),
        ).words,
    ],
)
def test_what_the_laboratory_says_is_translated(sentence):
    names = {"syrup", "bagasse", "juice scale"}
    assert in_other_letters(sentence, names) == set()


def test_forms_are_found_by_the_longest_that_fits():
    texts = [form.text for form in forms()]
    assert "purity of {name}" in texts
    assert len(set(texts)) == len(texts)
    with speaking(Foreign()):
        assert told("purity of my syrup") == f"{'purity of'.translate(LETTERS)} my syrup"
        assert told("my own name") == "my own name"
        assert told("") == ""


def test_every_form_stands_in_the_catalogue_with_its_mark():
    template = catalogue.template()
    assert template.count(FORM) == len(forms())
