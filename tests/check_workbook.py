"""Opens the savings report's workbook and PDF with other programs and compares their numbers with
the report's JSON: openpyxl reads, LibreOffice computes the formulas anew, pdftotext reads the PDF.

Usage: check_workbook.py BASE_URL MANAGER_TOKEN MEMBER_TOKEN
"""

import datetime
import io
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import urllib.request
import zipfile

import openpyxl

base, manager, member = sys.argv[1:]
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
PDF = "application/pdf"


def get(path, token, accept="application/json"):
    headers = {"authorization": f"Bearer {token}", "accept": accept}
    with urllib.request.urlopen(urllib.request.Request(base + path, headers=headers)) as answer:
        assert answer.headers["content-type"].split(";")[0] == accept, answer.headers["content-type"]
        return answer.read()


def report(month, token):
    return json.loads(get(f"/v1/reports/savings?month={month}", token))


def month_before(month):
    year, number = map(int, month.split("-"))
    return f"{year - 1}-12" if number == 1 else f"{year}-{number - 1:02}"


months = [month_before(datetime.date.today().strftime("%Y-%m"))]
while len(months) < 4:
    months.insert(0, month_before(months[0]))
reports = {month: report(month, manager) for month in months}
path = f"/v1/reports/savings-workbook?from={months[0]}&to={months[-1]}"
book = get(path, manager, XLSX)
assert book == get(path, manager, XLSX), "the same workbook twice"

# --- the workbook as it is --------------------------------------------------------------------
HEAD = 4  # row of the headings
OWN = ("Totals", "Notes", "Adjustments")  # sheets that are no area's
COUNTS = ("Lines with a number", "Lines that saved", "Lines that lost", "Lines without a number")
SUMS = {  # heading without the currency: name in the report
    "Animal-days": "animal_days", "Baseline: eaten without fodder": "baseline_cost",
    "Bought feed eaten": "eaten_cost", "Feed saved": "feed_saving", "Seed": "seed_cost",
    "Other costs": "other_cost", "Depreciation": "depreciation", "Saving (loss -)": "saving",
    "Saving, % of the baseline": "saving_percent_of_baseline",
    "Feed bought in the month": "bought_cost",
    "Fresh fodder fed, kg": "fresh_fodder_fed_kg", "Trays spread": "trays_started",
    "Trays fed unweighed": "trays_fed_unweighed", "Trays discarded": "trays_discarded", "Trays discarded, %": "trays_discarded_percent",
    "Milk, litres": "milk_litres", "Eggs": "eggs",
}
# Facts are summed over all lines, money over those with a number.
MONEY = list(SUMS)[:9]
LINE = {
    "Status": "status", "Baseline: eaten without fodder": "baseline_cost",
    "Bought feed eaten": "eaten_cost", "Feed saved": "feed_saving", "Saving (loss -)": "saving",
    "Net (loss -)": "net",
}


def lines_of(month, area=None):
    """A line a farm and class of animals."""
    farms = reports[month]["farms"]
    return [(f, e) for f in farms if area in (None, f["area"]) for e in f["enterprises"]]


def counts_of(month, area):
    """Lines with a number, that saved, that lost, without a number."""
    lines = [e for _, e in lines_of(month, None if area == "All areas" else area)]
    has = [e for e in lines if e["saving"] is not None]
    saved = sum(e["saving_interval"]["low"] > 0 for e in has)
    lost = sum(e["saving_interval"]["high"] < 0 for e in has)
    return [len(has), saved, lost, len(lines) - len(has)]


currency = reports[months[0]]["currency"]


def rows(sheet):
    heads = [str(c.value).removesuffix(f", {currency}") for c in sheet[HEAD]]
    for row in sheet.iter_rows(min_row=HEAD + 1):
        yield dict(zip(heads, row))


def month_of(cell):
    return cell.value.strftime("%Y-%m") if isinstance(cell.value, datetime.datetime) else None


def near(found, wanted, digits, what):
    assert isinstance(found, (int, float)), (what, found, wanted)
    assert abs(found - wanted) <= 0.51 * 10**-digits, (what, found, wanted)


