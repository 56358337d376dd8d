#!/usr/bin/env python3
"""One spin, written in as many ways as recorders, spreadsheets and scripts write tables: tests/recording/dialects/make.py
makes the files beside it and cases.json, which says of each what is to come of it. The ways are common practice, no
source. The kept tables of what is taken for what (taken.txt) are written by the test itself: test_recording "[keep]".

The spin: 400 Hz, 1500 rpm, so 16 samples a turn and 7 turns; 2 g peak at a lag of 47 deg and 0.3 g at order 2; the tach
0 to 5 V, going up through half its height at the mark."""
import datetime
import json
import math
import pathlib

HERE = pathlib.Path(__file__).parent
RATE_HZ, ROWS, TURN = 400, 112, 16
G = 9.80665


def accel_g(k):
    turn = 2 * math.pi * k / TURN
    return 2.0 * math.cos(turn - math.radians(47)) + 0.3 * math.cos(2 * turn - 1.0) + 0.05


def tach_V(k):
    place = k % TURN
    return {15: 0.0, 0: 2.5, 1: 5.0, 2: 5.0, 3: 5.0, 4: 2.5}.get(place, 0.0)


SPIN = [(k / RATE_HZ, accel_g(k), tach_V(k)) for k in range(ROWS)]
CASES = []


def point(value, decimals=4):
    return f"{value:.{decimals}f}"


def comma(value, decimals=4):
    return point(value, decimals).replace(".", ",")


def grouped(value, decimals=4):
    return f"{value:,.{decimals}f}".replace(",", " ").replace(".", ",").replace(" ", ".")


def rows(separator=",", number=point, scale=1.0, time=lambda t: point(t), index=None, quoted=False, tail="", lead="",
         decimals=4):
    lines = []
    for k, (t, a, v) in enumerate(SPIN):
        cells = [time(t), number(a * scale, decimals), number(v, 2)]
        if index is not None:
            cells.insert(0, index(k))
        if quoted:
            cells = [f'"{cell}"' for cell in cells]
        lines.append(lead + separator.join(cells) + tail)
    return lines


def case(name, lines, accel="accel", tach="tach", end="\n", encoding="utf-8", mark=b"", rig="", rate=None, **refused):
    """refused: error= and remedy=, parts of the two sentences."""
    (HERE / name).write_bytes(mark + (end.join(lines) + end).encode(encoding))
    entry = {"file": name, "sensor": accel, "tach": tach}
    if rig:
        entry["recording"] = rig
    if rate:
        entry["sample_rate"] = rate
    CASES.append(entry | refused)


HEAD = "time (s),accel (g),tach (V)"

# Separators and decimal signs.
case("comma.csv", [HEAD] + rows())
case("semicolon-point.csv", [HEAD.replace(",", ";")] + rows(";"))
case("semicolon-comma.csv", [HEAD.replace(",", ";")] + rows(";", comma, time=comma))
case("tab-point.txt", [HEAD.replace(",", "\t")] + rows("\t"))
case("tab-comma.txt", [HEAD.replace(",", "\t")] + rows("\t", comma, time=comma))
case("blank.txt", ["time_s accel_g tach_V"] + rows(" "))
case("blank-comma.txt", ["time_s accel_g tach_V"] + rows(" ", comma, time=comma))
case("blanks-in-columns.txt", [f"{'time (s)':>12}{'accel (g)':>12}{'tach (V)':>12}"] +
     [f"{t:12.4f}{a:12.4f}{v:12.2f}" for t, a, v in SPIN])
case("blanks-and-tabs.txt", ["time_s\taccel_g\ttach_V"] + rows(" \t  "))
case("blanks-wide-names.txt", ["Elapsed time, s   left accel, g   tach signal, V"] + rows("   "),
     accel="left accel", tach="tach signal")
