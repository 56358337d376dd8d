#!/usr/bin/env bash
# one_page_test.sh CHROMIUM FILE WORK: the operator's page is one page when it is printed.
set -euo pipefail
mkdir -p "$3"
timeout 60 "$1" --headless --no-sandbox --disable-gpu --user-data-dir="$3/profile" --no-pdf-header-footer --print-to-pdf="$3/page.pdf" "file://$2" >/dev/null 2>&1
pages=$(pdfinfo "$3/page.pdf" | sed -n 's/^Pages: *//p')
[ "$pages" = 1 ] || { echo "it takes $pages pages"; exit 1; }
