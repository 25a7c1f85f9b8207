#!/usr/bin/env bash
# The speed and memory figures of the README, measured in one go on two threads.
set -euo pipefail
cd "$(dirname "$0")/.."
cargo build --release --locked --quiet
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
measure() {
    # GNU time is not everywhere, so the peak comes from the shell's own child accounting through python where there is one.
    local what=$1
    shift
    python3 - "$what" "$@" <<'PY'
import resource, subprocess, sys, time
start = time.monotonic()
subprocess.run(sys.argv[2:], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
wall = time.monotonic() - start
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(f"{sys.argv[1]:<58} {wall:6.1f} s  {used.ru_utime + used.ru_stime:6.1f} CPU s  {used.ru_maxrss / 1024:6.0f} MB")
PY
}
run=(target/release/lostlink --threads 2)
# The valley with four of its policies.
cp scenarios/*.asc "$out"
awk '/^\[\[policy\]\]$/ { held = $0; next } held != "" { drop = ($0 == "name = \"home at 80 m\""); if (!drop) print held; held = "" } /^\[(delivered|\[condition)/ { drop = 0 } !drop' \
    scenarios/ridge-valley.toml >"$out/ridge-valley.toml"
measure "valley, 5,000 flights x 4 policies, whole report" "${run[@]}" assess "$out/ridge-valley.toml" --flights 5000 --out "$out/valley"
measure "the same without what-if bars and conditions" "${run[@]}" assess "$out/ridge-valley.toml" --flights 5000 --quick --out "$out/quick"
measure "valley, 25 return heights x 2,000 flights" "${run[@]}" heights scenarios/ridge-valley.toml --flights 2000 --out "$out/heights"
measure "valley, reach map of 1,000 x 1,000" "${run[@]}" reach scenarios/ridge-valley.toml --cells 1000 --out "$out/reach"
