#!/usr/bin/env bash
# sheet_in_browser_test.sh PROGRAM CHROMIUM DATA WORK: the sheet of the demo's job takes one A4 when a browser prints it, and nothing of
# it lies beside a screen as narrow as a phone's (360 pixels, CSS).
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
program=$1 chromium=$2 data=$3 work=$4
rm -rf "$work" && mkdir -p "$work" && cd "$work"
job() { verb=$1; shift; "$program" job "$verb" "$@" --log log.db >said 2>&1 || { cat said; exit 1; }; }
job open "$data/shaft.toml" --rig "$data/rig.toml"
job spin "$data/00-as-found.flac"
job fit "A 15 g @ 0 deg" --as-typed
job spin "$data/01-trial-a.flac"
job fit "B 15 g @ 0 deg" --only --as-typed
job spin "$data/02-trial-b.flac"
job fit "A 36 g @ 265 deg" "B 15 g @ 0 deg" "B 26 g @ 110 deg" --only --as-typed
job spin "$data/03-verify.flac"
job close
for language in en de; do
  "$program" sheet MC-0417/1 --log log.db --out $language.html --language $language >/dev/null
  "$here/one_page_test.sh" "$chromium" "$work/$language.html" "$work/print-$language"
  cat >narrow.html <<PAGE
<title>not loaded</title><iframe id="sheet" style="width:360px;height:4000px;border:0" src="$language.html"
 onload="const page = this.contentDocument.documentElement; document.title = 'beside ' + (page.scrollWidth - page.clientWidth)"></iframe>
PAGE
  beside=$(timeout 60 "$chromium" --headless --no-sandbox --disable-gpu --user-data-dir="$work/profile" --allow-file-access-from-files \
            --virtual-time-budget=5000 --dump-dom "file://$work/narrow.html" 2>/dev/null | sed -n 's/.*<title>beside \([0-9]*\)<.*/\1/p')
  [ "$beside" = 0 ] || { echo "in $language '$beside' pixels lie beside a screen of 360"; exit 1; }
done
