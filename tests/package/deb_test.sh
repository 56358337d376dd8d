#!/usr/bin/env bash
# deb_test.sh BUILD SOURCE WORK [PYTHON]: the Debian packages hold what they should, and what is unpacked of them works where it
# lies; with a Python, that for Python too.
set -euo pipefail
build=$1 source=$2 work=$3 python=${4-}
rm -rf "$work" && mkdir -p "$work/root"
(cd "$build" && cpack -G DEB -B "$work" >"$work/cpack.log" 2>&1) || { cat "$work/cpack.log"; exit 1; }
deb=$(ls "$work"/counterspot_*.deb)

if git -C "$source" log -1 >/dev/null 2>&1; then  # whose time the files bear
  (cd "$build" && cpack -G DEB -B "$work/again" >"$work/cpack.log" 2>&1)
  for package in "$work"/again/*.deb; do
    cmp "$package" "$work/$(basename "$package")" || { echo "packed twice, $(basename "$package") differs" >&2; exit 1; }
  done
fi

fail() { echo "$*" >&2; exit 1; }

dpkg-deb --fsys-tarfile "$deb" | tar --list | sed 's|^\./||' >"$work/list"
while read -r file; do
  grep -qxE "$file" "$work/list" || fail "the package lacks $file"
done <<'LIST'
usr/bin/counterspot
usr/bin/counterspot-page
usr/lib/counterspot/libcounterspot_ink.so
usr/lib/counterspot/libcounterspot_http.so
usr/lib/libcounterspot.a
usr/lib/libcounterspot_c.so.[0-9.]+
usr/lib/libcounterspot_c.so
usr/lib/cmake/Counterspot/CounterspotConfig.cmake
usr/include/counterspot/counterspot.h
usr/include/counterspot/solve/solution.hpp
usr/share/man/man1/counterspot.1.gz
usr/share/man/man1/counterspot-solve.1.gz
usr/share/man/man1/counterspot-page.1.gz
usr/share/man/man5/counterspot-rig-file.5.gz
usr/share/man/man5/counterspot-stock-file.5.gz
usr/share/counterspot/schema/shaft.schema.json
usr/share/bash-completion/completions/counterspot
usr/share/zsh/vendor-completions/_counterspot
usr/share/applications/counterspot-page.desktop
usr/share/metainfo/example.counterspot.page.metainfo.xml
usr/share/systemd/user/counterspot-page.service
usr/share/icons/hicolor/scalable/apps/counterspot.svg
usr/share/doc/counterspot/copyright
usr/share/doc/counterspot/changelog.gz
usr/share/doc/counterspot/operator.html
usr/share/doc/counterspot/demo/spins.toml
usr/share/doc/counterspot/examples/solve.py
LIST
if grep -vE '^$|/$|^usr/(bin|lib|include|share)/' "$work/list"; then fail "the package puts files elsewhere"; fi

note=$(ls "$work"/counterspot_*.md)
head -n 1 "$note" | grep -qxE "# Counterspot $(dpkg-deb --field "$deb" Version), [0-9]{4}-[0-9]{2}-[0-9]{2}" || fail "the release note begins '$(head -n 1 "$note")'"
(cd "$work" && grep -E '^[0-9a-f]{64}  ' "$note" | sha256sum --check --quiet --strict) || fail "the release note has other checksums"
[ "$(grep -cE '^[0-9a-f]{64}  .*\.deb$' "$note")" = "$(ls "$work"/*.deb | wc -l)" ] || fail "the release note leaves a package out"

depends=$(dpkg-deb --field "$deb" Depends)
for package in fonts-osifont libsndfile1 libfftw3-double3 libsoci-sqlite3-4.0 libpangocairo-1.0-0 libc6; do
  [[ $depends == *$package* ]] || fail "the package does not ask for $package: $depends"
done

dpkg --extract "$deb" "$work/root"
program=$work/root/usr/bin/counterspot
# The run paths stay within the package: the module that draws is found from where the program lies.
"$program" place "$source/data/spins.toml" --stock "$source/data/stock.toml" --picture "$work/place.png" >/dev/null 2>&1 || [ $? -eq 1 ]
[ "$(head -c 8 "$work/place.png" | od -An -tx1 | tr -d ' ')" = 89504e470d0a1a0a ] || fail "no picture was drawn"
if ldd "$program" "$work"/root/usr/lib/libcounterspot_c.so.*.*.* "$work"/root/usr/lib/counterspot/*.so | grep "not found"; then
  fail "a library is not found"
fi
if readelf -d "$program" | grep -E 'R(UN)?PATH' | grep -F "$build"; then fail "the program still looks into the build folder"; fi

# Where it was built does not show in it: so two builds of one commit are the same (tools/package-test twice).
if grep --recursive --fixed-strings --files-with-matches -e "$source" -e "$build" "$work/root"; then fail "these say where they were built"; fi

"$program" --version | grep -q "^counterspot $(dpkg-deb --field "$deb" Version)" || fail "another version: $("$program" --version)"
if command -v appstreamcli >/dev/null; then
  appstreamcli validate --no-net --explain "$work"/root/usr/share/metainfo/*.xml >"$work/metainfo.log" || fail "$(cat "$work/metainfo.log")"
fi
if command -v systemd-analyze >/dev/null; then
  said=$(systemd-analyze --user verify "$work/root/usr/share/systemd/user/counterspot-page.service" 2>&1 | grep counterspot-page || true)
  [ -z "$said" ] || fail "$said"
fi

if command -v lintian >/dev/null; then
  said=$(lintian --fail-on error,warning "$work"/*.deb 2>/dev/null || true)
  [ -z "$said" ] || fail "$said"
fi

if [ -n "$python" ]; then
  deb_python=$(ls "$work"/python3-counterspot_*_all.deb)
  depends=$(dpkg-deb --field "$deb_python" Depends)
  [ "$depends" = "counterspot (= $(dpkg-deb --field "$deb" Version)), python3 (>= 3.11), python3-numpy" ] || fail "Python's package asks for $depends"
  dpkg-deb --ctrl-tarfile "$deb_python" | tar --list | grep -qx ./prerm || fail "what Python compiles would stay"
  dpkg --extract "$deb_python" "$work/python"
  (cd "$work/python" && find . -type f | sort) >"$work/python.list"
  diff - "$work/python.list" <<'LIST' || fail "Python's package holds other files"
./usr/lib/python3/dist-packages/counterspot/__init__.py
./usr/lib/python3/dist-packages/counterspot/_installed.py
./usr/lib/python3/dist-packages/counterspot/_library.py
./usr/lib/python3/dist-packages/counterspot/calls.py
./usr/lib/python3/dist-packages/counterspot/py.typed
./usr/lib/python3/dist-packages/counterspot/results.py
./usr/share/doc/python3-counterspot/changelog.gz
./usr/share/doc/python3-counterspot/copyright
./usr/share/doc/python3-counterspot/examples/notebook.py
LIST
  # As they are installed, one over the other: the library is found from where the package lies.
  dpkg --extract "$deb_python" "$work/root"
  (cd "$work/root/usr/share/doc/counterspot/demo" && TMPDIR=$work PYTHONPATH=$work/root/usr/lib/python3/dist-packages \
    "$python" ../../python3-counterspot/examples/notebook.py) >"$work/notebook.log" || fail "the example fails"
  grep -q "verdict: outside" "$work/notebook.log" || fail "the example says: $(cat "$work/notebook.log")"
fi

# Each command has its page, and nothing in a page is at odds with man(7).
for name in $("$program" --help | sed -n '/^Subcommands:/,/^$/s/^  \([a-z]\+\) .*/\1/p'); do
  page=$work/root/usr/share/man/man1/counterspot-$name.1.gz
  [ -f "$page" ] || fail "there is no manual page of '$name'"
