#!/bin/sh
# Builds the page of `lostlink serve` into assets/live.{html,css,js} and live.NOTICE, after types and lints have passed. These files are
# committed: building the program needs no Node.
#   web/build.sh           writes them
#   web/build.sh --check   fails where the committed ones are not what the sources give; says so, and does nothing, without node and npm
set -eu
cd "$(dirname "$0")"
if ! command -v node >/dev/null || ! command -v npm >/dev/null; then
    echo "live page left out: it needs node and npm"
    [ "${1:-}" = --check ] && exit 0
    exit 1
fi
# Again when the lock file has changed since: the bundle holds what is pinned.
if ! cmp -s package-lock.json node_modules/.lock-as-installed; then
    npm ci --no-audit --no-fund
    cp package-lock.json node_modules/.lock-as-installed
fi
bin=node_modules/.bin
"$bin/tsc" --project tsconfig.json
"$bin/tsc" --project tsconfig.assets.json
(cd .. && web/$bin/eslint --config web/eslint.config.mjs --max-warnings 0 web/src assets/player.js assets/lesson.js)

made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
{
    echo "assets/live.js contains Preact $(node -p "require('./node_modules/preact/package.json').version"), https://preactjs.com, under this licence:"
    echo
    cat node_modules/preact/LICENSE
} >"$made/live.NOTICE"
# A copy of the page alone still carries the licence.
banner=$(printf '/*!\nMade by web/build.sh from web/src: edit there.\n\n%s\n*/' "$(cat "$made/live.NOTICE")")
set -- "${1:-}" --bundle --charset=utf8 --log-level=warning --outdir="$made" --external:/*.woff2
"$bin/esbuild" src/live.tsx "$2" "$3" "$4" "$5" --format=iife --target=es2022 --jsx=automatic --jsx-import-source=preact --banner:js="$banner"
"$bin/esbuild" src/live.css "$2" "$3" "$4" "$5" "$6" --banner:css="/* Made by web/build.sh from web/src/live.css and templates/style.css: edit there. */"
cp src/live.html "$made/live.html"

for name in live.html live.css live.js live.NOTICE; do
    if [ "$1" != --check ]; then
        cp "$made/$name" "../assets/$name"
    elif ! cmp -s "$made/$name" "../assets/$name"; then
        echo "assets/$name is not what web/src gives: run web/build.sh and commit what it writes" >&2
        exit 1
    fi
done
