#!/usr/bin/env bash
# Makes the pictures in the README: docs/report.png from the report of the default ride, docs/ride.png from the
# page that plays a rough ride, at a moment at which the passive seat is on its stop.
# Needs Chromium (Debian: apt-get update; apt-get install -y chromium).
# Usage: docs/picture.sh [REPORT.html [RIDE.html]]
set -euo pipefail

# In the rough ride, s.
MOMENT_S=17.07
cd "$(dirname "$0")/.."

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# shoot PAGE PICTURE WIDTH HEIGHT SCALE: below 300 kB, or it is refused.
shoot() {
    chromium --headless --no-sandbox --disable-gpu --no-first-run \
        --disable-background-networking --disable-sync --hide-scrollbars \
        --user-data-dir="$work/profile" --window-size="$3,$4" --force-device-scale-factor="$5" \
        --virtual-time-budget=2000 --screenshot="$work/picture.png" "file://$1"
    local size
    size=$(stat -c %s "$work/picture.png")
    if [ "$size" -ge 300000 ]; then
        echo "$2 has $size bytes: keep it below 300000" >&2
        exit 1
    fi
    cp "$work/picture.png" "$2"
    echo "$2: $size bytes"
}

report=${1:-}
if [ -z "$report" ]; then
    cargo run --release --locked -- ride --quiet --out "$work/ride"
    report=$work/ride/report.html
fi
ride=${2:-}
if [ -z "$ride" ]; then
    cargo run --release --locked -- ride --level 2.5 --no-bound --quiet --out "$work/rough"
    ride=$work/rough/ride.html
fi

# Only the heading, the summary and the first two figures are shown.
hide='<style>nav, dl.ridden, #plots > h2, section:not(#verdict, #plots),
figure:not(#acceleration, #roughest), footer { display: none !important }
#verdict { margin-bottom: 1.5em }</style>'
grep -q 'id="roughest"' "$report" || { echo "$report: expected a ride report" >&2; exit 2; }
awk -v hide="$hide" '{ sub("</head>", hide "</head>"); print }' "$report" > "$work/page.html"
shoot "$work/page.html" docs/report.png 1000 1910 0.85

grep -q 'id="ride-data"' "$ride" || { echo "$ride: expected a page that plays a ride" >&2; exit 2; }
cp "$ride" "$work/ride.html"
shoot "$work/ride.html#t=$MOMENT_S" docs/ride.png 1280 760 1
