#!/bin/sh
# results.sh PROGRAM DATA FOLDER: the main job and what else is worked out of the demo, each as one document, to be held against
# those of another machine by same_results.py.
set -eu
program=$1 data=$2 folder=$3
rm -rf "$folder" && mkdir -p "$folder"
document() {  # NAME ARGUMENT…: exit code 1 says that it is not within limit, and is a result
  name=$1
  shift
  "$program" "$@" >"$folder/$name.json" 2>"$folder/said" || [ $? -eq 1 ] || { cat "$folder/said" >&2; exit 1; }
}
for spin in 00-as-found 01-trial-a 02-trial-b 03-verify; do
  document "inspect-$spin" inspect --json "$data/$spin.flac" --rig "$data/rig.toml"
  document "track-$spin" track --json "$data/$spin.flac" --rig "$data/rig.toml" --orders 1,2,4
  document "sweep-$spin" sweep --json "$data/$spin.flac" --rig "$data/rig.toml"
  document "turns-$spin" sweep --json --per-turn "$data/$spin.flac" --rig "$data/rig.toml"
done
document track-csv track --json "$data/csv/00-as-found.csv" --rig "$data/csv/rig.toml"
document limit limit --json --shaft "$data/shaft.toml"
document shaft shaft --json "$data/shaft.toml" --balancing-speed "1620 rpm" --clamp-holds "250 N"
document solve solve --json "$data/spins.toml"
document solve-csv solve --json "$data/csv/spins.toml"
document solve-verify solve --json "$data/spins-verify.toml"
document place place --json "$data/spins.toml" --stock "$data/stock.toml" --patience 600
job() {
  verb=$1
  shift
  number=$((number + 1))
  document "job-$number-$verb" job "$verb" --json --log "$folder/log.db" "$@"
}
number=0
job open "$data/shaft.toml" --rig "$data/rig.toml"
job spin "$data/00-as-found.flac"
job fit "A 15 g @ 0 deg" --as-typed
job spin "$data/01-trial-a.flac"
job fit "B 15 g @ 0 deg" --only --as-typed
job spin "$data/02-trial-b.flac"
job fit "A 36 g @ 265 deg" "B 15 g @ 0 deg" "B 26 g @ 110 deg" --only --as-typed
job spin "$data/03-verify.flac"
job close
document sheet sheet --json MC-0417/1 --log "$folder/log.db"
