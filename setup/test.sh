#!/bin/sh
# All tests: those of the program and, beside them, those of the page, which take what
# the processors have left while browsers wait and say their word at the end.
set -eu
cd "$(dirname "$0")/.."
said=$(mktemp)
(cd ui && nice npm run check && nice npm test) >"$said" 2>&1 &
page=$!
failed=no processors=$(getconf _NPROCESSORS_ONLN)
# Vetted once, by all rules; the longest first, so that the last does not run alone.
# One package, and one test in it, more than there are processors: a browser often waits.
go vet ./... &&
	go test -vet=off -timeout 60m -p $((processors + 1)) -parallel $((processors + 1)) ./internal/app ./internal/web ./... || failed=yes
wait $page || failed=yes
cat "$said"
rm -f "$said"
[ $failed = no ]