case("comma-blank.csv", ["time (s), accel (g), tach (V)"] + rows(", "))
case("quoted-comma.csv", ['"time (s)","accel (g)","tach (V)"'] + rows(",", comma, time=comma, quoted=True))
case("quoted-point.csv", ['"time (s)","accel (g)","tach (V)"'] + rows(",", quoted=True))
case("crlf.csv", [HEAD] + rows(), end="\r\n")
case("exponents.txt", ["time_s accel_g tach_V"] + [f"{t:.6e} {a:.6e} {v:.2e}" for t, a, v in SPIN])
case("grouped-thousands.csv", ["time (s);accel (mm/s2);tach (V)"] +
     rows(";", lambda x, d: grouped(x, 2), scale=1e3 * G, time=comma))
case("plus-signs.csv", [HEAD] + [f"{t:+.4f},{a:+.4f},{v:+.2f}" for t, a, v in SPIN])

# What stands above the rows.
case("sep-line.csv", ["sep=;", HEAD.replace(",", ";")] + rows(";"))
case("sep-line-quoted.csv", ['"sep=;"', HEAD.replace(",", ";")] + rows(";", comma, time=comma))
case("units-row.csv", ["time,accel,tach", "s,g,V"] + rows())
case("units-row-in-brackets.csv", ["time;accel;tach", "[s];[g];[V]"] + rows(";"))
case("units-row-ms.csv", ["time,accel,tach", "ms,g,V"] + rows(time=lambda t: point(1e3 * t, 1)))
case("units-row-with-dash.csv", ["time,accel,tach", "s,g,-"] + rows())
case("header-of-three-lines.csv", ["Marrow Creek Shaftworks, bay 2", "time,accel,tach", "s,g,V"] + rows())
case("header-of-many-lines.txt", ["Recorder of bay 2", "Operator:\tAnn", "Rate:\t400 Hz", "Samples:\t112", "",
                                  "time\taccel\ttach", "s\tg\tV"] + rows("\t"))
case("names-above-a-blank-line.csv", ["Marrow Creek Shaftworks", HEAD, ""] + rows())
case("comments-hash.csv", ["# Marrow Creek Shaftworks", "# bay 2", HEAD] + rows())
case("comments-percent.txt", ["% spin 7", "% bay 2", "time_s accel_g tach_V"] + rows(" "))
case("comments-semicolon.txt", ["; spin 7", "; bay 2", "time_s\taccel_g\ttach_V"] + rows("\t"))
case("comments-between.csv", [HEAD] + rows()[:50] + ["# pause"] + rows()[50:])
case("names-in-a-comment.txt", ["# time_s accel_g tach_V"] + rows(" "))
case("names-in-a-comment-comma.csv", ["# saved by a script", "# time (s), accel (g), tach (V)"] + rows())
case("no-names.txt", rows(" "), accel=2, tach=3, rig='time = "1"\ntime_unit = "s"\nunits = { 2 = "g" }')
case("no-names-no-time.csv", [",".join(line.split(",")[1:]) for line in rows()], accel=1, tach=2, rate="400 Hz",
     rig='units = { 1 = "g" }')

# What stands beside and below them.
case("separator-at-the-end.csv", [HEAD.replace(",", ";") + ";"] + rows(";", tail=";"))
case("separator-at-the-end-of-rows.csv", [HEAD] + rows(tail=","))
case("index-without-name.csv", ["," + HEAD] + rows(index=str))
case("index-named.csv", ["Sample," + HEAD] + rows(index=lambda k: str(k + 1)))
case("index-of-a-data-frame.txt", ['"time_s" "accel_g" "tach_V"'] + rows(" ", index=lambda k: f'"{k + 1}"'))
case("footer.csv", [HEAD] + rows() + ["End of recording"])
case("footer-of-lines.csv", [HEAD] + rows() + ["", "Statistics", "mean,0.05,1.25", "Recorded in bay 2"])
case("footer-ruled.txt", ["time_s accel_g tach_V"] + rows(" ") + ["-" * 40, "samples 112"])
case("footer-of-separators.csv", [HEAD.replace(",", ";")] + rows(";") + [";;", ";;"])