done
gunzip "$work"/root/usr/share/man/man[15]/*.gz
for page in "$work"/root/usr/share/man/man[15]/*.[15]; do
  said=$(man --warnings -E UTF-8 -l -Tutf8 -Z "$page" 2>&1 >/dev/null)
  [ -z "$said" ] || fail "$page: $said"
  if command -v mandoc >/dev/null; then
    # No date, since the same source gives the same page; examples run as wide as the program's own help.
    said=$(mandoc -Tlint -W warning "$page" | grep -v 'missing date' || true)
    [ -z "$said" ] || fail "$said"
  fi
done
man -l "$work/root/usr/share/man/man1/counterspot-solve.1" 2>/dev/null | grep -q -- '--speed-tolerance' || fail "the page of solve lacks an option"

# zsh: what is offered, told by stand-ins for zsh's own functions.
if command -v zsh >/dev/null; then
  offered=$(zsh -fc '
    _describe() { print -rl -- "${(@P)2}" }
    _files() { print files }
    words=(counterspot "" ) CURRENT=2; source $1
    words=(counterspot job "" ) CURRENT=3; _counterspot
    words=(counterspot job spin --l) CURRENT=4; _counterspot
    words=(counterspot solve x) CURRENT=3; _counterspot' zsh "$work/root/usr/share/zsh/vendor-completions/_counterspot")
  for line in 'solve:' 'spin:' '--label:' 'files'; do
    grep -q -e "^$line" <<<"$offered" || fail "zsh is not offered '$line': $offered"
  done
fi
echo "$(basename "$deb"): $(wc -l <"$work/list") entries, $(stat -c %s "$deb") bytes"
