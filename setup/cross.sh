#!/bin/sh
# Proves that the program builds without cgo for each system it is meant for. What is
# built for other systems is thrown away, so it is neither optimised nor described for a
# debugger, and the compiler tidies its memory less, which is quicker; what is built for
# this one is used again by the tests.
set -eu
cd "$(dirname "$0")/.."
here="$(go env GOHOSTOS)/$(go env GOHOSTARCH)"
for os in linux darwin windows; do
	for arch in amd64 arm64; do
		printf 'build %s/%s\n' "$os" "$arch"
		set -- -gcflags=all='-N -l -dwarf=false' -ldflags='-s -w'
		[ "$os/$arch" = "$here" ] && set --
		GOGC=300 CGO_ENABLED=0 GOOS=$os GOARCH=$arch go build "$@" -o /dev/null ./cmd/gaitwright
	done
done
