#!/usr/bin/env bash
# manuals_test.sh PROGRAM SOURCE WORK: the manuals are whole, each link and picture is there, and made twice they are the same.
set -euo pipefail
program=$1 source=$2 work=$3
fail() { echo "$*" >&2; exit 1; }
rm -rf "$work" && mkdir -p "$work"
"$source/tools/package/manuals" "$program" "$source" "$work/once"
for name in index operator inspector analyst rig-owner engineer tour files commands; do
  [ -s "$work/once/$name.html" ] || fail "there is no $name.html"
done
cd "$work/once"
for page in *.html; do
  for there in $(grep -oE '(href|src)="[^":#]+"' "$page" | sed 's/.*="//; s/"//' | sort -u); do
    [ -s "$there" ] || fail "$page names $there, which is not there"
  done
  if grep -q '\.\./' "$page"; then fail "$page names what lies elsewhere"; fi
done
grep -q '<td><code>clipped</code></td>' analyst.html || fail "a table did not become one"
grep -q 'straightness.station' files.html || fail "the reference of files is not there"
if command -v weasyprint >/dev/null; then
  for page in *.html; do
    [ "$page" = index.html ] || pdfinfo "${page%.html}.pdf" >/dev/null || fail "$page has no PDF"
  done
  [ "$(pdfinfo operator.pdf | sed -n 's/^Pages: *//p')" = 1 ] || fail "the operator's page takes more than one"
  if pdffonts inspector.pdf | tail -n +3 | awk '{print $(NF-4)}' | grep -qv yes; then fail "a font is not embedded"; fi
  if grep -alE 'file://|CreationDate' ./*.pdf; then fail "that tells where or when it was made"; fi
  "$source/tools/package/manuals" "$program" "$source" "$work/again"
  diff -r "$work/once" "$work/again" || fail "made twice they differ"
fi
