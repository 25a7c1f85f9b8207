#!/usr/bin/env bash
# The speed and memory figures of the README, measured in one go on two threads: wall seconds, processor seconds, most memory held.
# LOSTLINK_PEER=FILE: a Python script to time on the same machine as a reference, because one machine differs from the next. With it, the
# time of a simulated second, and of 10,000 steps of 0.2 s of wind, motion, power and pack alone, is printed too.
set -euo pipefail
cd "$(dirname "$0")/.."
cargo build --release --locked --quiet
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
run=(target/release/lostlink --threads 2)

# A title, then a command: runs it and prints a row. Where the title ends in "first line", the time is that to its first line on
# standard error, which is said before the answer is whole.
# GNU time is not everywhere, so the peak comes from Python's account of its children.
measure() {
    python3 - "$@" <<'PY'
import resource, subprocess, sys, time
title, command = sys.argv[1], sys.argv[2:]
start = time.monotonic()
with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as process:
    process.stderr.readline()
    first = time.monotonic() - start
    process.stderr.read()
wall = time.monotonic() - start
if process.returncode != 0:
    sys.exit(f"{title}: the command failed")
used = resource.getrusage(resource.RUSAGE_CHILDREN)
if title.endswith("first line"):
    print(f"{title:<58} {first:6.2f} s")
else:
    print(f"{title:<58} {wall:6.2f} s  {used.ru_utime + used.ru_stime:6.2f} CPU s  {used.ru_maxrss / 1024:6.0f} MB")
PY
}

# The valley with four of its policies.
cp scenarios/*.asc "$out"
awk '/^\[\[policy\]\]$/ { held = $0; next } held != "" { drop = ($0 == "name = \"home at 80 m\""); if (!drop) print held; held = "" } /^\[(delivered|\[condition)/ { drop = 0 } !drop' \
    scenarios/ridge-valley.toml >"$out/ridge-valley.toml"
valley=("${run[@]}" assess "$out/ridge-valley.toml")
measure "valley, 5,000 flights x 4 policies, whole report" "${valley[@]}" --flights 5000 --out "$out/valley"
measure "the same without what-if bars and conditions" "${valley[@]}" --flights 5000 --quick --out "$out/quick"
measure "the same, 40,000 flights" "${valley[@]}" --flights 40000 --quick --out "$out/many"
measure "valley, preliminary answer of a long run: first line" "${valley[@]}" --flights 5000 --quick --out "$out/first"
measure "valley, 10 flights x 4 policies, with the page" "${valley[@]}" --flights 10 --out "$out/ten"
measure "the same without what-if bars and conditions" "${valley[@]}" --flights 10 --quick --out "$out/ten-quick"
measure "leg of several kilometres, 2,000 flights, whole report" "${run[@]}" assess starters/long-leg.toml --flights 2000 --out "$out/leg"
measure "valley, 25 return heights x 2,000 flights" "${run[@]}" heights scenarios/ridge-valley.toml --flights 2000 --out "$out/heights"
measure "valley, reach map of 1,000 x 1,000" "${run[@]}" reach scenarios/ridge-valley.toml --cells 1000 --out "$out/reach"

if [[ -n "${LOSTLINK_PEER:-}" ]]; then
    # No bench of its own is called "none": what a simulated second costs is printed before them.
    cargo bench --locked --quiet --bench flight_step -- none | grep 'per simulated second'
    cargo bench --locked --quiet --bench craft_step -- powered_step | grep -E 'median|powered_step'
    echo "reference, ns per step and craft ($LOSTLINK_PEER):"
    python3 "$LOSTLINK_PEER"
else
    echo "reference: not timed, LOSTLINK_PEER names no script"
fi