def recorded(month, area, head):
    """Whether a line that is summed has a number in the column of an area's sheet (of a ratio: in
    that which is divided)."""
    counted = lambda r: head not in MONEY or r["Saving (loss -)"].value is not None
    of = lambda r: month_of(r["Month"]) == month and counted(r)
    head = {"Saving, % of the baseline": "Saving (loss -)",
            "Trays discarded, %": "Trays discarded"}.get(head, head)
    sheets = [n for n in kept.sheetnames if n not in OWN] if area == "All areas" else [area]
    return any(r[head].value is not None for n in sheets for r in rows(kept[n]) if of(r))


def check_totals(sheet, whence):
    """Each area and month as the report says, and the month's sum as the report's total."""
    seen, cells = set(), 0
    for row in rows(sheet):
        month, name = month_of(row["Month"]), row["Area"].value
        if month is None:
            continue
        wanted = reports[month]
        total = wanted["total"] if name == "All areas" else next(
            a for a in wanted["areas"] if a["name"] == name)
        seen.add((month, name))
        found = [row[head].value for head in COUNTS]
        assert found == counts_of(month, name), (whence, month, name, found)
        for head, figure in SUMS.items():
            found, figure_wanted = row[head].value, total[figure]
            if figure_wanted is None or not recorded(month, name, head):
                # The report's JSON adds up to 0 what nobody recorded; here it stays empty.
                assert found in (None, "") and not figure_wanted, (whence, month, name, head, found)
            else:
                # The report rounds ratios to a tenth.
                near(found, figure_wanted, 1 if "percent" in figure else 3, (whence, month, name, head))
                cells += 1
    for month, wanted in reports.items():
        assert (month, "All areas") in seen
        for area in wanted["areas"]:
            assert (month, area["name"]) in seen, (month, area["name"])
    return cells


formulas = openpyxl.load_workbook(io.BytesIO(book))
kept = openpyxl.load_workbook(io.BytesIO(book), data_only=True)
assert formulas.sheetnames[0] == "Totals" and formulas.sheetnames[-1] == "Notes"
for row in rows(formulas["Totals"]):
    for head in SUMS:
        if row["Area"].value:
            assert row[head].data_type == "f", (row["Area"].value, head, row[head].value)
checked = check_totals(kept["Totals"], "kept results")

farms = 0
for name in kept.sheetnames:
    sheet = kept[name]
    assert len(name) <= 31 and not re.search(r"[\[\]:*?/\\]", name), name
    if name in OWN:
        continue
    assert sheet.freeze_panes and sheet.print_title_rows == f"${HEAD}:${HEAD}"
    assert sheet.page_setup.orientation == "landscape"
    for row in rows(sheet):
        month = month_of(row["Month"])
        known = (row["Farm"].value, row["Class of animals"].value)
        farm, line = next((f, e) for f, e in lines_of(month)
                          if (f["farm"], e["enterprise"].replace("_", " ")) == known)
        assert row["Member"].value == farm["member_name"]
        for head, figure in LINE.items():
            found = row[head].value
            assert found == line[figure], (month, known, head, found, line[figure])
        # What is missing is empty, and the status says so.
        assert (row["Saving (loss -)"].value is None) == (line["status"] not in ("estimated", "ration_only"))
        assert row["Member"].data_type == "s"
        farms += 1
assert farms == sum(len(lines_of(m)) for m in reports)

