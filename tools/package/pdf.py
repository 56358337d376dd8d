#!/usr/bin/python3
"""pdf.py FOLDER NAME…: FOLDER/NAME.html as FOLDER/NAME.pdf. Nothing in it says where or when it was made: pictures and links are
taken by names that hold on every machine."""
import pathlib
import re
import sys

import weasyprint

folder = pathlib.Path(sys.argv[1])
base = "manuals:/"


def fetch(url):
    path = folder / url.removeprefix(base)
    return {"file_obj": path.open("rb"), "mime_type": {".png": "image/png", ".css": "text/css"}[path.suffix]}


for name in sys.argv[2:]:
    text = (folder / f"{name}.html").read_text()
    text = re.sub(r'<a href="(?!https?:)[^"]*">(.*?)</a>', r"\1", text)  # on paper there is nothing to follow
    weasyprint.HTML(string=text, base_url=base, url_fetcher=fetch).write_pdf(folder / f"{name}.pdf")
