"""The report: the numbers of the fit, every name escaped, nothing asked of anybody."""

import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from pypdf import PdfReader

import drift
from drift.errors import InputError
from drift.findings import Finding
from drift.logbook.records import RECORDS
from drift.logbook.rehearsals import Rehearsals
from drift.pairing.spoilt import Spoilt, SpoiltKind
from drift.regression.comparison import Comparison
from drift.regression.estimates import Estimate
from drift.report import Document, Made, compose, to_html
from drift.report.document import Items, Picture, Section, Table, Words
from drift.report.found import charts, in_numbers, in_short, residuals, warnings
from drift.report.material import Material
from drift.report.measured import left_out, measured, rehearsals
from drift.report.pdf import to_pdf
from drift.study import Study
from drift.words.fit import warning_text
from drift.words.gig_cautions import DEFER
from drift.words.numbers import interval, minus, number
from drift.words.report_fit import of_instrument
from drift.words.slide_table import legend, typed_travel
from tests.bands import band_season

HOSTILE = "<script>alert('1')</script>\"onload=x --> $\\frac{x$ &amp; _山"


class Page(HTMLParser):
    """Everything that a browser would act upon."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str]] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture(scope="module")
def season() -> Rehearsals:
    """Three rehearsals are enough here, one of them with a gap in its temperatures."""
    everything = drift.load(drift.shipped.folder("datasets/cold-hall-season"))
    return everything.only(rehearsals=[everything.names[i] for i in (0, 4, 7)])


@pytest.fixture(scope="module")
def material(season) -> Material:
    evidence = Study.open(season).report()
    return Material(**vars(evidence), zone=ZoneInfo("UTC"), made=Made())


@pytest.fixture(scope="module")
def report(season) -> Document:
    made = Made("drift report season --out x.html", {"Python": "3.11.0"})
    return compose(Study.open(season).report(), zone=ZoneInfo("Europe/Berlin"), made=made)


@pytest.fixture(scope="module")
def hostile(season) -> Document:
    def renamed(table: pd.DataFrame) -> pd.DataFrame:
        return table.replace({"Rowan": HOSTILE, season.names[0]: HOSTILE, "hall": HOSTILE})

    tables = {name: renamed(getattr(season, name)) for name in RECORDS}
    few = Rehearsals(**tables).only(rehearsals=[HOSTILE])
    return compose(Study.open(few).report(), title=HOSTILE, made=Made(HOSTILE, {HOSTILE: HOSTILE}))


CHECKS = "Appendix: how far the numbers can be relied on"


def section(document: Document, heading: str) -> Section:
    return next(part for part in document.sections if part.heading == heading)


def cells(part: Section) -> list[tuple[str, ...]]:
    return [row for block in part.blocks if isinstance(block, Table) for row in block.rows]


@pytest.mark.slow
def test_it_covers_everything_a_reader_asks_for(report):
    assert [part.heading for part in report.sections if part.heading != "Warnings"] == [
        "In short",
        "The fit in numbers",
        "Where the slides go",
        "What was measured",
        "Drift against temperature and playing time",
        "Each rehearsal",
        "What was left out",
        "With care",
        "Appendix: how far the numbers can be relied on",
        "What the fit leaves over",
        "How this was done",
    ]
    assert "instrument and player together" in report.text
    assert DEFER in report.text
    assert "drift report season --out x.html" in report.text
    assert not re.search(r"\bsafe(ly|ty)?\b", report.text, re.IGNORECASE)


def test_its_numbers_are_those_of_the_fit(report, material):
    rows = cells(section(report, "The fit in numbers"))
    horn = material.fit.kinds["double horn"].curve.entries()
    slope = horn["warm_cents_per_celsius"]
    assert (
        "slope of a warm instrument (cents/°C)",
        number(slope.estimate, 2),
        interval(slope, 2),
        f"{100 * slope.from_data:.0f} %",
    ) in rows
    minutes = horn["warm_up_time_constant_minutes"]
    to_be_warm = next(row for row in rows if row[0] == "95 % warm after playing (minutes)")
    assert to_be_warm[1] == f"{3 * minutes.estimate:.0f}"  # 1 - exp(-3) = 0.95
    hot = material.fit.change("double horn", celsius=31.0)
    said = f"{number(hot.estimate, 0)} cents sharp ({interval(hot, 0, sign=True)})"
    assert said in report.text


def test_thermometers_have_names_and_what_happened_to_them_is_plain(material):
    here = material.rehearsals
    odd = here.temperatures.index % 2 == 1
    device = here.temperatures.assign(source=np.where(odd, "typed", "/dev/ttyUSB0"))
    lines = [(here.temperatures["time"].iloc[0], here.names[0], "/dev/ttyUSB0", kind, "gone")
             for kind in ("away", "away", "dialect")]  # fmt: skip
    notices = pd.DataFrame(lines, columns=["time", "rehearsal", "source", "kind", "text"])
    moved = replace(material, rehearsals=replace(here, temperatures=device, notices=notices))
    said = next(block for block in measured(moved).blocks if isinstance(block, Items)).items
    assert said == (
        f"Thermometer: {sum(~odd)} temperatures.",
        f"Typed: {sum(odd)} temperatures.",
        "The thermometer did not answer, or was unplugged: 2 times.",
    )
    picture = next(block for block in rehearsals(moved).blocks if isinstance(block, Picture))
    legends = [ax.get_legend() for ax in picture.figure.axes]
    names = [text.get_text() for each in legends if each for text in each.get_texts()]
    assert "thermometer" in names
    assert not any("tty" in name for name in names)


def test_the_warm_up_has_its_interval_and_is_called_little_known_where_it_is():
    entries = {
        "warm_cents_per_celsius": Estimate(2.2, 1.0, 3.4),
        "warm_up_cents": Estimate(15.0, 9.0, 21.0),
        "warm_up_time_constant_minutes": Estimate(7.0, 5.0, 10.0, from_data=0.8),
    }
    known = "After 21 minutes of playing (15 to 30) it is 95 % warm."
    assert known in of_instrument("x", "Rowan", entries, {})[2]
    entries["warm_up_time_constant_minutes"] = Estimate(23.0, 10.0, 46.0, from_data=0.3)
    assert (
        "When it is 95 % warm is little known yet: after 30 to 138 minutes of playing."
        in of_instrument("x", "Rowan", entries, {})[2]
    )


def test_the_table_of_slides_says_what_the_other_sheets_say(report, material):
    table = next(b for b in section(report, "Where the slides go").blocks if isinstance(b, Table))
    for line in legend(material.tables[0], give_travel=typed_travel(material.tables[0])):
        assert minus(line) in table.caption


@pytest.mark.slow
def test_more_players_than_a_report_has_room_for_have_a_table_an_instrument(season, monkeypatch):
    monkeypatch.setattr("drift.slides.positions.MOST_TABLES", 2)
    mine = season.readings[season.readings["player"] == "Rowan"]
    readings = pd.concat([season.readings, mine.assign(player="Wren", cents=mine["cents"] + 1.0)])
    three = replace(season, readings=readings.sort_values("time").reset_index(drop=True))
    part = section(compose(Study.open(three).report()), "Where the slides go")
    captions = [block.caption for block in part.blocks if isinstance(block, Table)]
    assert [text.partition(", A4")[0] for text in captions] == ["B♭ trumpet, Isolde", "double horn"]
    assert "is in drift report --player NAME" in texts_of(part)
    alone = section(compose(Study.open(three).report(player="Rowan")), "Where the slides go")
    assert "double horn, Rowan" in texts_of(alone)
    assert "--player NAME" not in texts_of(alone)


def test_least_squares_has_its_own_numbers(season):
    paired = drift.pair(season)
    lines = drift.fit(paired, "least-squares").kinds["Bb trumpet"].curve.entries()
    document = compose(Study.open(season, method="least-squares").report())
    rows = cells(section(document, "The fit in numbers"))
    slope = lines["cents_per_celsius"]
    assert ("slope (cents/°C)", number(slope.estimate, 2), interval(slope, 2)) in [
        row[:3] for row in rows
    ]
    header = [
        block.header for block in section(document, CHECKS).blocks if isinstance(block, Table)
    ]
    assert any("Durbin-Watson" in names for names in header)
    assert "from data" not in document.text


def test_a_method_that_refused_is_named_beside_the_comparison(material):
    errors = pd.DataFrame(
        {
            "method": ["bayesian", "bayesian", "mixed", "mixed"],
            "rehearsal": ["7 May", "8 May"] * 2,
            "readings": [12, 14, 0, 0],
            "rms_cents": [3.0, 4.0, np.nan, np.nan],
            "refused": ["", "", *["mute cannot be told from the note"] * 2],
        }
    )
    *_, picture, said = residuals(replace(material, comparison=Comparison(errors))).blocks
    assert isinstance(picture, Picture)
    assert picture.alternative == "Errors on rehearsals not seen before, in cents: bayesian 3.6."
    assert said == Words("mixed, refused: mute cannot be told from the note.")


@pytest.mark.slow
def test_methods_can_be_compared(season):
    document = compose(Study.open(season).report(player="Isolde", compared=True))
    blocks = section(document, "What the fit leaves over").blocks
    shown = [one.alternative for one in blocks if isinstance(one, Picture)][-1]
    assert re.search(r"bayesian \d+\.\d, least-squares \d", shown)


def test_its_slide_tables_are_those_of_the_corrections(report, material):
    rows = cells(section(report, "Where the slides go"))
    moves = drift.correct(material.fit, "Bb trumpet", celsius=30.0, at={"main": 10.0})
    assert moves.moves[0].to_mm is not None
    trumpet = next(row for row in rows if row[0] == "30" and len(row) == 6)
    assert float(trumpet[4]) == round(2.0 * moves.moves[0].to_mm) / 2.0  # to half a millimetre


def test_what_is_entered_a_day_later_does_not_end_the_evening(material):
    """A slide that was forgotten is logged by going on with the rehearsal, and `end` again."""
    here, name = material.rehearsals, material.rehearsals.names[0]
    mine = here.events[here.events["rehearsal"] == name]
    late = mine.tail(1).assign(time=mine["time"].max() + pd.Timedelta(days=6), event="end")
    longer = replace(here, events=pd.concat([here.events, late]).reset_index(drop=True))
    table, later = (
        next(block for block in measured(one).blocks if isinstance(block, Table)).rows[0]
        for one in (material, replace(material, rehearsals=longer))
    )
    assert later == table


def test_what_was_measured_is_counted_and_timed(report, season):
    rows = cells(section(report, "What was measured"))
    name = season.names[0]
    first = next(row for row in rows if row[0] == name)
    readings = season.readings[season.readings["rehearsal"] == name]
    assert {row[0] for row in rows} == {*season.readings["rehearsal"], "Isolde", "Rowan"}
    assert first[1:4] == ("2026-01-13", "18:55 to 20:42", str(len(readings)))  # Berlin, winter
    rowan = next(row for row in rows if row[0] == "Rowan")
    assert rowan[1:4] == ("double horn", "B♭3 (B♭), F4 (B♭), C4 (F), F4 (F)", "main 12, F 8")


def test_slide_moves_are_listed(report):
    assert ("2026-01-13", "19:58", "Rowan", "main", "12", "6") in cells(
        section(report, "Each rehearsal")
    )


def test_readings_left_out_are_counted(material, season):
    part = left_out(material)
    assert ("no temperature within 10 minutes", "6") in cells(part)
    assert isinstance(part.blocks[0], Words)
    used = len(material.fit.rows)
    assert part.blocks[0].text == f"Used: {used} of {len(season.readings)} readings."
    assert used + 6 == len(season.readings)
    rows = material.fit.rows.assign(flagged=[True, *[False] * (used - 1)])
    part = left_out(replace(material, fit=replace(material.fit, rows=rows)))
    assert part.blocks[0].text.endswith(" readings, 1 of them flagged as unusual.")


def test_wild_readings_are_listed_by_time_and_player(material):
    rows = material.fit.rows.assign(weight=1.0)
    rows.loc[3, "weight"] = 0.01
    part = left_out(replace(material, fit=replace(material.fit, rows=rows)))
    wild = rows.loc[3]
    assert any(
        row[2] == wild["player"] and row[4] == number(wild["cents"], sign=True)
        for row in cells(part)
        if len(row) == 6
    )


UNSURE = Finding("one_rehearsal_assumed")
ONE_DAY = Finding("one_reading_a_day")


def test_warnings_are_repeated_once_each(material):
    twice = replace(material.fit, warnings=(UNSURE, UNSURE, ONE_DAY))
    part = warnings(replace(material, fit=twice))
    assert part is not None
    assert part.blocks == (Items((warning_text(UNSURE), warning_text(ONE_DAY))),)
    assert warnings(replace(material, fit=replace(material.fit, warnings=()))) is None


def test_what_the_tables_show_comes_before_the_warnings_of_the_fit(material):
    spoilt = (
        Spoilt(SpoiltKind.DUPLICATES, material.names[0], size=3),
        Spoilt(SpoiltKind.DUPLICATES, "another day", size=5),
    )
    one_day = replace(material, spoilt=spoilt, rehearsal=material.names[0])
    part = warnings(replace(one_day, fit=replace(material.fit, warnings=(UNSURE,))))
    assert part is not None
    copies = f"3 readings of {material.names[0]} are there twice. Remove the copies."
    assert part.blocks == (Items((copies, warning_text(UNSURE))),)


@pytest.mark.slow
def test_one_player_and_nobody_else(season):
    document = compose(Study.open(season).report(player="Isolde"))
    assert document.title == "Pitch and temperature: Isolde"
    assert "Rowan" not in document.text
    assert "double horn" not in document.text


@pytest.mark.slow
def test_one_rehearsal_shown_but_all_of_them_fitted(season):
    name = season.names[1]
    document = compose(Study.open(season).report(rehearsal=name))
    assert name in document.title
    assert document.subtitle.startswith(f"Shows {name}; the fit is of ")
    assert "in 3 rehearsals" in document.subtitle
    measured = cells(section(document, "What was measured"))
    assert [row[0] for row in measured] == [name, "Isolde", "Rowan"]


def test_a_rehearsal_without_usable_readings_is_said(material):
    empty = replace(material, names=("nothing here",))
    assert rehearsals(empty).blocks == (
        Words("None of its readings could be used; see what was left out."),
    )


def test_refusals(season):
    with pytest.raises(InputError, match="there is no rehearsal 'spring cleaning'"):
        Study.open(season).report(rehearsal="spring cleaning")
    with pytest.raises(InputError, match="there is no player 'Nobody'"):
        Study.open(season).report(player="Nobody")
    with pytest.raises(InputError, match="there are no readings to report"):
        Study.open(replace(season, readings=season.readings.iloc[:0])).report()


@pytest.mark.slow
def test_the_page_asks_nobody_for_anything(report):
    html = to_html(report)
    page = Page(html)
    assert not page.tags & {"script", "iframe", "object", "embed", "form", "base", "audio", "video"}
    links = [v for n, v in page.attributes if n in ("href", "src", "xlink:href", "action", "data")]
    assert links
    assert all(link.startswith("#") for link in links)
    assert all(found == "#" for found in re.findall(r"url\((.)", html))
    without_names = re.sub(r'xmlns(:\w+)?="[^"]*"', "", html)
    assert "://" not in without_names
    assert "@import" not in html
    assert ("content", "default-src 'none'; style-src 'unsafe-inline'; img-src data:") in (
        page.attributes
    )


def test_the_page_is_whole(report):
    page = Page(to_html(report))
    ids = [value for name, value in page.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    assert ("lang", "en") in page.attributes
    assert all(v for n, v in page.attributes if n == "aria-label")
    text = "".join(page.words)
    for part in report.sections:
        assert part.heading in text


def test_names_are_text_whatever_they_contain(hostile):
    html = to_html(hostile)
    page = Page(html)
    assert "script" not in page.tags
    assert not [name for name, _ in page.attributes if name.startswith("on")]
    assert HOSTILE in "".join(page.words)
    assert "<script" not in html


@pytest.mark.slow
def test_the_same_report_is_the_same_bytes(season):
    one = season.only(players=["Isolde"])
    first, second = (
        compose(Study.open(one).report(), made=Made("drift report", {"x": "1"})) for _ in range(2)
    )
    assert to_html(first) == to_html(second)
    assert to_pdf(first) == to_pdf(second)


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("letter", (612, 792))])
@pytest.mark.slow
def test_the_text_of_the_pdf_can_be_selected(report, paper, points):
    pdf = PdfReader(io.BytesIO(to_pdf(report, paper)))
    text = re.sub(r"\s+", " ", "\n".join(page.extract_text() for page in pdf.pages))
    for part in report.sections:
        assert part.heading in text
    assert "B♭ trumpet" in text
    for row in cells(section(report, "The fit in numbers")):
        assert row[1] in text
    box = pdf.pages[0].mediabox
    assert (round(box.width), round(box.height)) == points
    assert pdf.metadata is not None
    assert pdf.metadata.title == report.title


@pytest.mark.slow
def test_the_pdf_takes_any_name(hostile):
    pdf = PdfReader(io.BytesIO(to_pdf(hostile)))
    text = re.sub(r"\s+", " ", "\n".join(page.extract_text() for page in pdf.pages))
    assert "<script>alert('1')</script>" in text


@pytest.mark.slow
def test_no_name_is_too_long_for_a_page(season):
    name = "X" * 20_000
    one = season.only(players=["Isolde"])
    tables = {key: getattr(one, key).replace({"Isolde": name}) for key in RECORDS}
    document = compose(Study.open(Rehearsals(**tables)).report(), title=name)
    assert to_pdf(document).startswith(b"%PDF-")


def test_numbers_are_written_as_people_do():
    assert number(-0.04) == "0.0"
    assert number(-3.26, sign=True) == "−3.3"
    assert number(float("inf")) == "–"


def test_players_come_first_in_the_numbers_and_then_what_leans_on_assumptions(report, material):
    tables = [b for b in section(report, "The fit in numbers").blocks if isinstance(b, Table)]
    assert tables[0].caption == "Double horn: player by player"
    assert [row[0] for row in tables[0].rows] == [
        "Rowan",
        "the mean of all players",
        "a player who was not read yet",
    ]
    own = material.fit.kinds["double horn"].players["Rowan"].entries()["slow_cents_per_hour"]
    assert tables[0].rows[0][3] == f"{number(own.estimate)} ({interval(own)})"
    tables = [b for b in section(report, CHECKS).blocks if isinstance(b, Table)]
    doubled = next(table for table in tables if "priors doubled" in table.header)
    assert len(doubled.rows) == len(material.fit.sensitivity())


METHOD = "How this was done"


def how(document: Document) -> str:
    """Return what a report says of its method and its model."""
    blocks = section(document, METHOD).blocks
    return "\n".join(block.text for block in blocks if isinstance(block, Words))


def test_the_method_is_the_model_that_was_fitted(report, season):
    equation = "cents = a + b (A − 20) + r (E/14 − 1) + s h + q (T − 20)² + v + u + e"
    assert equation in how(report)
    assert "Each player has a slope, a rise and a slow drift of their own" in how(report)
    assert "the slopes of all kinds have a part in common" in how(report)
    assert "ovariate" not in how(report)
    assert "reach back to a moment that is never read" in how(report)
    assert "shared by all" not in how(report)
    alone = how(compose(Study.open(season.only(players=["Rowan"])).report()))
    assert "q (T − 20)² + u + e" in alone  # nothing tells everybody's rehearsal from a player's day
    assert "part in common" not in alone
    assert "everybody" not in alone


@pytest.mark.slow
def test_the_method_names_the_covariates(season):
    readings = season.readings
    keys = readings[["rehearsal", "time", "player", "note"]]
    beside = keys.assign(loud=np.random.default_rng(1).integers(0, 3, len(keys)))
    for method, effects in (("bayesian", "all instruments"), ("least-squares", "each kind")):
        study = Study(season, fitting={"method": method, "covariates": ("loud",)},
                      pairing={"beside": beside})  # fmt: skip
        made = compose(study.report())
        assert "The fit allows for loud" in texts_of(section(made, "In short"))
        said = how(made)
        assert f"Covariates, with effects for {effects}" in said
        assert ": loud." in said
        assert " + x′c" in said


@pytest.mark.slow
def test_the_method_of_straight_lines_is_theirs(season):
    lines = how(compose(Study.open(season, method="least-squares").report()))
    assert "cents = a + b T + d m + e" in lines
    assert "one line for all players" in lines
    assert "Standard errors: clustered by rehearsal, t with 2 degrees of freedom." in lines
    mixed = how(compose(Study.open(season, method="mixed").report()))
    assert "cents = a + b T + d m + u + e" in mixed
    assert "random effects of a player's day" in mixed


def test_the_rehearsals_of_a_report_share_one_scale(report):
    pictures = [b for b in section(report, "Each rehearsal").blocks if isinstance(b, Picture)]
    for place in (0, 1):
        assert len({picture.figure.axes[place].get_ylim() for picture in pictures}) == 1


def several(material: Material, method: str) -> Material:
    """Return what a report of a band of four trumpets is made of."""
    return replace(material, fit=drift.fit(band_season(3, 4, 4)[0], method))


def texts_of(part: Section) -> str:
    return Document("", "", (part,)).text


def test_the_answer_in_short_is_in_fahrenheit_where_that_is_asked(material):
    entries = {
        "warm_cents_per_celsius": Estimate(1.8, 0.9, 2.7),
        "warm_up_cents": Estimate(15.0, 9.0, 21.0),
        "warm_up_time_constant_minutes": Estimate(7.0, 5.0, 10.0, from_data=0.8),
    }
    new = entries | {"warm_cents_per_celsius": Estimate(1.8, 0.0, 3.6)}
    said = " ".join(of_instrument("x", "Rowan", entries, new, fahrenheit=True))
    assert "1.00 cents for each degree Fahrenheit of the room (95 % interval 0.50 to 1.50" in said
    assert "a player who was not read yet: 0.00 to 2.00" in said
    assert "it rises 15.0 cents at 68 °F" in said
    short = texts_of(in_short(replace(material, fahrenheit=True)))
    warmest = round(material.fit.celsius_range[1] * 1.8 + 32)
    assert f"Tuned warm at 68 °F and played warm at {warmest} °F, it is" in short
    assert "elsius" not in short
    assert "°C" not in short


def test_it_says_whose_interval_it_is_the_mean_of_all_players_first(material):
    band = several(material, "bayesian")
    kind = band.fit.kinds["Bb trumpet"]
    mean, new = (
        one.entries()["warm_cents_per_celsius"] for one in (kind.population, kind.new_player)
    )
    short = texts_of(in_short(band))
    assert "B♭ trumpet, the mean of all players: once it is warm, its pitch rises" in short
    assert (
        f"(95 % interval {interval(mean, 2)}; a player who was not read yet: {interval(new, 2)})"
    ) in short
    seen = round(band.fit.celsius_range[1])
    one, other = (
        interval(band.fit.change(celsius=seen, player=who), 0, sign=True) for who in (None, "new")
    )
    assert f"({one}; not read yet: {other})" in short
    table = next(
        b for b in in_numbers(band).blocks if "method bayesian" in getattr(b, "caption", "")
    )
    assert table.caption.startswith("B♭ trumpet, the mean of all players: ")
    assert table.header[2:4] == ("95 % interval", "95 %, not read yet")
    assert (interval(mean, 2), interval(new, 2)) in [row[2:4] for row in table.rows]
    caption = charts(band).blocks[0].caption
    assert "band of where the line of a player who was not read yet may lie" in caption


def test_an_answer_of_one_player_or_of_one_line_is_named_so(material):
    rowan = "Double horn, Rowan: once it is warm"
    assert rowan in texts_of(in_short(material))
    assert "not read yet" not in texts_of(in_short(material))
    assert "where the line of Rowan may lie" in charts(material).blocks[0].caption
    band = several(material, "least-squares")
    assert "B♭ trumpet, one line for all players: its pitch rises" in texts_of(in_short(band))
    assert "where the one line for all players may lie" in charts(band).blocks[0].caption


@pytest.mark.slow
def test_words_that_announce_a_list_stay_with_it_on_a_page():
    filler = Items(("x",) * 4)
    for lines in range(30, 70):  # wherever the page ends
        part = Section("Part", (Items(("y",) * lines), Words("Announced:"), filler))
        pages = PdfReader(io.BytesIO(to_pdf(Document("Autumn", "", (part,))))).pages
        texts = [page.extract_text() for page in pages]
        assert all("x" in text for text in texts if "Announced:" in text)