with tempfile.TemporaryDirectory() as folder:
    folder = pathlib.Path(folder)

    # --- computed anew by LibreOffice -------------------------------------------------------------
    def bare(book, file):
        """Without the kept results, so that every number below is LibreOffice's own."""
        gone = 0
        with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(folder / file, "w") as new:
            for name in old.namelist():
                data, count = re.subn(rb"</f><v>[^<]*</v>", b"</f>", old.read(name))
                gone += count
                new.writestr(name, data)
        return gone

    assert bare(book, "bare.xlsx") > checked, checked
    def computed(name):
        subprocess.run(
            ["soffice", f"-env:UserInstallation=file://{folder}/profile", "--headless",
             "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", folder / "out",
             folder / name],
            check=True, timeout=120, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        return openpyxl.load_workbook(folder / "out" / name, data_only=True)

    again = computed("bare.xlsx")
    assert check_totals(again["Totals"], "LibreOffice") == checked
    for sheet in again:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "e", (sheet.title, cell.coordinate, cell.value)

    # In Kiswahili the same numbers under other words.
    bare(get(path + "&language=sw", manager, XLSX), "sw.xlsx")
    other = computed("sw.xlsx")
    assert len(other.sheetnames) == len(again.sheetnames) and "Jumla" in other.sheetnames

    def numbers(sheet):
        return [[c.value for c in r if isinstance(c.value, (int, float))] for r in sheet.iter_rows()]

    def words(sheet):
        return {c.value for r in sheet.iter_rows() for c in r if isinstance(c.value, str)}

    assert numbers(other.worksheets[0]) == numbers(again["Totals"])
    names = {a["name"] for r in reports.values() for a in r["areas"]} | {""}
    assert not (words(other.worksheets[0]) & words(again["Totals"]) - names), "an English word"

    # --- the PDF ----------------------------------------------------------------------------------
    def text_of(pdf):
        file = folder / "report.pdf"
        file.write_bytes(pdf)
        run = lambda *args: subprocess.run(args, check=True, capture_output=True, text=True).stdout
        info = dict(line.split(":", 1) for line in run("pdfinfo", file).splitlines() if ":" in line)
        text = run("pdftotext", "-layout", "-enc", "UTF-8", file, "-")
        return info, text.replace("\u202f", " ").replace("\u00a0", " ")

    def money(value):
        digits = f"{abs(value):.0f}"
        if len(digits) > 4:
            digits = f"{int(digits):,}".replace(",", " ")
        return ("\u2212" if value < 0 and digits.strip("0") else "") + digits

    for month, wanted in reports.items():
        path = f"/v1/reports/savings?month={month}"
        pdf = get(path, manager, PDF)
        assert pdf == get(path, manager, PDF), "the same PDF twice"
        info, text = text_of(pdf)
        keeps = [f for f in wanted["farms"] if (f["spoilage_status"] or "").startswith("recurring")]
        said = re.search(r"Farms where trays keep spoiling\s+(\d+)", text)
        assert said and int(said[1]) == len(keeps), ("farms that keep spoiling", said, len(keeps))
        assert info["Tagged"].strip() == "yes" and month in info["Title"], info
        pages = int(info["Pages"])
        for page in range(1, pages + 1):
            assert f"page {page} of {pages}" in text
        first = text.split("\f")[0]
        total = wanted["total"]
        if total["saving"] is not None:
            for figure in ("saving", "baseline_cost", "eaten_cost"):
                assert money(total[figure]) in first, (month, figure, money(total[figure]))
            interval = total["saving_interval"]
            if interval:
                assert f"{money(interval['low'])} to {money(interval['high'])}" in first, month
        for line in wanted["farms"]:
            found = next(t for t in text.splitlines() if line["member_number"] in t)
            want = money(line["saving"]) if line["saving"] is not None else "no number"
            assert want in found, (month, line["member_number"], want, found)
        assert "mouldy" in text.split("\f")[pages - 1]

    # --- as a member: the own farm and nobody else ------------------------------------------------
    own = {f["member_number"] for f in report(months[-1], member)["farms"]}
    others = {f["member_number"] for f in reports[months[-1]]["farms"]} - own
    assert len(own) == 1 and others, (own, others)
    path = f"/v1/reports/savings?month={months[-1]}"
    mine = openpyxl.load_workbook(io.BytesIO(get(path, member, XLSX)), data_only=True)
    words = {str(c.value) for sheet in mine for row in sheet.iter_rows() for c in row}
    _, text = text_of(get(path, member, PDF))
    assert own <= words and not (others & words)
    assert all(o in text for o in own) and not any(o in text for o in others)

print(f"{checked} sums of {len(months)} months equal in the workbook, in LibreOffice and in JSON; "
      f"{farms} lines; PDF of each month agrees")
