#!/usr/bin/env python3
"""'Print the sheet' prints it: one touch, and what comes out is the sheet of the command line, on paper of the same size.

usage: xvfb-run print_test.py PROGRAM DATA_FOLDER

In a Chromium with a window, since one without does not print, whose printer is a folder.
"""
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile

from selenium.webdriver.common.by import By

from chromium import browser, until
from console_program import Console

PROGRAM, DATA = sys.argv[1:3]


def job(log, *words):
    done = subprocess.run([PROGRAM, "job", *words, "--log", log], check=False, capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr


def words_of(pdf):
    return re.findall(r"\w+", subprocess.run(["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True, text=True).stdout)


def paper_of(pdf):
    size = re.search(r"Page size: +([\d.]+) x ([\d.]+)", subprocess.run(["pdfinfo", pdf], check=True, capture_output=True, text=True).stdout)
    return [round(float(each)) for each in size.groups()]


def main():
    folder = tempfile.mkdtemp()
    log, printer = f"{folder}/log.db", pathlib.Path(folder, "printer")
    printer.mkdir()
    job(log, "open", f"{DATA}/shaft.toml", "--rig", f"{DATA}/rig.toml")
    job(log, "spin", f"{DATA}/00-as-found.flac")
    job(log, "close", "--reason", "to be printed")
    to_a_file = {"recentDestinations": [{"id": "Save as PDF", "origin": "local", "account": ""}], "selectedDestinationId": "Save as PDF", "version": 2}
    page = browser(folder, window=True, arguments=["--kiosk-printing"], preferences={
        "printing.print_preview_sticky_settings.appState": json.dumps(to_a_file), "savefile.default_directory": str(printer)})
    try:
        with Console(PROGRAM, DATA, folder) as console:
            page.get(console.url)
            stuck = os.path.join(folder, "stuck.png")
            until(page, "the jobs", lambda: page.execute_script("return Boolean(state.now)"), stuck)
            page.execute_script("view('job', 'MC-0417/1')")
            until(page, "the button", lambda: page.find_element(By.CSS_SELECTOR, "a.main[href*='sheet.pdf']").is_displayed(), stuck)
            page.find_element(By.CSS_SELECTOR, "a.main[href*='sheet.pdf']").click()
            until(page, "the sheet", lambda: any(each.suffix == ".pdf" and each.stat().st_size > 0 for each in printer.iterdir()), stuck)
    finally:
        page.quit()
    paper, = printer.glob("*.pdf")
    subprocess.run([PROGRAM, "sheet", "MC-0417/1", "--log", log, "--out", f"{folder}/sheet.pdf"], check=True, capture_output=True)
    words = words_of(f"{folder}/sheet.pdf")
    assert len(words) > 100 and words_of(paper) == words, (len(words), paper)
    assert all(abs(one - other) <= 2 for one, other in zip(paper_of(paper), paper_of(f"{folder}/sheet.pdf"))), paper_of(paper)
    print(f"{len(words)} words printed")


main()