# How letters are written.
case("utf-8-mark.csv", [HEAD] + rows(), mark=b"\xef\xbb\xbf")
case("utf-16-le.csv", ["time (s)\taccel (m/s²)\ttach (V)"] + rows("\t", scale=G), encoding="utf-16-le", mark=b"\xff\xfe")
case("utf-16-be.csv", [HEAD] + rows(), encoding="utf-16-be", mark=b"\xfe\xff")
case("utf-16-no-mark.csv", [HEAD] + rows(), encoding="utf-16-le")
case("latin-1.csv", ["Zeit (µs);Beschl. vorn (m/s²);Drehgeber, rückwärts (V)"] +
     rows(";", comma, scale=G, time=lambda t: point(1e6 * t, 0)), accel="Beschl. vorn", tach="Drehgeber, rückwärts",
     encoding="latin-1")
case("greek-mu.csv", ["time (μs),accel (g),tach (V)"] + rows(time=lambda t: point(1e6 * t, 0)))

# Units.
case("unit-squared.csv", ["time (s),accel (m/s²),tach (V)"] + rows(scale=G))
case("unit-two-stars.csv", ["time (s),accel (m/s**2),tach (V)"] + rows(scale=G))
case("unit-caret.csv", ["time (s),accel [m/s^2],tach [V]"] + rows(scale=G))
case("unit-capital-g.csv", ["Time (sec),accel (G),tach (Volts)"] + rows())
case("unit-slash.csv", ["t/s;accel/g;tach/V"] + rows(";"))
case("unit-slash-brackets.csv", ["t / s;accel / (m/s²);tach / mV"] +
     [f"{t:.4f};{a * G:.4f};{v * 1e3:.0f}" for t, a, v in SPIN])
case("unit-suffix.csv", ["time_ms,accel_g,tach_V"] + rows(time=lambda t: point(1e3 * t, 1)))
case("unit-mg.csv", ["time (s),accel (mg),tach (V)"] + rows(scale=1e3, decimals=1))

# Times.
case("time-zeit.csv", ["Zeit [ms];accel [g];tach [V]"] + rows(";", comma, time=lambda t: comma(1e3 * t, 1)))
case("time-us.csv", ["Timestamp (us),accel (g),tach (V)"] + rows(time=lambda t: point(1e6 * t, 0)))
case("time-min.csv", ["time (min),accel (g),tach (V)"] + rows(time=lambda t: point(t / 60, 9)))
BEGAN = datetime.datetime(2026, 3, 5, 23, 59, 59, 900000)


def stamp(form, digits=4):
    def text(t):
        at = BEGAN + datetime.timedelta(microseconds=round(1e6 * t))
        return at.strftime(form).replace("%F", f"{at.microsecond:06d}"[:digits])
    return text


ISO = stamp("%Y-%m-%dT%H:%M:%S.%%F")
case("time-iso.csv", ["timestamp,accel (g),tach (V)"] + rows(time=ISO))
case("time-iso-zone.csv", ["timestamp,accel (g),tach (V)"] + rows(time=lambda t: ISO(t) + "Z"))
case("time-date-and-clock.txt", ["time accel_g tach_V"] + rows(" ", time=stamp("%Y-%m-%d %H:%M:%S.%%F")))
case("time-of-day.csv", ["Uhrzeit;accel (g);tach (V)"] + rows(";", comma, time=stamp("%H:%M:%S,%%F")))
case("time-day-first.csv", ["Zeit;accel (g);tach (V)"] + rows(";", comma, time=stamp("%d.%m.%Y %H:%M:%S,%%F")))
case("time-am-pm.csv", ["time,accel (g),tach (V)"] + rows(time=stamp("%I:%M:%S.%%F %p")))
case("time-date-column.csv", ["Date,Time,accel (g),tach (V)"] +
     [f"{stamp('%Y-%m-%d')(t)},{stamp('%H:%M:%S.%%F')(t)},{a:.4f},{v:.2f}" for t, a, v in SPIN])
EPOCH_S = 1772755199
case("time-epoch.csv", ["timestamp,accel (g),tach (V)"] + rows(time=lambda t: f"{EPOCH_S + t:.4f}"))
case("time-epoch-ms.csv", ["timestamp,accel (g),tach (V)"] + rows(time=lambda t: f"{1000 * EPOCH_S + 1000 * t:.1f}"))
case("time-epoch-ns.csv", ["time,accel (g),tach (V)"] + rows(time=lambda t: f"{1000000000 * EPOCH_S + round(1e9 * t)}"))
case("time-spreadsheet-days.csv", ["time,accel (g),tach (V)"] + rows(time=lambda t: f"{46086.25 + t / 86400:.11f}"))

# Overruled by the rig file.
case("stated-unit.csv", ["time,accel,tach"] + rows(time=lambda t: point(1e3 * t, 1)),
     rig='time_unit = "ms"\nunits = { accel = "g", tach = "V" }')
case("stated-time.csv", ["span,accel (g),tach (V)"] + rows(), rig='time = "span"\ntime_unit = "s"')
case("stated-first-row.csv", ["1,2,3", "4,5,6", "time (s),accel (g),tach (V)"] + rows(), rig="first_row = 4")
case("stated-no-time.csv", [HEAD] + rows(time=lambda t: "0"), rig='time = "none"', rate="400 Hz")

# Refused, with what to write.
case("refused-thousands.csv", ["time (s);accel (mm/s2);tach (V)"] +
     [f"{t:.4f}".replace(".", ",") + ";" + f"{a * G * 1e3:,.0f}".replace(",", ".") + f";{v:.0f}" for t, a, v in SPIN],
     error="line 2, column 2 ('accel') holds '15.456', which is not a number", remedy="write it as 15456")
case("refused-unit-in-cell.csv", ["time,accel,tach"] + [f"{t:.4f},{a:.4f} g,{v:.2f}" for t, a, v in SPIN],
     error="line 2, column 2 ('accel') holds '1.5761 g', which is not a number",
     remedy='write the number alone, and the unit into the column\'s name: "accel (g)"')
case("refused-word-column.csv", ["time (s),accel (g),state"] + [f"{t:.4f},{a:.4f},run" for t, a, v in SPIN],
     error="line 2, column 3 ('state') holds 'run', which is not a number",
     remedy="if column 'state' holds words, leave it out when you export")
case("refused-blanks-in-names.txt", ["left accel and tach of bay 2"] + rows(" "),
     error="line 1: 7 words where the rows below have 3 cells", remedy="time_s accel_g")
case("refused-bad-first-row.csv", [HEAD, "0.0000,broken,2.50"] + rows()[1:],
     error="line 2, column 2 ('accel') holds 'broken'", remedy="leave it out when you export")
case("refused-whole-seconds.csv", ["time,accel (g),tach (V)"] + rows(time=stamp("%H:%M:%S")),
     error="line 3: time stands still", remedy='time = "none"')
case("refused-cut-character.csv", [HEAD] + rows(), encoding="utf-16-le", mark=b"\xff\xfe",
     error="line 114 holds bytes that are no UTF-16LE", remedy="save it as CSV in UTF-8")
cut = HERE / "refused-cut-character.csv"
cut.write_bytes(cut.read_bytes() + b"\x0a")
case("refused-empty-last-cell.csv", [HEAD] + [line.rsplit(",", 1)[0] + "," for line in rows()],
     error="line 2, column 3 ('tach') is empty", remedy="put a number there")
case("refused-no-time.csv", ["step,accel (g),tach (V)"] + rows(),
     error="has no time column", remedy='write time = "step" and time_unit = "s"')

(HERE / "cases.json").write_text("[\n" + ",\n".join(json.dumps(one, ensure_ascii=False) for one in CASES) + "\n]\n")
print(len(CASES), "files,", sum((HERE / one["file"]).stat().st_size for one in CASES), "bytes")
